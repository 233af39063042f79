"""Joining from end to end: a real helper, the door, and a Bot API server on this machine."""

from __future__ import annotations

import contextlib
import io
import logging
import re
from collections.abc import AsyncIterator, Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import zxingcpp
from api_server import BOT_NAME, ApiServer
from msgspec.structs import replace
from PIL import Image
from telegram_kit import STRANGER, open_door

from bot.app import Helper
from bot.channels.telegram.strangers import TRIES
from bot.content.catalogue import Content
from bot.core.kitchen import Kitchen
from bot.store.history import HISTORY_NAME
from intents.understander import Understander

BEN, TEO, MAYA, OMAR, LENA = 1001, 1003, 1004, 1005, 1006
NEW_GROUP = -100777
MORNING = datetime(2026, 9, 15, 14, 30, tzinfo=UTC)
"""Half past ten in the kitchen, when nothing is due yet."""
LINK = re.compile(rf"https://t\.me/{BOT_NAME}\?start=([A-Za-z0-9_-]{{1,64}})\b")


@pytest.fixture
def server() -> Iterator[ApiServer]:
    with ApiServer() as running:
        yield running


class House:
    """One kitchen's helper, the door to it, and what people do there."""

    def __init__(self, server: ApiServer, helper: Helper) -> None:
        self.server = server
        self.helper = helper
        self.now = MORNING

    async def says(self, user: int, text: str, chat: int | None = None, language: str = "en") -> str:
        """What the newest message in the private chat shows once they have said that."""
        return await self._then(user, lambda: self.server.say(user, text, chat, language))

    async def presses(self, user: int, label: str) -> str:
        """The same after a press on the newest button with that label in their private chat."""
        chat, message, data = self.button(user, label)
        return await self._then(user, lambda: self.server.tap(user, f"{chat}:{message}", data))

    def button(self, user: int, label: str) -> tuple[int, int, str]:
        """The newest button with that label in a private chat."""
        found = [
            (chat, number, button["callback_data"])
            for (chat, number), shown in sorted(self.server.messages.items())
            for row in shown.keyboard
            for button in row
            if chat == user and button["text"] == label
        ]
        assert found, f"no button {label}: {list(self.server.messages.values())[-3:]}"[:900]
        return found[-1]

    async def link(self, by: int = OMAR, ask: str = "/invite cook") -> str:
        """What a new link carries."""
        text = await self.says(by, ask)
        match = LINK.search(text)
        assert match is not None, text
        return match[1]

    async def joins(self, user: int, value: str, name: str = "Ana", young: bool = False) -> str:
        """Somebody takes a link through to its end."""
        await self.says(user, f"/start {value}")
        await self.presses(user, "English")
        await self.says(user, name)
        return await self.presses(user, "Under 16" if young else "16 or older")

    def shown(self, user: int) -> str:
        texts = self.server.texts(user)
        return texts[-1] if texts else ""

    def history(self, store: Path) -> str:
        return (store / HISTORY_NAME).read_text()

    async def _then(self, user: int, act: Callable[[], object]) -> str:
        before = self._calls(user)
        act()
        await self.server.until(lambda: self._calls(user) > before and self.server.waiting() == 0)
        return self.shown(user)

    def _calls(self, user: int) -> int:
        methods = ("sendMessage", "sendPhoto", "editMessageText")
        return sum(call.params.get("chat_id") == str(user) for m in methods for call in self.server.of(m))


@contextlib.asynccontextmanager
async def house(
    server: ApiServer, kitchen: Kitchen, content: Content, understander: Understander, store: Path
) -> AsyncIterator[House]:
    helper = Helper.open(kitchen, content, understander, store, MORNING)
    opened = House(server, helper)
    try:
        async with open_door(server, helper, clock=lambda: opened.now):
            yield opened
    finally:
        helper.close()


