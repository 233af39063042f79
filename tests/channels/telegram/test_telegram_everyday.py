"""Small courtesies of a chat: pictures, topics, answers in the place of their question, a person who goes too fast."""

from __future__ import annotations

import threading
from collections.abc import Iterator

import pytest
from api_server import BOT_ID, DROPPED, ApiServer, Fault
from hypothesis import given, strategies as st
from telegram_kit import BEN, CALM, CREW_CHAT, ROSA, FakeHelper, Pauses, open_door

from bot.channels.telegram.around import LARGEST_PHOTO, look_around
from bot.channels.telegram.out import TEXT_LIMIT, split_text
from bot.channels.telegram.pace import MOST, WITHIN, Pace
from bot.core.records import OutFile

SIZES = [
    {"file_id": "small", "width": 90, "height": 60, "file_size": 900},
    {"file_id": "large", "width": 1280, "height": 960, "file_size": 90_000},
    {"file_id": "huge", "width": 9000, "height": 9000, "file_size": LARGEST_PHOTO + 1},
]


@pytest.fixture
def server() -> Iterator[ApiServer]:
    with ApiServer() as running:
        yield running


def quoted(*carried: str) -> dict[str, object]:
    row = [{"text": "x", "callback_data": data} for data in carried]
    return {"message_id": 1, "from": {"id": BOT_ID, "is_bot": True}, "reply_markup": {"inline_keyboard": [row]}}


# --- pictures ---


async def test_the_largest_photo_that_is_not_too_large_reaches_the_helper_with_the_record_it_answers(
    server: ApiServer,
) -> None:
    helper = FakeHelper()
    server.files["large"] = b"jpeg"
    answered = quoted("1:done:pad_change:2", "1:undo:7:7")
    server.push({"message": server.message(BEN, photo=SIZES, reply_to_message=answered)})
    async with open_door(server, helper):
        await helper.until(lambda: 1 in helper.sent)
    assert helper.received == [("ben", "ben", "photo")]
    assert helper.photos == [(b"jpeg", "undo:7:7")]


async def test_a_photo_that_can_not_be_had_is_received_without_its_bytes(server: ApiServer) -> None:
    helper = FakeHelper()
    server.push({"message": server.message(BEN, photo=[{"file_id": "gone", "width": 1, "height": 1}])})
    server.push({"message": server.message(BEN, photo="no list at all")})
    async with open_door(server, helper):
        await helper.until(lambda: 2 in helper.sent)
    assert helper.photos == [(None, None), (None, None)]


async def test_a_photo_survives_a_bad_line_and_is_kept_once(server: ApiServer) -> None:
    helper = FakeHelper()
    server.files["large"] = b"jpeg"
    server.inject("getFile", DROPPED, DROPPED)
    server.push({"message": server.message(BEN, photo=SIZES)})
    async with open_door(server, helper):
        await helper.until(lambda: 1 in helper.sent)
        await server.until(lambda: server.waiting() == 0)
    assert helper.photos == [(b"jpeg", None)]


async def test_while_a_photo_is_fetched_others_are_answered_and_their_updates_are_confirmed_in_order(
    server: ApiServer,
) -> None:
    helper, arrive = FakeHelper(), threading.Event()
    server.files["large"] = b"jpeg"
    server.inject("getFile", Fault(hold=arrive))
    first = server.push({"message": server.message(BEN, photo=SIZES)})
    server.say(BEN, "what is this")
    server.say(ROSA, "fire")
    async with open_door(server, helper):
        await helper.until(lambda: helper.heard == [("rosa", "rosa", "fire", True)])
        await server.until(lambda: any(poll.get("offset") == str(first) for poll in server.polls))
        arrive.set()
        await helper.until(lambda: len(helper.heard) == 2)
        await server.until(lambda: server.waiting() == 0)
    assert helper.photos == [(b"jpeg", None)]
    assert [text for _, _, text, _ in helper.heard] == ["fire", "what is this"]


