"""Strangers, addresses, commands, and patience with a bad line."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Awaitable, Callable
from datetime import timedelta
from pathlib import Path

import httpx
import pytest
from hypothesis import given, strategies as st
from telegram.error import BadRequest, Conflict, Forbidden, InvalidToken, NetworkError, RetryAfter, TelegramError
from telegram_kit import BEN, CALM, CREW_CHAT, EVENING, FakeHelper, Pauses, kitchen

from bot.channels.telegram import kitchens
from bot.channels.telegram.addresses import AddressBook, SharedAddressError, tag_of
from bot.channels.telegram.commands import Command, load_commands
from bot.channels.telegram.door import make_bot
from bot.channels.telegram.limits import BURST, Limiter
from bot.channels.telegram.line import Line, LineClosedError, Patience
from bot.channels.telegram.strangers import REMEMBERED, WITHIN, Doorkeeper
from bot.core import slash
from bot.core.conversation import COMMANDS
from intents.types import Language

LANGUAGES: tuple[Language, ...] = ("en", "es")
PHRASES = Path(__file__).parents[3] / "intents" / "phrases"

# --- strangers ---


def test_a_stranger_is_told_three_times_an_hour_at_most() -> None:
    keeper = Doorkeeper()
    minutes = [0, 10, 20, 30, 59, 60, 61, 70]
    told = [m for m in minutes if keeper.may_tell(6666, EVENING + timedelta(minutes=m))]
    assert told == [0, 10, 20, 60, 70]
    assert keeper.turned_away == len(minutes)


def test_one_stranger_does_not_silence_another() -> None:
    keeper = Doorkeeper()
    assert [keeper.may_tell(1, EVENING) for _ in range(4)] == [True, True, True, False]
    assert keeper.may_tell(2, EVENING)


@CALM
@given(st.lists(st.tuples(st.integers(0, 5), st.integers(0, 40)), max_size=60))
def test_no_hour_ever_holds_more_than_three_refusals(visits: list[tuple[int, int]]) -> None:
    keeper, now, told = Doorkeeper(), EVENING, list[tuple[int, timedelta]]()
    for user, minutes in visits:
        now += timedelta(minutes=minutes)
        if keeper.may_tell(user, now):
            told.append((user, now - EVENING))
    for user, at in told:
        assert sum(1 for other, t in told if other == user and at <= t < at + WITHIN) <= 3


def test_however_many_strangers_come_only_so_many_are_remembered() -> None:
    keeper = Doorkeeper()
    for user in range(REMEMBERED * 2):
        keeper.may_tell(user, EVENING)
    assert len(keeper) == REMEMBERED


# --- addresses ---


def test_somebody_may_be_in_two_kitchens_and_has_a_place_in_each() -> None:
    here, there = FakeHelper(kitchen("A")), FakeHelper(kitchen("B", crew=-2002))
    book = AddressBook([here, there])
    assert [place.helper for place in book.private_places(BEN)] == [here, there]
    assert book.is_shared(here, "ben") and not book.is_shared(here, "crew")
    for chat, helper in ((CREW_CHAT, here), (-2002, there)):
        place = book.place(BEN, chat, private=False)
        assert place is not None and place.helper is helper


def test_two_kitchens_that_look_alike_on_a_button_and_share_a_person_are_refused_without_telling_the_number() -> None:
    seen: dict[str, str] = {}
    for n in range(100_000):
        name = f"Kitchen {n}"
        tag = tag_of(FakeHelper(kitchen(name)))
        if tag in seen:
            break
        seen[tag] = name
    with pytest.raises(SharedAddressError, match="look alike") as caught:
        AddressBook([FakeHelper(kitchen(seen[tag])), FakeHelper(kitchen(name, crew=-2002))])
    assert str(BEN) not in str(caught.value)
    AddressBook([FakeHelper(kitchen(seen[tag])), FakeHelper(kitchen(name, shift=1000, crew=-2002))])


def test_two_kitchens_with_the_same_crew_chat_are_refused() -> None:
    with pytest.raises(SharedAddressError, match="same crew_chat"):
        AddressBook([FakeHelper(kitchen("A")), FakeHelper(kitchen("B", shift=1000))])


def test_a_person_or_crew_without_a_number_has_no_chat() -> None:
    helper = FakeHelper(kitchen(crew=None))
    book = AddressBook([helper])
    assert [book.chat_id(helper, to) for to in ("ben", "lena", "crew", "nobody")] == [BEN, None, None, None]


def test_a_crew_chat_that_moved_is_known_under_both_numbers_and_written_to_under_the_new_one() -> None:
    helper = FakeHelper()
    book = AddressBook([helper])
    assert book.move(CREW_CHAT, -9009)
    assert book.chat_id(helper, "crew") == -9009
    for chat in (CREW_CHAT, -9009):
        place = book.place(BEN, chat, private=False)
        assert place is not None and place.chat == "crew"


def test_a_group_of_others_may_move_as_it_likes() -> None:
    book = AddressBook([FakeHelper()])
    assert not book.move(-5555, -9009)
    assert book.place(BEN, -9009, private=False) is None


# --- commands ---

TOPICS = {
    "start": "talk.hello", "due": "ask.due", "guides": "talk.help", "wait": "cooldown.start",
    "left": "cooldown.status", "undo": "log.undo", "summary": "ask.summary", "supplies": "ask.supplies",
    "service": "ask.service_contact", "language": "talk.language", "help": "talk.help",
}  # fmt: skip
"""What each command is for; a note is checked below, since its words are only a beginning."""


@pytest.mark.parametrize("language", ["en", "es"])
def test_every_command_stands_for_a_phrase_of_its_topic(language: Language) -> None:
    commands = load_commands()
    assert set(commands) == {*TOPICS, "note", *(name for name in commands if is_passed_on(commands[name]))}
    for name, topic in TOPICS.items():
        phrases = (PHRASES / language / f"{topic}.txt").read_text(encoding="utf-8").splitlines()
        assert commands[name].words[language] in phrases, name


def test_what_the_core_knows_by_its_name_is_passed_on_as_it_is() -> None:
    passed_on = [command for command in load_commands().values() if is_passed_on(command)]
    said = {command.said("anything", language).partition(" ")[0] for command in passed_on for language in LANGUAGES}
    assert said == {*COMMANDS, *slash.COMMANDS, kitchens.COMMAND}


def is_passed_on(command: Command) -> bool:
    """A command that somebody behind the door knows by its name, in every language."""
    return all(command.words[language] == f"/{command.name}" for language in LANGUAGES)


@pytest.mark.parametrize(("language", "beginning"), [("en", "note: {note}"), ("es", "nota: {note}")])
def test_the_note_command_begins_a_note_and_alone_gives_help(language: Language, beginning: str) -> None:
    note = load_commands()["note"]
    assert note.bare is not None
    assert note.words[language] == beginning.removesuffix(" {note}")
    assert note.bare[language] in (PHRASES / language / "talk.help.txt").read_text(encoding="utf-8").splitlines()


def test_command_names_are_as_the_documentation_wants_them() -> None:
    """Public Bot API documentation, BotCommand: 1-32 characters, small letters, digits and underscores."""
    assert all(re.fullmatch(r"[a-z0-9_]{1,32}", name) for name in load_commands())


# --- the pace of what goes out ---


async def test_one_person_gets_a_short_burst_and_then_waits_and_holds_up_nobody_else() -> None:
    limiter, sent = Limiter(), list[int]()

    async def send(chat: int, endpoint: str = "sendMessage") -> None:
        async def callback() -> bool:
            sent.append(chat)
            return True

        await limiter.process_request(callback, (), {}, endpoint, {"chat_id": chat}, None)

    for _ in range(BURST):
        await send(BEN)
    waiting = asyncio.create_task(send(BEN))
    await send(BEN, "editMessageText")
    await send(BEN + 1)
    assert sent == [*[BEN] * BURST, BEN, BEN + 1]
    assert not waiting.done()
    waiting.cancel()


async def test_a_group_gets_twenty_a_minute_and_all_together_thirty_a_second() -> None:
    """The figures of the public Bot FAQ, as the library keeps them."""
    limiter = Limiter()
    tasks = []

    async def callback() -> bool:
        return True

    for n in range(25):
        data = {"chat_id": CREW_CHAT}
        tasks.append(asyncio.create_task(limiter.process_request(callback, (), {}, "sendMessage", data, None)))
        if n < 20:
            await tasks[-1]
    for n in range(15):
        data = {"chat_id": BEN + n}
        tasks.append(asyncio.create_task(limiter.process_request(callback, (), {}, "sendMessage", data, None)))
    for _ in range(10):
        await asyncio.sleep(0)
    assert [task.done() for task in tasks[:25]] == [True] * 20 + [False] * 5
    assert 10 <= sum(task.done() for task in tasks[25:]) < 15
    for task in tasks:
        task.cancel()


# --- patience ---


def no_answer() -> NetworkError:
    error = NetworkError("httpx.ConnectError")
    error.__cause__ = httpx.ConnectError("refused")
    return error


def line(pauses: Pauses, jitter: float = 1.0) -> Line:
    bot = make_bot("1:nobody", "http://127.0.0.1:9")
    return Line(bot, Patience(first=1, longest=60, tries=4), pauses.sleep, lambda: jitter)


def failing(*errors: Exception) -> Callable[[], Awaitable[str]]:
    left = list(errors)

    async def request() -> str:
        if left:
            raise left.pop(0)
        return "done"

    return request


async def test_a_dead_line_is_tried_until_it_is_back_with_pauses_that_grow_to_a_bound() -> None:
    pauses = Pauses()
    assert await line(pauses).call(failing(*[no_answer() for _ in range(10)])) == "done"
    assert pauses == [1, 2, 4, 8, 16, 32, 60, 60, 60, 60]


async def test_chance_shortens_a_pause_by_half_at_most() -> None:
    pauses = Pauses()
    await line(pauses, jitter=0.0).call(failing(no_answer(), no_answer()))
    assert pauses == [0.5, 1]


@pytest.mark.parametrize("fault", [NetworkError("Bad Gateway"), TelegramError("Invalid server response")])
async def test_a_faulty_server_gets_only_so_many_tries(fault: TelegramError) -> None:
    pauses = Pauses()
    with pytest.raises(type(fault)):
        await line(pauses).call(failing(*[fault] * 4))
    assert pauses == [1, 2, 4]


@pytest.mark.filterwarnings("ignore::telegram.warnings.PTBDeprecationWarning")
async def test_a_wait_that_the_server_asks_for_is_kept_however_often() -> None:
    pauses = Pauses()
    assert await line(pauses, jitter=0.0).call(failing(*[RetryAfter(7)] * 20)) == "done"
    assert pauses == [7] * 20


@pytest.mark.parametrize("refusal", [BadRequest("no"), Forbidden("no"), InvalidToken("no"), Conflict("no")])
async def test_a_refusal_is_not_tried_again(refusal: TelegramError) -> None:
    pauses = Pauses()
    with pytest.raises(type(refusal)):
        await line(pauses).call(failing(refusal))
    assert pauses == []


async def test_a_closed_line_starts_nothing() -> None:
    closed = line(Pauses())
    await closed.close(grace=0)
    with pytest.raises(LineClosedError):
        await closed.call(failing())
