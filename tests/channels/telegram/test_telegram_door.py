"""The door at work between a Bot API server on this machine and a helper that writes everything down."""

from __future__ import annotations

import logging
import threading
from collections.abc import Iterator
from datetime import datetime, timedelta

import pytest
from api_server import (
    CONFLICT,
    DROPPED,
    SERVER_FAULT,
    TOKEN,
    ApiServer,
    Fault,
    too_many,
)
from telegram_kit import (
    BEN,
    CREW_CHAT,
    EVENING,
    ROSA,
    STRANGER,
    FakeHelper,
    Pauses,
    kitchen,
    open_door,
)

from bot.core.records import Outgoing
from bot.store import StoreError


@pytest.fixture
def server() -> Iterator[ApiServer]:
    with ApiServer() as running:
        yield running


async def test_what_is_said_is_heard_and_answered_and_marked_only_then(server: ApiServer) -> None:
    helper = FakeHelper()
    server.say(BEN, "what's due")
    async with open_door(server, helper):
        await helper.until(lambda: 1 in helper.sent)
    assert helper.heard == [("ben", "ben", "what's due", True)]
    (sent,) = server.of("sendMessage")
    assert (sent.params["chat_id"], sent.params["text"]) == (str(BEN), "heard: what's due")
    ((chat, message),) = server.messages
    assert helper.sent == {1: f"{chat}:{message}"}


async def test_an_update_is_confirmed_only_after_the_helper_has_it(server: ApiServer) -> None:
    helper = FakeHelper()
    helper.faults = [StoreError("disk full"), StoreError("disk full")]
    server.say(BEN, "pad done on 1")
    server.say(BEN, "pad done on 2")
    pauses = Pauses()
    confirmed_at_fault: list[int] = []
    answer = helper.answer

    def watch(chat: str, text: str) -> list[Outgoing]:
        confirmed_at_fault.append(server.waiting())
        return answer(chat, text)

    helper.answer = watch
    async with open_door(server, helper, pauses=pauses):
        await server.until(lambda: server.waiting() == 0)
        await helper.until(lambda: len(helper.sent) == 2)
    assert [text for _, _, text, _ in helper.heard] == ["pad done on 1", "pad done on 2"]
    assert confirmed_at_fault == [2, 2]
    assert len(pauses) == 2


async def test_only_messages_and_taps_are_asked_for_and_nothing_pending_is_dropped(server: ApiServer) -> None:
    helper = FakeHelper()
    async with open_door(server, helper):
        await helper.until(lambda: bool(helper.ticks))
    assert all(poll["allowed_updates"] == ["message", "callback_query"] for poll in server.polls)
    (deleted,) = server.of("deleteWebhook")
    assert deleted.params.get("drop_pending_updates") in (None, "False", "false")


async def test_messages_of_one_chat_are_answered_in_their_order(server: ApiServer) -> None:
    helper = FakeHelper()
    for number in range(6):
        server.say(BEN, f"note {number}")
    async with open_door(server, helper):
        await helper.until(lambda: len(helper.sent) == 6)
    assert server.texts(BEN) == [f"heard: note {number}" for number in range(6)]


async def test_the_same_update_twice_is_answered_once(server: ApiServer) -> None:
    helper = FakeHelper()
    number = server.say(BEN, "drained 1")
    async with open_door(server, helper):
        await helper.until(lambda: 1 in helper.sent)
        await server.until(lambda: server.waiting() == 0)
        server.push({"update_id": number, "message": server.message(BEN, text="drained 1")})
        server.say(BEN, "next")
        await helper.until(lambda: 2 in helper.sent)
    assert server.texts(BEN) == ["heard: drained 1", "heard: next"]


async def test_after_a_quiet_week_lower_update_numbers_are_heard_too(server: ApiServer) -> None:
    """Public Bot API documentation, Update: after a week without updates the next number is chosen at random."""
    helper = FakeHelper()
    server.push({"update_id": 5000, "message": server.message(BEN, text="first")})
    async with open_door(server, helper):
        await helper.until(lambda: len(helper.heard) == 1)
        await server.until(lambda: server.waiting() == 0 and "offset" not in server.polls[-1])
        server.push({"update_id": 17, "message": server.message(BEN, text="second")})
        await helper.until(lambda: len(helper.heard) == 2)