@pytest.fixture
async def home(
    server: ApiServer, demo_kitchen: Kitchen, content: Content, understander: Understander, tmp_path: Path
) -> AsyncIterator[House]:
    async with house(server, demo_kitchen, content, understander, tmp_path) as opened:
        yield opened


async def test_a_stranger_with_a_link_is_asked_three_things_and_is_in(home: House, tmp_path: Path) -> None:
    value = await home.link()
    assert "Lantern Street Kitchen" in await home.says(STRANGER, f"/start {value}", language="es")
    assert "nombre" in await home.presses(STRANGER, "Español")
    assert "16" in await home.says(STRANGER, "Ana")
    await home.presses(STRANGER, "16 o más")
    await home.server.until(lambda: "Bienvenida" in home.shown(STRANGER))
    person = home.helper.kitchen.person("ana")
    assert person is not None and (person.role, person.language, person.telegram) == ("cook", "es", STRANGER)
    await home.server.until(lambda: "Ana has joined as cook" in home.shown(OMAR))
    assert "Anotado: cambio de papel" in await home.says(STRANGER, "cambié la almohadilla de la 2")
    assert value not in home.history(tmp_path) and value.removeprefix("j_") not in home.history(tmp_path)


async def test_the_link_comes_with_a_square_that_a_reader_reads_back(home: House) -> None:
    value = await home.link()
    (photo,) = [s.photo for s in home.server.messages.values() if s.photo is not None]
    (read,) = zxingcpp.read_barcodes(Image.open(io.BytesIO(photo)))
    assert read.text == f"https://t.me/{BOT_NAME}?start={value}"


async def test_a_link_is_asked_for_in_words_and_by_button_in_two_languages(home: House) -> None:
    assert "as cook" in await home.says(OMAR, "invite a cook")
    assert "as lead" in await home.says(OMAR, "invita a una jefa")
    await home.says(OMAR, "/invite")
    assert "as trainer" in await home.presses(OMAR, "Trainer")


async def test_a_link_used_twice_lets_nobody_else_in(home: House) -> None:
    value = await home.link()
    await home.joins(STRANGER, value)
    assert "used already" in await home.says(STRANGER + 1, f"/start {value}")
    assert len(home.helper.kitchen.people) == 7


async def test_of_two_who_hold_the_same_link_the_first_to_finish_is_in(home: House) -> None:
    value = await home.link()
    other = STRANGER + 1
    for user in (STRANGER, other):
        await home.says(user, f"/start {value}")
        await home.presses(user, "English")
        await home.says(user, "Ana" if user == STRANGER else "Eva")
    await home.presses(STRANGER, "16 or older")
    assert "used already" in await home.presses(other, "16 or older")
    assert [p.name for p in home.helper.kitchen.people][6:] == ["Ana"]


async def test_a_link_that_has_ended_is_refused_kindly(home: House) -> None:
    value = await home.link()
    home.now += timedelta(hours=48)
    assert "has ended" in await home.says(STRANGER, f"/start {value}")


async def test_a_link_that_never_was_is_refused_and_tries_are_limited(
    home: House, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.INFO)
    for _ in range(TRIES + 3):
        home.server.say(STRANGER, "/start j_AAAAAAAAAAAAAAAAAAAAAAAA")
    await home.server.until(lambda: home.server.waiting() == 0 and len(home.server.texts(STRANGER)) == TRIES)
    assert set(home.server.texts(STRANGER)) == {"This link lets nobody in. Please ask the kitchen's manager for one."}
    assert caplog.text.count("event=link_tried_too_often") == 3
    assert str(STRANGER) not in caplog.text


async def test_a_lost_phone_is_out_at_once_and_the_new_one_is_the_same_person(home: House) -> None:
    await home.says(OMAR, "/crew")
    await home.presses(OMAR, "Ben")
    await home.presses(OMAR, "New phone")
    text = await home.presses(OMAR, "Yes, a new link")
    match = LINK.search(text)
    assert match is not None
    assert "private" in await home.says(BEN, "pad changed on 2")
    assert "Is this link yours, Ben?" in await home.says(STRANGER, f"/start {match[1]}")
    await home.presses(STRANGER, "Yes, that's me")
    await home.server.until(lambda: "Welcome" in home.shown(STRANGER))
    assert "Logged" in await home.says(STRANGER, "pad changed on 2")


