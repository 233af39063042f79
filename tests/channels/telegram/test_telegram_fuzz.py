"""Whatever comes over the wire: reading never raises, and only what is well-formed and ours ever acts."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest
from api_server import ApiServer
from hypothesis import given, strategies as st
from telegram_kit import BEN, CALM, CREW_CHAT, ROSA, STRANGER, FakeHelper
from test_telegram_wire import BOOK, COMMANDS, ME

from bot.channels.telegram import wire
from bot.channels.telegram.out import layout, parse_ref
from bot.core.actions import action
from bot.core.records import OutButton

API = ApiServer()
KNOWN = {BEN, ROSA, 1004}
PARTS = st.from_regex(r"[A-Za-z0-9_.|+-]{1,12}", fullmatch=True)

JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(st.characters()),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=12), inner, max_size=6),
    max_leaves=12,
)


def valid_updates() -> list[dict[str, Any]]:
    tap = {
        "id": "q", "from": {"id": BEN, "is_bot": False},
        "message": {"message_id": 3, "chat": {"id": BEN, "type": "private"}}, "data": "1:done:pad_change:2",
    }  # fmt: skip
    return [
        {"update_id": 9, "message": API.message(BEN, text="/due fryer 2")},
        {"update_id": 9, "message": API.message(BEN, CREW_CHAT, text="pad done")},
        {"update_id": 9, "message": API.message(BEN, voice={"file_id": "v"})},
        {"update_id": 9, "callback_query": tap},
    ]


@st.composite
def damaged_updates(draw: st.DrawFn) -> object:
    """A valid update in which a few values, anywhere, were replaced or left out."""
    update = deepcopy(draw(st.sampled_from(valid_updates())))
    for _ in range(draw(st.integers(1, 3))):
        place: Any = update
        while True:
            key = draw(st.sampled_from(sorted(place)))
            if not isinstance(place[key], dict) or not place[key] or draw(st.booleans()):
                break
            place = place[key]
        if draw(st.booleans()):
            place[key] = draw(JSON)
        else:
            del place[key]
        if not update:
            break
    return update


@CALM
@given(JSON | damaged_updates())
def test_reading_never_raises_and_nobody_unknown_ever_acts(update: object) -> None:
    event = wire.read(update, ME, BOOK, COMMANDS)
    wire.update_id(update)
    if isinstance(event, wire.Words | wire.Voice | wire.Tap | wire.Arrival):
        assert isinstance(update, dict)
        (body,) = (update[kind] for kind in wire.KINDS if update.get(kind) is not None)
        assert body["from"]["id"] in KNOWN
        assert event.cause == f"tg:{update['update_id']}"


@CALM
@given(st.text(st.characters()) | st.binary().map(lambda b: b.decode("latin-1")) | JSON)
def test_no_odd_data_is_an_action(data: object) -> None:
    read = wire.button_action(data)
    if read is not None:
        assert data == wire.VERSION + read
        assert 1 <= len(data.encode()) <= 64
        assert wire.button_data(read) == data


@CALM
@given(st.from_regex(r"[a-z]{1,8}", fullmatch=True), st.lists(PARTS | st.none() | st.integers(0, 10**6), max_size=3))
def test_every_action_of_the_core_comes_back_as_it_was_within_64_bytes(verb: str, args: list[str | int | None]) -> None:
    written = action(verb, *args)
    data = wire.button_data(written)
    assert len(data.encode()) <= 64
    assert wire.button_action(data) == written


@CALM
@given(st.text(max_size=80), st.text(max_size=80) | PARTS.map(str.lower))
def test_a_button_that_can_not_be_carried_is_left_out_and_never_raises(label: str, carried: str) -> None:
    keyboard = layout([OutButton(label, carried)])
    if keyboard is not None:
        ((button,),) = keyboard.inline_keyboard
        assert wire.button_action(button.callback_data) == carried
        assert button.text.strip()


@CALM
@given(st.text())
def test_reading_a_reference_never_raises(text: str) -> None:
    read = parse_ref(text)
    assert read is None or parse_ref(str(read)) == read


def test_the_shapes_that_the_fuzzing_starts_from_do_act() -> None:
    kinds = [type(wire.read(update, ME, BOOK, COMMANDS)) for update in valid_updates()]
    assert kinds == [wire.Words, wire.Words, wire.Voice, wire.Tap]


@pytest.mark.parametrize("chat", [BEN, CREW_CHAT])
def test_a_stranger_never_acts_whatever_the_chat(chat: int) -> None:
    helper = FakeHelper()
    assert BOOK.place(STRANGER, chat, private=chat > 0) is None
    assert helper.heard == []