async def test_a_tap_acts_and_its_answer_waits_for_nothing(server: ApiServer) -> None:
    helper, arrive = FakeHelper(), threading.Event()
    server.inject("sendMessage", Fault(hold=arrive))
    server.tap(BEN, f"{BEN}:5", "1:done:pad_change:2")
    async with open_door(server, helper):
        await server.until(lambda: server.held >= 1 and len(server.answers) == 1)
        arrive.set()
        await helper.until(lambda: 1 in helper.sent)
    assert helper.tapped == [("ben", "ben", "done:pad_change:2")]
    assert [text for _, text in server.answers] == [None]


async def test_a_stale_button_gets_a_polite_answer_in_the_persons_language_and_does_nothing(
    server: ApiServer,
) -> None:
    helper = FakeHelper()
    server.tap(ROSA, f"{ROSA}:5", "0:done:pad_change:2")
    async with open_door(server, helper):
        await server.until(lambda: len(server.answers) == 1)
    assert [text for _, text in server.answers] == ["tap.stale (es)"]
    assert helper.tapped == []


async def test_a_stranger_is_refused_three_times_and_then_met_with_silence(server: ApiServer) -> None:
    helper = FakeHelper()
    for _ in range(5):
        server.say(STRANGER, "what is this", language="es")
    server.say(STRANGER, "/due", CREW_CHAT)
    server.tap(STRANGER, f"{CREW_CHAT}:5", "1:no")
    server.say(BEN, "hi")
    async with open_door(server, helper):
        await helper.until(lambda: 1 in helper.sent)
        await server.until(lambda: len(server.texts(STRANGER)) == 3 and len(server.answers) == 1)
    assert server.texts(STRANGER) == ["stranger.refused (es)"] * 3
    assert server.texts(CREW_CHAT) == []
    assert helper.heard == [("ben", "ben", "hi", True)]
    assert helper.tapped == []


async def test_what_was_left_over_is_sent_first(server: ApiServer) -> None:
    helper = FakeHelper()
    helper.left_over = [helper.say("ben", "from before")]
    helper.due = [helper.say("ben", "due now")]
    async with open_door(server, helper):
        await helper.until(lambda: len(helper.sent) == 2)
    assert server.texts(BEN) == ["from before", "due now"]


async def test_messages_that_came_while_it_was_off_are_heard_before_the_first_tick(server: ApiServer) -> None:
    helper = FakeHelper()
    heard_at_tick: list[int] = []
    tick = helper.tick

    def watch(now: datetime) -> list[Outgoing]:
        heard_at_tick.append(len(helper.heard))
        return tick(now)

    helper.tick = watch  # type: ignore[method-assign]
    server.say(BEN, "pad done on 1")
    async with open_door(server, helper):
        await helper.until(lambda: bool(helper.ticks))
    assert heard_at_tick[0] == 1


async def test_the_wake_up_job_ticks_when_the_helper_wants_it(server: ApiServer) -> None:
    helper = FakeHelper()
    async with open_door(server, helper):
        await helper.until(lambda: len(helper.ticks) == 1)
        helper.due = [helper.say("crew", "pad change is due", kind="reminder")]
        helper.wake = EVENING - timedelta(days=1)
        server.say(BEN, "thanks")
        await helper.until(lambda: 1 in helper.sent)
    assert server.texts(CREW_CHAT) == ["pad change is due"]


async def test_there_is_one_wake_up_job_and_it_follows_the_helper(server: ApiServer) -> None:
    helper = FakeHelper()
    async with open_door(server, helper) as (door, _, _):
        await helper.until(lambda: len(helper.ticks) == 1)
        for year in (2121, 2120, 2122):
            helper.wake = EVENING.replace(year=year)
            server.say(BEN, "something that changes the plan")
            await server.until(lambda: server.waiting() == 0)
            (job,) = door.scheduler.get_jobs()
            assert job.next_run_time == helper.wake
        helper.wake = None
        server.say(BEN, "and nothing is planned any more")
        await server.until(lambda: server.waiting() == 0)
        assert door.scheduler.get_jobs() == []
    assert len(helper.ticks) == 1


async def test_a_helper_that_always_wants_to_wake_does_not_keep_the_machine_busy(server: ApiServer) -> None:
    helper = FakeHelper()
    helper.wake_at = lambda now: now  # type: ignore[method-assign]
    async with open_door(server, helper) as (door, _, _):
        await helper.until(lambda: len(helper.ticks) >= 1)
        runs = [job.next_run_time for job in door.scheduler.get_jobs()]
    assert all(run >= EVENING + timedelta(seconds=1) for run in runs)