async def test_a_link_for_somebody_else_is_not_taken(home: House) -> None:
    await home.says(OMAR, "/crew")
    await home.presses(OMAR, "Ben")
    await home.presses(OMAR, "New phone")
    match = LINK.search(await home.presses(OMAR, "Yes, a new link"))
    assert match is not None
    await home.says(STRANGER, f"/start {match[1]}")
    assert "give the link to Ben" in await home.presses(STRANGER, "No")
    assert home.helper.kitchen.person("ben").telegram is None  # type: ignore[union-attr]


async def test_a_name_that_is_taken_or_is_none_is_asked_for_again(home: House) -> None:
    value = await home.link()
    await home.says(STRANGER, f"/start {value}")
    await home.presses(STRANGER, "English")
    assert "letters only" in await home.says(STRANGER, "www.example.org")
    assert "is a BEN here already" in await home.says(STRANGER, "BEN")
    assert "16 or older" in await home.says(STRANGER, "Ben K.")


async def test_whoever_is_in_already_needs_no_link(home: House) -> None:
    value = await home.link()
    assert "You are in already, Ben" in await home.says(BEN, f"/start {value}")
    await home.joins(STRANGER, value)
    assert home.helper.kitchen.person("ana") is not None


async def test_an_old_button_of_the_door_does_nothing(home: House) -> None:
    value = await home.link()
    await home.says(STRANGER, f"/start {value}")
    chat, message, data = home.button(STRANGER, "English")
    await home.presses(STRANGER, "English")
    await home.says(STRANGER, "Ana")
    await home.presses(STRANGER, "16 or older")
    answered = len(home.server.answers)
    home.server.tap(STRANGER, f"{chat}:{message}", data)
    home.server.tap(STRANGER + 1, f"{STRANGER + 1}:{message}", "1:join:young:no")
    await home.server.until(lambda: len(home.server.answers) == answered + 2 and home.server.waiting() == 0)
    assert len(home.helper.kitchen.people) == 7


async def test_a_call_for_help_goes_before_a_name(home: House) -> None:
    value = await home.link()
    home.helper.hear("omar", "omar", "hi", home.now)
    assert "You are in already" in await home.says(BEN, f"/start {value}")
    text = await home.says(BEN, "FIRE")
    assert "911" in text or "fire" in text.lower()


async def test_whoever_is_taken_out_hears_it_and_is_a_stranger_from_then_on(home: House) -> None:
    await home.says(OMAR, "/crew")
    await home.presses(OMAR, "Ben")
    await home.presses(OMAR, "Take out")
    await home.presses(OMAR, "Take out")
    await home.server.until(lambda: "took you out" in home.shown(BEN))
    assert "private" in await home.says(BEN, "what is due")
    assert home.helper.undelivered() == []


async def test_leaving_takes_two_steps_and_ends_with_a_goodbye(home: House) -> None:
    assert "want to leave" in await home.says(BEN, "/leave me out")
    assert "You have left" in await home.presses(BEN, "Yes, I leave")
    await home.server.until(lambda: "Ben has left" in home.shown(OMAR))


async def test_a_group_becomes_the_crews_chat_by_a_managers_word(home: House) -> None:
    assert "Only a manager" in await home.says(BEN, f"/crew@{BOT_NAME} here", NEW_GROUP)
    assert "in place of" in await home.says(OMAR, "/crew here", NEW_GROUP)
    await home.presses(OMAR, "Yes, this group")
    await home.server.until(lambda: "made this the crew's chat" in home.shown(NEW_GROUP))
    home.server.say(BEN, "pad changed on 1", NEW_GROUP, reply_to_message={"from": {"id": 4711, "is_bot": True}})
    await home.server.until(lambda: any("pad change" in text for text in home.server.texts(NEW_GROUP)[1:]))


