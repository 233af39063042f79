"""Whatever goes wrong on the line: no record is lost, none is made twice, and everybody hears in their order."""

from __future__ import annotations

import asyncio
import random
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import cast

import pytest
from api_server import (
    DROPPED,
    DROPPED_AFTER,
    SERVER_FAULT,
    ApiServer,
    Fault,
    too_many,
)
from telegram_kit import BEN, EVENING, ROSA, Pauses, open_door

from bot.app import Helper
from bot.channels.telegram.line import Patience
from bot.content.catalogue import Content
from bot.core.kitchen import Kitchen
from bot.core.records import NoteLeft
from intents.types import Language, Slots, Understood
from intents.understander import Understander

FAULTS = (
    DROPPED,
    SERVER_FAULT,
    too_many(7),
    Fault(200, {"ok": True, "result": "nonsense"}),
    Fault(500, {"ok": False, "error_code": 500, "description": "Internal Server Error"}),
    Fault(504, None),
)
Opened = Callable[[], Helper]


class Notes:
    """Takes everything for a note."""

    def understand(self, text: str, *, language: Language | None = None) -> Understood:
        return Understood(text, "log.note", 1.0, "en", Slots(note=text))


@pytest.fixture
def server() -> Iterator[ApiServer]:
    with ApiServer() as running:
        yield running


@pytest.fixture
def opened(demo_kitchen: Kitchen, content: Content, tmp_path: Path) -> Iterator[Opened]:
    """Opens the same records anew, as after a power cut."""
    helpers: list[Helper] = []

    def open_again() -> Helper:
        while helpers:
            helpers.pop().drop()
        helpers.append(Helper.open(demo_kitchen, content, cast("Understander", Notes()), tmp_path / "store", EVENING))
        return helpers[-1]

    yield open_again
    for helper in helpers:
        helper.drop()


def notes(helper: Helper) -> list[tuple[str | None, str]]:
    """Every note in the records, with who left it."""
    return [(c.by, c.text) for turn in helper.turns() for c in turn.changes if isinstance(c, NoteLeft)]


@pytest.mark.parametrize("seed", range(5))
async def test_a_storm_of_faults_loses_and_doubles_no_record_and_keeps_every_chats_order(
    server: ApiServer, opened: Opened, seed: int
) -> None:
    rng = random.Random(seed)
    helper = opened()
    for method, most in (("getUpdates", 12), ("sendMessage", 20), ("getMe", 3), ("deleteWebhook", 3)):
        server.inject(method, *(rng.choice((*FAULTS, Fault(200, None), None)) or DROPPED_AFTER for _ in range(most)))
    said: dict[int, list[str]] = {BEN: [], ROSA: []}
    async with open_door(server, helper, pauses=Pauses()) as (door, running, _):
        for n in range(10):
            user = rng.choice((BEN, ROSA))
            text = f"note {n} of {user}"
            said[user].append(text)
            number = server.say(user, text)
            if rng.random() < 0.3:
                server.push({"update_id": number, "message": server.message(user, text=text)})
            if rng.random() < 0.2:
                await asyncio.sleep(0.01)
        await server.until(lambda: server.waiting() == 0 or running.done())
        await door.outbox.settled()
        assert not running.done()
    kept = notes(helper)
    assert [text for by, text in kept if by == "ben"] == said[BEN]
    assert [text for by, text in kept if by == "rosa"] == said[ROSA]


async def test_an_hour_without_a_network_holds_everything_up_and_loses_nothing(
    server: ApiServer, opened: Opened
) -> None:
    helper, pauses = opened(), Pauses()
    tries = round(3600 / Patience().longest) + 6
    server.say(BEN, "before the cable came loose")
    async with open_door(server, helper, pauses=pauses) as (door, _, _):
        await server.until(lambda: bool(server.texts(BEN)))
        await door.outbox.settled()
        server.inject("getUpdates", *[DROPPED] * tries)
        server.inject("sendMessage", *[DROPPED] * 6)
        for n in range(5):
            server.say(ROSA, f"while it was loose {n}")
        await server.until(lambda: sum("loose" in t for t in server.texts(ROSA)) == 5 and server.waiting() == 0)
        await door.outbox.settled()
        assert door.health.counters.retries >= tries
    assert sum(pauses) > 3600
    assert notes(helper) == [
        ("ben", "before the cable came loose"),
        *(("rosa", f"while it was loose {n}") for n in range(5)),
    ]
    assert helper.undelivered() == []


async def test_a_power_cut_before_an_update_is_confirmed_brings_it_again_and_it_is_taken_once(
    server: ApiServer, opened: Opened
) -> None:
    helper = opened()
    for n in range(5):
        server.say(BEN, f"note {n}")
    async with open_door(server, helper) as (_, running, stop):
        server.inject("getUpdates", *[DROPPED] * 3)
        await server.until(lambda: len(server.texts(BEN)) >= 1)
        stop.set()
        await running
    again = opened()
    async with open_door(server, again) as (door, _, _):
        await server.until(lambda: server.waiting() == 0 and len(server.texts(BEN)) >= 5)
        await door.outbox.settled()
    assert notes(again) == [("ben", f"note {n}") for n in range(5)]
    assert again.undelivered() == []


async def test_updates_out_of_order_are_each_taken_once(server: ApiServer, opened: Opened) -> None:
    helper = opened()
    async with open_door(server, helper) as (door, _, _):
        for number in (900, 700, 800, 700, 900, 600):
            server.push({"update_id": number, "message": server.message(BEN, text=f"note {number}")})
            await server.until(lambda: server.waiting() == 0)
        await door.outbox.settled()
    assert sorted(notes(helper)) == [("ben", f"note {number}") for number in (600, 700, 800, 900)]


async def test_a_server_that_hangs_is_not_waited_for_at_the_end(server: ApiServer, opened: Opened) -> None:
    helper, never = opened(), threading.Event()
    server.inject("sendMessage", *[Fault(hold=never)] * 3)
    server.say(BEN, "hi")
    async with open_door(server, helper) as (_, running, stop):
        await server.until(lambda: server.held >= 1)
        stop.set()
        await running
        still_hanging = server.holding
        never.set()
    assert still_hanging >= 1
    assert [out.to for out in helper.undelivered()].count("ben") == 1
