"""The door as whoever runs it sees it: orders through the private folder, health, roll-ups, and real records."""

from __future__ import annotations

import asyncio
import json
import os
import stat
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import cast

import pytest
from api_server import DROPPED, ApiServer
from msgspec.structs import replace
from telegram_kit import BEN, EVENING, Pauses, open_door

from bot.app import Helper
from bot.channels.telegram.control import (
    FOLDER,
    HEALTH,
    Answer,
    Control,
    Controls,
    NobodyThereError,
    Order,
    ask,
    private,
)
from bot.channels.telegram.health import SILENT_AFTER, STALE_AFTER, Health, read_health
from bot.channels.telegram.notices import Notices
from bot.cli import main
from bot.content.catalogue import Content
from bot.core.kitchen import Kitchen
from bot.core.records import RemindersPaused
from intents.types import Language, Understood
from intents.understander import Understander

OMAR, MAYA = 1005, 1004
Opened = Callable[..., Helper]


class Deaf:
    """Understands nothing, at once."""

    def understand(self, text: str, *, language: Language | None = None) -> Understood:
        return Understood(text, None, 0.0, language or "en")


@pytest.fixture
def server() -> Iterator[ApiServer]:
    with ApiServer() as running:
        yield running


@pytest.fixture
def opened(demo_kitchen: Kitchen, content: Content, tmp_path: Path) -> Iterator[Opened]:
    """Opens a real helper of the demo kitchen, under another name and crew chat where that is said; again if it was."""
    helpers: list[Helper] = []

    def open_one(name: str = "Lantern Street Kitchen", now: datetime = EVENING, **changes: object) -> Helper:
        for before in [helper for helper in helpers if helper.kitchen.name == name]:
            before.close()
            helpers.remove(before)
        kitchen = replace(demo_kitchen, name=name, **changes)
        helpers.append(Helper.open(kitchen, content, cast("Understander", Deaf()), tmp_path / name, now))
        return helpers[-1]

    yield open_one
    for helper in helpers:
        helper.drop()


async def order(tmp_path: Path, what: str, name: str = "Lantern Street Kitchen", **more: object) -> Answer:
    return await asyncio.to_thread(ask, tmp_path / name, Order(what, **more))  # type: ignore[arg-type]


def controls(tmp_path: Path, *helpers: Helper) -> Controls:
    return Controls([Control(helper, tmp_path / helper.kitchen.name / FOLDER) for helper in helpers])


async def test_the_operator_sees_who_is_in_pauses_and_writes_to_the_managers(
    server: ApiServer, opened: Opened, tmp_path: Path
) -> None:
    helper = opened()
    async with open_door(server, helper, controls=controls(tmp_path, helper)):
        who = await order(tmp_path, "who")
        assert who.done and "ben (cook): in" in who.lines and str(BEN) not in str(who.lines)
        assert (await order(tmp_path, "pause", minutes=90)).done
        for chat in (OMAR, MAYA):
            await server.until(lambda chat=chat: any("paused" in text for text in server.texts(chat)))  # type: ignore[misc]
        assert not (await order(tmp_path, "pause", minutes=0)).done
        assert (await order(tmp_path, "resume")).done
        again = await order(tmp_path, "resume")
        assert (again.done, again.lines) == (False, ["the reminders are not paused"])
        assert (await order(tmp_path, "broadcast", text="Back at ten.")).lines == ["on its way to 1"]
        await server.until(lambda: server.texts(OMAR)[-1].endswith("Back at ten."))
        assert "answers: " in "\n".join((await order(tmp_path, "health")).lines)
    paused = [c for turn in helper.turns() for c in turn.changes if isinstance(c, RemindersPaused)]
    assert [change.until - EVENING for change in paused] == [timedelta(minutes=90), timedelta(0)]


async def test_the_folder_is_its_owners_alone_and_what_lies_in_it_is_never_trusted(
    server: ApiServer, opened: Opened, tmp_path: Path
) -> None:
    helper = opened()
    folder = tmp_path / helper.kitchen.name / FOLDER
    folder.mkdir(mode=0o777)
    (folder / "order-old.json").write_text('{"what": "broadcast", "text": "stale"}')
    async with open_door(server, helper, controls=controls(tmp_path, helper)):
        assert stat.S_IMODE(folder.stat().st_mode) == 0o700
        for n, odd in enumerate(
            (b"", b"\xff", b"[" * 9000, b'{"what": "rm"}', b"x" * 99_999, b'{"what": "who", "x": 1}')
        ):
            (folder / f"order-{n}.json").write_bytes(odd)
        (tmp_path / "elsewhere").write_text('{"what": "who"}')
        (folder / "order-6.json").mkdir()
        os.mkfifo(folder / "order-7.json")
        (folder / "order-8.json").symlink_to(tmp_path / "elsewhere")
        (folder / "order-9.json").symlink_to(tmp_path / "nowhere")
        assert (await order(tmp_path, "who")).done
        answers = {file.name: json.loads(file.read_bytes())["done"] for file in folder.glob("answer-*.json")}
        assert answers == {f"answer-{n}.json": False for n in range(6)}
        assert not list(folder.glob("order-*"))
        assert all(stat.S_IMODE(file.stat().st_mode) == 0o600 for file in folder.glob("*"))
    assert not any("stale" in text for text in server.texts(OMAR))


