"""The door at work between a Bot API server on this machine and a helper that writes everything down."""

from __future__ import annotations

import asyncio
import logging
import threading
from collections.abc import Iterator
from datetime import datetime, timedelta

import pytest
from api_server import (
    CONFLICT,
    DROPPED,
    DROPPED_AFTER,
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
    MAYA,
    PICTURE,
    ROSA,
    STRANGER,
    FakeHelper,
    Pauses,
    kitchen,
    open_door,
)

from bot.channels.telegram.running import Ending
from bot.core.records import OutFile, Outgoing
from bot.store import StoreError

SUMMARY = (OutFile("summary_picture"),)


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
    for number in range(20):
        server.say(BEN, f"note {number}")
    async with open_door(server, helper):
        await helper.until(lambda: len(helper.sent) == 20)
    assert server.texts(BEN) == [f"heard: note {number}" for number in range(20)]


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


async def test_a_tap_is_answered_at_once_and_acts(server: ApiServer) -> None:
    helper = FakeHelper()
    server.inject("sendMessage", SERVER_FAULT)
    server.tap(BEN, f"{BEN}:5", "1:done:pad_change:2")
    async with open_door(server, helper):
        await helper.until(lambda: 1 in helper.sent)
    assert helper.tapped == [("ben", "ben", "done:pad_change:2")]
    methods = [call.method for call in server.calls]
    assert methods.index("answerCallbackQuery") < methods.index("sendMessage")
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


async def test_a_crew_chat_that_became_a_supergroup_is_followed(server: ApiServer) -> None:
    helper = FakeHelper()
    server.moved[CREW_CHAT] = -9009
    helper.due = [helper.say("crew", "reminder", kind="reminder")]
    async with open_door(server, helper):
        await helper.until(lambda: 1 in helper.sent)
        server.say(BEN, "/due", -9009)
        await helper.until(lambda: bool(helper.heard))
    assert server.texts(-9009)[0] == "reminder"
    assert helper.heard == [("ben", "crew", "what's due", True)]


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


async def test_stopping_lets_a_message_that_is_under_way_arrive_and_marks_it(server: ApiServer) -> None:
    helper, arrive = FakeHelper(), threading.Event()
    server.inject("sendMessage", Fault(hold=arrive))
    async with open_door(server, helper) as (_, running, stop):
        server.say(BEN, "hi")
        await server.until(lambda: server.held == 1)
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