async def test_receiving_survives_faults(server: ApiServer) -> None:
    helper, pauses = FakeHelper(), Pauses()
    server.inject("getUpdates", SERVER_FAULT, DROPPED, too_many(3), Fault(200, {"ok": True, "result": [5, {"a": 1}]}))
    server.inject("getMe", DROPPED, SERVER_FAULT)
    server.say(BEN, "hi")
    async with open_door(server, helper, pauses=pauses):
        await helper.until(lambda: 1 in helper.sent)
    assert pauses == [1, 2, 1, 2, 4, 60]


async def test_an_update_that_nobody_can_read_does_not_stop_the_next(server: ApiServer) -> None:
    helper = FakeHelper()
    server.push({"message": {"chat": "?", "text": 5}})
    server.push({"something_new": {}})
    server.say(BEN, "hi")
    async with open_door(server, helper):
        await helper.until(lambda: 1 in helper.sent)
        await server.until(lambda: server.waiting() == 0)


async def test_a_fault_of_the_helper_does_not_stop_the_next_message(
    server: ApiServer, caplog: pytest.LogCaptureFixture
) -> None:
    helper = FakeHelper()
    helper.faults = [KeyError("secret words")]
    server.say(BEN, "one")
    server.say(BEN, "two")
    async with open_door(server, helper):
        await helper.until(lambda: 1 in helper.sent)
    assert server.texts(BEN) == ["heard: two"]
    assert "event=event_failed error=KeyError at=telegram_kit.py" in caplog.text
    assert "secret words" not in caplog.text


async def test_two_kitchens_share_one_bot_and_nothing_else(server: ApiServer) -> None:
    here, there = FakeHelper(), FakeHelper(kitchen("Harbour Kitchen", shift=1000, crew=-2002))
    server.say(BEN, "hello")
    server.say(BEN + 1000, "good evening")
    there.due = [there.say("crew", "due there")]
    async with open_door(server, here, there):
        await here.until(lambda: 1 in here.sent)
        await there.until(lambda: len(there.sent) == 2)
    assert here.heard == [("ben", "ben", "hello", True)]
    assert there.heard == [("ben", "ben", "good evening", True)]
    assert (server.texts(-2002), server.texts(CREW_CHAT)) == (["due there"], [])


async def test_the_menu_is_set_in_both_languages(server: ApiServer) -> None:
    helper = FakeHelper()
    async with open_door(server, helper):
        await server.until(lambda: len(server.commands) == 2)
    assert {"command": "due", "description": "command.due (en)"} in server.commands[""]
    assert {"command": "due", "description": "command.due (es)"} in server.commands["es"]
    assert "start" not in [command["command"] for command in server.commands[""]]


async def test_a_wrong_token_ends_with_status_2_and_one_line_without_it(server: ApiServer) -> None:
    server.token = "4711:another-token"
    helper = FakeHelper()
    async with open_door(server, helper) as (door, running, _):
        server.token = TOKEN
        ending = await running
        assert door.scheduler.running is False
    assert ending.status == 2
    assert ending.line is not None and "another-token" not in ending.line and "\n" not in ending.line


async def test_a_token_that_is_withdrawn_while_running_ends_it_too(server: ApiServer) -> None:
    helper = FakeHelper()
    unauthorized = Fault(401, {"ok": False, "error_code": 401, "description": "Unauthorized"})
    async with open_door(server, helper) as (_, running, _):
        await helper.until(lambda: bool(helper.ticks))
        server.inject("sendMessage", unauthorized)
        server.say(BEN, "hi")
        assert (await running).status == 2
    assert helper.sent == {} and helper.given_up == {}


async def test_a_second_poller_ends_it_with_status_1(server: ApiServer) -> None:
    server.inject("getUpdates", CONFLICT)
    async with open_door(server, FakeHelper()) as (_, running, _):
        ending = await running
    assert ending.status == 1
    assert ending.line is not None and "same token" in ending.line


async def test_no_log_line_holds_a_token_a_number_or_a_word_of_anybody(
    server: ApiServer, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    helper = FakeHelper()
    server.inject("sendMessage", DROPPED, SERVER_FAULT, too_many(1))
    server.inject("getUpdates", Fault(200, {"ok": True, "result": "confidential"}))
    server.say(STRANGER, "confidential")
    server.say(BEN, "confidential")
    server.tap(BEN, f"{BEN}:5", "confidential")
    server.blocked.add(ROSA)
    helper.due = [helper.say("rosa", "confidential")]
    async with open_door(server, helper):
        await helper.until(lambda: 2 in helper.sent and 1 in helper.given_up)
    assert "event=sent" in caplog.text and "event=given_up" in caplog.text
    for secret in (TOKEN, "confidential", str(BEN), str(ROSA), str(STRANGER)):
        assert secret not in caplog.text