def test_a_link_in_the_place_of_the_folder_is_not_followed(tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir(mode=0o755)
    (tmp_path / FOLDER).symlink_to(tmp_path / "elsewhere")
    with pytest.raises(NotADirectoryError):
        private(tmp_path / FOLDER)
    assert stat.S_IMODE((tmp_path / "elsewhere").stat().st_mode) == 0o755


def test_without_a_running_door_an_order_is_taken_back(tmp_path: Path) -> None:
    with pytest.raises(NobodyThereError):
        ask(tmp_path, Order("who"))
    (tmp_path / FOLDER).mkdir()
    with pytest.raises(NobodyThereError):
        ask(tmp_path, Order("who"), within=0.2)
    assert list((tmp_path / FOLDER).iterdir()) == []


def test_at_the_terminal_that_nobody_is_there_is_one_line_and_status_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["operate", "who", "--store", str(tmp_path)]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert str(tmp_path) in line and "serve" in line
    assert main(["health", "--store", str(tmp_path)]) == 1


async def test_the_health_file_says_whether_it_works_and_is_gone_after_a_clean_end(
    server: ApiServer, opened: Opened, tmp_path: Path
) -> None:
    helper = opened(now=datetime.now(UTC))
    file = tmp_path / helper.kitchen.name / FOLDER / HEALTH
    async with open_door(server, helper, controls=controls(tmp_path, helper), clock=lambda: datetime.now(UTC)) as (
        door,
        _,
        _,
    ):
        await server.until(lambda: bool(server.polls))
        report = read_health(file, datetime.now(UTC))
        assert report is not None and report["ok"] and report["mode"] == "polling"
        assert main(["health", "--store", str(tmp_path / helper.kitchen.name)]) == 0
        assert read_health(file, datetime.now(UTC) + 2 * STALE_AFTER) is None
        door.health.records_writable = False
        door.health.write([file])
        assert main(["health", "--store", str(tmp_path / helper.kitchen.name)]) == 1
    assert not file.exists()


def test_a_server_that_is_silent_for_long_is_no_health() -> None:
    now = [EVENING]
    health = Health(lambda: now[0])
    assert not health.report()["ok"]
    health.started_at = EVENING
    assert health.report()["ok"]
    now[0] += SILENT_AFTER + timedelta(seconds=1)
    assert not health.report()["ok"]
    health.contact()
    assert health.report()["ok"]


def test_a_health_file_that_can_not_be_written_or_read_harms_nothing(tmp_path: Path) -> None:
    Health(lambda: EVENING).write([tmp_path / "no" / "such" / "folder.json"])
    for text in ("", "[]", "{}", '{"at": 5}', '{"at": "x"}', '{"at": "2026-09-15T21:30:00"}'):
        (tmp_path / "odd.json").write_text(text)
        assert read_health(tmp_path / "odd.json", EVENING) is None
    assert read_health(tmp_path / "none.json", EVENING) is None


async def test_a_manager_of_two_kitchens_gets_one_roll_up_and_after_a_restart_no_second(
    server: ApiServer, opened: Opened
) -> None:
    now = [datetime(2026, 9, 16, 2, 29, tzinfo=UTC)]
    here = opened(now=now[0])
    there = opened("Harbour Kitchen", now=now[0], crew_chat=-2002)
    now[0] += timedelta(minutes=1)  # half past ten in New York, when both have their summary
    for _ in range(2):
        server.inject("sendMessage", DROPPED)
        async with open_door(
            server, here, there, notices=Notices([here, there]), clock=lambda: now[0], pauses=Pauses()
        ) as (door, _, _):
            await server.until(lambda: sum(t.startswith("Your kitchens") for t in server.texts(OMAR)) == 1)
            await door.outbox.settled()
            server.say(BEN, "hello")
            await server.until(lambda: server.waiting() == 0)
    (roll_up,) = [text for text in server.texts(OMAR) if text.startswith("Your kitchens")]
    assert "Lantern Street Kitchen" in roll_up and "Harbour Kitchen" in roll_up
    heads = {text.splitlines()[0] for text in server.texts(OMAR) if text != roll_up}
    assert heads == {"Lantern Street Kitchen", "Harbour Kitchen"}


async def test_a_group_that_became_a_supergroup_is_known_by_its_new_number_after_a_restart_too(
    server: ApiServer, opened: Opened, demo_kitchen: Kitchen
) -> None:
    helper = opened()
    old = demo_kitchen.crew_chat
    assert old is not None
    moved = {"message_id": 5, "date": 1, "chat": {"id": old, "type": "group"}, "migrate_to_chat_id": -9009}
    async with open_door(server, helper):
        server.push({"message": moved})
        await server.until(lambda: bool(server.polls) and server.waiting() == 0)
    assert helper.kitchen.crew_chat == -9009
    again = opened()
    async with open_door(server, again) as (door, _, _):
        server.say(BEN, "/due", -9009)
        await server.until(lambda: server.waiting() == 0)
        await door.outbox.settled()
    assert server.texts(-9009) and not server.texts(old)


async def test_who_blocked_the_helper_is_noted_and_the_lead_is_told_once(server: ApiServer, opened: Opened) -> None:
    helper = opened()
    server.blocked.add(BEN)
    async with open_door(server, helper) as (door, _, _):
        server.say(BEN, "hello")
        server.say(BEN, "hello?")
        await server.until(lambda: len(server.texts(MAYA)) >= 1)
        await server.until(lambda: server.waiting() == 0)
        await door.outbox.settled()
        assert door.health.counters.failures == 2
    (told,) = [text for text in server.texts(MAYA) if "Ben" in text]
    assert "blocked" in told
    assert helper.undelivered() == []