async def test_what_takes_long_shows_that_an_answer_is_on_its_way(server: ApiServer) -> None:
    helper, arrive, pauses = FakeHelper(), threading.Event(), Pauses()
    server.files["large"] = b"jpeg"
    server.inject("getFile", Fault(hold=arrive))
    server.push({"message": server.message(BEN, photo=SIZES)})
    async with open_door(server, helper, pauses=pauses):
        await server.until(lambda: len(server.of("sendChatAction")) >= 2)
        arrive.set()
        await helper.until(lambda: 1 in helper.sent)
        shown = len(server.of("sendChatAction"))
        server.say(BEN, "thanks")
        await helper.until(lambda: 2 in helper.sent)
        assert len(server.of("sendChatAction")) <= shown + 1
    assert pauses[:2] == [1.0, 4.0]


# --- topics of a group ---


async def test_an_answer_stays_in_its_topic_and_what_is_scheduled_in_none(server: ApiServer) -> None:
    helper = FakeHelper()
    server.say(BEN, "/due", CREW_CHAT, message_thread_id=77, is_topic_message=True)
    server.say(BEN, "/due", CREW_CHAT, message_thread_id=78)  # a chain of replies, in a group without topics
    helper.due = [helper.say("crew", "due", kind="reminder")]
    async with open_door(server, helper):
        await helper.until(lambda: len(helper.sent) == 3)
    threads = [(call.params["text"], call.params.get("message_thread_id")) for call in server.of("sendMessage")]
    assert set(threads) == {("due", None), ("heard: what's due", "77"), ("heard: what's due", None)}


async def test_an_answer_whose_topic_was_closed_goes_to_the_group(server: ApiServer) -> None:
    helper = FakeHelper()
    server.closed_topics.add(77)
    helper.answer = lambda chat, text: [helper.say(chat, text, files=(OutFile("summary_picture"),))]
    server.say(BEN, "/due", CREW_CHAT, message_thread_id=77, is_topic_message=True)
    async with open_door(server, helper):
        await helper.until(lambda: 1 in helper.sent)
    assert server.texts(CREW_CHAT) == ["what's due"]


# --- an answer in the place of its question ---


async def test_a_question_that_a_tap_settles_becomes_its_answer(server: ApiServer) -> None:
    helper = FakeHelper()
    helper.answer = lambda chat, text: [
        helper.say(chat, "which?", "did:pad_change:1:x", "did:pad_change:2:x") if text == "pad done"
        else helper.say(chat, "logged", "undo:1:1")
    ]  # fmt: skip
    server.say(BEN, "pad done")
    async with open_door(server, helper):
        await helper.until(lambda: 1 in helper.sent)
        server.tap(BEN, str(helper.sent[1]), "1:did:pad_change:2:x")
        await helper.until(lambda: 2 in helper.sent)
        assert server.texts(BEN) == ["logged"]
        helper.answer = lambda chat, text: [helper.say(chat, "taken back")]
        server.tap(BEN, str(helper.sent[2]), "1:undo:1:1")
        await helper.until(lambda: 3 in helper.sent)
    assert server.texts(BEN) == ["taken back"]
    assert helper.sent[1] == helper.sent[2] == helper.sent[3]


async def test_a_list_with_other_buttons_stays_and_so_does_what_nobody_remembers(server: ApiServer) -> None:
    helper = FakeHelper()
    helper.answer = lambda chat, text: [
        helper.say(chat, "list", "done:pad_change:1", "done:pad_change:2") if text == "/x" or text == "list"
        else helper.say(chat, "logged")
    ]  # fmt: skip
    server.say(BEN, "list")
    async with open_door(server, helper):
        await helper.until(lambda: 1 in helper.sent)
        server.tap(BEN, str(helper.sent[1]), "1:done:pad_change:2")
        server.tap(BEN, f"{BEN}:5", "1:undo:1:1")
        await helper.until(lambda: len(helper.sent) == 3)
    assert server.texts(BEN) == ["list", "logged", "logged"]


async def test_a_question_that_is_gone_is_answered_below(server: ApiServer) -> None:
    helper = FakeHelper()
    helper.answer = lambda chat, text: [helper.say(chat, text, "no")]
    server.say(BEN, "sure?")
    async with open_door(server, helper):
        await helper.until(lambda: 1 in helper.sent)
        ref = str(helper.sent[1])
        server.messages.clear()
        server.tap(BEN, ref, "1:no")
        await helper.until(lambda: 2 in helper.sent)
    assert server.texts(BEN) == ["no"]


