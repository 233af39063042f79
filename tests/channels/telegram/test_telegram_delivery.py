"""How messages reach their chats, whatever happens on the way, and what is marked as delivered."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Iterator

import pytest
from api_server import (
    DROPPED,
    DROPPED_AFTER,
    SERVER_FAULT,
    ApiServer,
    Fault,
    too_many,
)
from telegram_kit import (
    BEN,
    CREW_CHAT,
    MAYA,
    PICTURE,
    ROSA,
    FakeHelper,
    Pauses,
    open_door,
)

from bot.channels.telegram.running import Ending
from bot.core.records import OutFile

SUMMARY = (OutFile("summary_picture"),)


@pytest.fixture
def server() -> Iterator[ApiServer]:
    with ApiServer() as running:
        yield running


@pytest.mark.parametrize("fault", [SERVER_FAULT, Fault(500, {"ok": False, "description": "oops"}), DROPPED])
async def test_a_message_survives_faults_on_the_way(server: ApiServer, fault: Fault) -> None:
    helper, pauses = FakeHelper(), Pauses()
    server.inject("sendMessage", fault, fault, fault)
    server.say(BEN, "hi")
    async with open_door(server, helper, pauses=pauses):
        await helper.until(lambda: 1 in helper.sent)
    assert server.texts(BEN) == ["heard: hi"]
    assert pauses == [1, 2, 4]


async def test_the_server_is_left_alone_for_as_long_as_it_asks(server: ApiServer) -> None:
    helper, pauses = FakeHelper(), Pauses()
    server.inject("sendMessage", too_many(17))
    server.say(BEN, "hi")
    async with open_door(server, helper, pauses=pauses):
        await helper.until(lambda: 1 in helper.sent)
    assert pauses == [18]  # 17 as asked, and one of jitter


async def test_a_message_whose_answer_was_lost_is_rather_sent_twice_than_not_at_all(server: ApiServer) -> None:
    helper = FakeHelper()
    server.inject("sendMessage", DROPPED_AFTER)
    server.say(BEN, "hi")
    async with open_door(server, helper):
        await helper.until(lambda: 1 in helper.sent)
    assert server.texts(BEN) == ["heard: hi", "heard: hi"]


async def test_a_server_that_stays_faulty_costs_the_message_but_not_the_next_one(server: ApiServer) -> None:
    helper = FakeHelper()
    server.inject("sendMessage", *[SERVER_FAULT] * 8)
    server.say(BEN, "one")
    server.say(BEN, "two")
    async with open_door(server, helper):
        await helper.until(lambda: 2 in helper.sent)
    assert helper.given_up == {1: "server_fault"}
    assert server.texts(BEN) == ["heard: two"]


async def test_somebody_who_blocked_the_bot_is_given_up_and_holds_up_nobody(server: ApiServer) -> None:
    helper = FakeHelper()
    helper.due = [helper.say("ben", "a"), helper.say("rosa", "b"), helper.say("lena", "c"), helper.say("maya", "d")]
    server.blocked.add(BEN)
    server.unknown_chats.add(ROSA)
    async with open_door(server, helper):
        await helper.until(lambda: len(helper.given_up) == 3 and 4 in helper.sent)
    assert helper.given_up == {1: "blocked", 2: "no_chat", 3: "no_chat"}
    assert server.texts(MAYA) == ["d"]


async def test_a_keyed_message_is_edited_in_place(server: ApiServer) -> None:
    helper = FakeHelper()
    helper.answer = lambda chat, text: [helper.say(chat, text, "no", key="wait", edit=text != "30 min left")]
    async with open_door(server, helper):
        for text in ("30 min left", "20 min left", "20 min left"):
            server.say(BEN, text)
        await helper.until(lambda: len(helper.sent) == 3)
    assert server.texts(BEN) == ["20 min left"]
    assert len(set(helper.sent.values())) == 1


async def test_an_edit_of_a_message_that_is_gone_is_sent_anew(server: ApiServer) -> None:
    helper = FakeHelper()
    helper.answer = lambda chat, text: [helper.say(chat, text, "no", key="wait", edit=True)]
    async with open_door(server, helper):
        server.say(BEN, "30 min left")
        await helper.until(lambda: 1 in helper.sent)
        server.messages.clear()
        server.say(BEN, "20 min left")
        await helper.until(lambda: 2 in helper.sent)
    assert server.texts(BEN) == ["20 min left"]
    assert helper.given_up == {}


async def test_a_newer_message_with_the_same_key_takes_the_old_ones_buttons(server: ApiServer) -> None:
    helper = FakeHelper()
    helper.answer = lambda chat, text: [helper.say(chat, text, "done", key="due")]
    async with open_door(server, helper):
        server.say(BEN, "first")
        await helper.until(lambda: 1 in helper.sent)
        server.say(BEN, "second")
        await server.until(lambda: len(server.of("editMessageReplyMarkup")) == 1)
    shown = [(m.text, bool(m.keyboard)) for _, m in sorted(server.messages.items())]
    assert shown == [("first", False), ("second", True)]


async def test_a_picture_goes_with_its_words_and_the_words_go_without_a_bad_one(server: ApiServer) -> None:
    helper = FakeHelper()
    helper.answer = lambda chat, text: [helper.say(chat, text, files=SUMMARY)]
    async with open_door(server, helper):
        server.say(BEN, "summary")
        await helper.until(lambda: 1 in helper.sent)
        helper.picture = b"no picture at all"
        server.say(BEN, "summary again")
        await helper.until(lambda: 2 in helper.sent)
        helper.picture = None
        server.say(BEN, "and again")
        await helper.until(lambda: 3 in helper.sent)
    shown = [(m.text, m.caption, m.photo) for _, m in sorted(server.messages.items())]
    assert shown == [(None, "summary", PICTURE), ("summary again", None, None), ("and again", None, None)]


async def test_what_somebody_waits_for_overtakes_a_backlog_of_scheduled_messages(server: ApiServer) -> None:
    helper = FakeHelper()
    hold = asyncio.Event()

    class Held(Pauses):
        async def sleep(self, seconds: float) -> None:
            await hold.wait()

    server.inject("sendMessage", SERVER_FAULT)
    helper.due = [helper.say("ben", f"reminder {n}", kind="reminder") for n in range(3)]
    async with open_door(server, helper, pauses=Held()):
        await server.until(lambda: any(call.method == "sendMessage" for call in server.calls))
        server.say(BEN, "fire")
        await helper.until(lambda: bool(helper.heard))
        hold.set()
        await helper.until(lambda: len(helper.sent) == 4)
    assert server.texts(BEN) == ["reminder 0", "heard: fire", "reminder 1", "reminder 2"]


async def test_the_answer_to_a_call_for_help_overtakes_all_other_answers(server: ApiServer) -> None:
    helper = FakeHelper()
    hold = asyncio.Event()

    class Held(Pauses):
        async def sleep(self, seconds: float) -> None:
            await hold.wait()

    server.inject("sendMessage", SERVER_FAULT)
    async with open_door(server, helper, pauses=Held()):
        server.say(BEN, "oil 1")
        await server.until(lambda: any(call.method == "sendMessage" for call in server.calls))
        for words in ("oil 2", "oil 3", "fire"):
            server.say(BEN, words)
        await helper.until(lambda: len(helper.heard) == 4)
        hold.set()
        await helper.until(lambda: len(helper.sent) == 4)
    assert server.texts(BEN) == ["heard: oil 1", "heard: fire", "heard: oil 2", "heard: oil 3"]


async def test_a_crew_chat_that_became_a_supergroup_is_followed(server: ApiServer) -> None:
    helper = FakeHelper()
    server.moved[CREW_CHAT] = -9009
    helper.due = [helper.say("crew", "reminder", kind="reminder")]
    async with open_door(server, helper):
        await helper.until(lambda: 1 in helper.sent)
        server.say(BEN, "/due", -9009)
        await helper.until(lambda: bool(helper.heard))
    assert server.texts(-9009)[0] == "reminder"
    assert helper.moves == [-9009]
    assert helper.heard == [("ben", "crew", "what's due", True)]


async def test_stopping_lets_a_message_that_is_under_way_arrive_and_marks_it(server: ApiServer) -> None:
    helper, arrive = FakeHelper(), threading.Event()
    server.inject("sendMessage", Fault(hold=arrive))
    async with open_door(server, helper) as (_, running, stop):
        server.say(BEN, "hi")
        await server.until(lambda: server.held >= 1)
        stop.set()
        arrive.set()
        assert await running == Ending(0)
    assert (list(helper.sent), helper.given_up) == ([1], {})
    assert server.texts(BEN) == ["heard: hi"]


async def test_stopping_leaves_what_was_not_sent_for_later(server: ApiServer) -> None:
    helper = FakeHelper()
    server.inject("sendMessage", *[DROPPED] * 3)
    hold = asyncio.Event()

    class Held(Pauses):
        async def sleep(self, seconds: float) -> None:
            await hold.wait()

    async with open_door(server, helper, pauses=Held()) as (_, running, stop):
        server.say(BEN, "hi")
        await server.until(lambda: any(call.method == "sendMessage" for call in server.calls))
        stop.set()
        assert await running == Ending(0)
    assert helper.sent == {} and helper.given_up == {}