async def test_a_strangers_group_is_nobodys_business(home: House) -> None:
    home.server.say(STRANGER, "/crew here", NEW_GROUP)
    await home.server.until(lambda: home.server.waiting() == 0)
    assert home.server.texts(STRANGER) == home.server.texts(NEW_GROUP) == []


async def test_a_sticker_opens_the_fryers_card_and_lets_no_stranger_in(home: House) -> None:
    text = await home.says(BEN, "/start f_2")
    assert text.startswith("Fryer 2, falafel fryer") and home.button(BEN, "Problem")
    assert "private" in await home.says(STRANGER, "/start f_2")
    assert home.helper.kitchen.person("ana") is None


async def test_menus_follow_roles_and_people(home: House) -> None:
    await home.server.until(lambda: OMAR in home.server.own_commands and LENA in home.server.own_commands)
    names = {user: {c["command"] for c in menu} for user, menu in home.server.own_commands.items()}
    assert {"invite", "crew", "train", "due"} <= names[OMAR]
    assert "invite" in names[LENA] and "crew" not in names[LENA]
    assert BEN not in names
    assert not {"invite", "crew", "train"} & {c["command"] for c in home.server.commands[""]}
    await home.says(OMAR, "/crew")
    await home.presses(OMAR, "Ben")
    await home.presses(OMAR, "Make manager")
    await home.server.until(lambda: BEN in home.server.own_commands)
    await home.presses(OMAR, "Take out")
    await home.presses(OMAR, "Take out")
    await home.server.until(lambda: BEN not in home.server.own_commands)


async def test_a_link_whose_secret_went_with_a_restart_is_said_to_be_lost(
    server: ApiServer, demo_kitchen: Kitchen, content: Content, understander: Understander, tmp_path: Path
) -> None:
    helper = Helper.open(demo_kitchen, content, understander, tmp_path, MORNING)
    helper.links.source = lambda: "a-secret-that-was-never-sent"
    link = helper.tap("omar", "omar", "invite:role:cook", MORNING)[-1]
    assert "[LINK " in link.text
    helper.close()
    async with house(server, demo_kitchen, content, understander, tmp_path) as opened:
        await server.until(lambda: "got lost" in opened.shown(OMAR))


async def test_members_of_another_kitchen_join_this_one_and_are_of_both(
    server: ApiServer, demo_kitchen: Kitchen, content: Content, understander: Understander, tmp_path: Path
) -> None:
    moved = tuple(replace(p, telegram=(p.telegram or 0) + 1000) for p in demo_kitchen.people)
    other = replace(demo_kitchen, name="Harbour Kitchen", people=moved, crew_chat=-2002)
    here = Helper.open(demo_kitchen, content, understander, tmp_path / "a", MORNING)
    there = Helper.open(other, content, understander, tmp_path / "b", MORNING)
    home = House(server, here)
    try:
        async with open_door(server, here, there):
            value = await home.link()
            await home.joins(BEN + 1000, value, "Ben B.")
            await server.until(lambda: here.kitchen.person("benb") is not None)
            assert there.kitchen.person("ben") is not None
            await server.until(lambda: "has joined" in home.shown(OMAR))
            assert "crew's chat of another" in await home.says(OMAR, "/crew here", -2002)
    finally:
        here.close()
        there.close()


async def test_no_log_line_holds_a_number_a_name_or_a_link(home: House, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.DEBUG)
    value = await home.link()
    await home.joins(STRANGER, value, "Anabel")
    await home.server.until(lambda: "Anabel has joined" in home.shown(OMAR))
    for secret in (str(STRANGER), str(OMAR), "Anabel", value, value.removeprefix("j_")):
        assert secret not in caplog.text