# --- long answers ---


def test_a_long_guide_is_cut_between_steps() -> None:
    steps = [f"{n}. " + "press and wait " * 30 + f"\nand look at {n}" for n in range(1, 19)]
    parts = split_text("\n".join(steps))
    assert len(parts) > 1
    assert all(part.split(".")[0].isdigit() for part in parts)
    assert "\n".join(parts) == "\n".join(steps)


@CALM
@given(st.text(st.sampled_from("ab \n1.)"), max_size=3 * TEXT_LIMIT // 2))
def test_nothing_visible_is_lost_in_cutting(text: str) -> None:
    parts = split_text(text)
    assert all(0 < len(part) <= TEXT_LIMIT for part in parts)
    assert "".join("".join(parts).split()) == "".join(text.split())


# --- too fast ---


async def test_who_writes_too_fast_is_told_once_and_a_call_for_help_is_heard_all_the_same(server: ApiServer) -> None:
    helper = FakeHelper()
    for n in range(MOST + 5):
        server.say(BEN, f"note {n}")
    server.say(BEN, "fire")
    server.say(ROSA, "hello")
    server.tap(BEN, f"{BEN}:5", "1:no")
    async with open_door(server, helper) as (door, _, _):
        await helper.until(lambda: len(helper.heard) == MOST + 2 and len(helper.tapped) == 1)
        await server.until(lambda: "tap.too_fast (en)" in server.texts(BEN))
        assert door.health.counters.refusals == 5
    heard = [text for _, _, text, _ in helper.heard]
    assert heard == [*(f"note {n}" for n in range(MOST)), "fire", "hello"]
    assert server.texts(BEN).count("tap.too_fast (en)") == 1


async def test_a_long_queue_after_an_outage_is_no_flood(server: ApiServer) -> None:
    helper = FakeHelper()
    for n in range(MOST * 2):
        message = {**server.message(BEN, text=f"note {n}"), "date": 1_700_000_000 + 60 * n}
        server.push({"message": message})
    async with open_door(server, helper):
        await helper.until(lambda: len(helper.heard) == MOST * 2)


@CALM
@given(st.lists(st.tuples(st.integers(0, 2), st.floats(0, 30)), max_size=300))
def test_no_minute_ever_holds_more_than_the_limit_of_one_person_and_one_word_about_it(
    steps: list[tuple[int, float]],
) -> None:
    pace, now, seen = Pace(most=5), 0.0, list[tuple[int, float, str]]()
    for user, pause in steps:
        now += pause
        seen.append((user, now, pace.of(user, now)))
    for user, at, _ in seen:
        within = [verdict for other, t, verdict in seen if other == user and at <= t < at + WITHIN]
        assert within.count("go") <= 5 and within.count("tell") <= 1


# --- whatever arrives ---

JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3)
    | st.dictionaries(
        st.sampled_from(
            ["message", "callback_query", "from", "chat", "id", "date", "photo", "file_id", "width", "reply_markup",
             "reply_to_message", "inline_keyboard", "callback_data", "message_id", "message_thread_id",
             "is_topic_message"]
        ),
        inner, max_size=6,
    ),
    max_leaves=20,
)  # fmt: skip


@CALM
@given(JSON)
def test_looking_around_never_raises(update: object) -> None:
    around = look_around(update)
    assert around.replied is None or isinstance(around.replied, str)
    assert around.tag is None or len(around.tag) == 3


async def test_odd_updates_leave_the_door_open(server: ApiServer) -> None:
    helper = FakeHelper()
    async with open_door(server, helper) as (door, _, _):
        await helper.until(lambda: bool(helper.ticks))
        for odd in (None, 5, [], {}, {"update_id": "x"}, {"update_id": 1, "message": {"chat": {"id": BEN}}}) * 20:
            await door.attendant.take(odd)
        server.say(BEN, "hi")
        await helper.until(lambda: 1 in helper.sent)
    assert helper.heard == [("ben", "ben", "hi", True)]
