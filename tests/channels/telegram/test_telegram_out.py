"""How a message of the helper's becomes calls of the Bot API."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest
from hypothesis import example, given, strategies as st
from telegram import InlineKeyboardMarkup
from telegram.error import BadRequest, Forbidden
from telegram_kit import BEN, CALM, EVENING, PICTURE

from bot.channels.telegram.out import (
    CAPTION_LIMIT,
    TEXT_LIMIT,
    EmptyMessageError,
    Ref,
    deliver,
    layout,
    parse_ref,
    split_text,
    utf16_units,
)
from bot.core.records import OutButton, Outgoing

OLD = Ref(BEN, 7)


class Wire:
    """Takes every call down and refuses edits as told."""

    def __init__(self, edit_refusal: Exception | None = None) -> None:
        self.calls: list[tuple[Any, ...]] = []
        self._edit_refusal = edit_refusal

    async def send_text(self, chat: int, text: str, keyboard: InlineKeyboardMarkup | None) -> int:
        self.calls.append(("text", text, labels(keyboard)))
        return 100 + len(self.calls)

    async def send_photo(
        self, chat: int, picture: bytes, caption: str | None, keyboard: InlineKeyboardMarkup | None
    ) -> int:
        self.calls.append(("photo", caption, labels(keyboard)))
        return 100 + len(self.calls)

    async def edit_text(self, chat: int, message: int, text: str, keyboard: InlineKeyboardMarkup | None) -> None:
        self.calls.append(("edit", message, text, labels(keyboard)))
        if self._edit_refusal is not None:
            raise self._edit_refusal


def labels(keyboard: InlineKeyboardMarkup | None) -> list[list[str]]:
    return [] if keyboard is None else [[button.text for button in row] for row in keyboard.inline_keyboard]


def message(text: str, *buttons: str, edit: bool = False) -> Outgoing:
    return Outgoing(1, EVENING, "ben", "reply", text, tuple(OutButton(b, "no") for b in buttons), "k", edit)


async def delivered(wire: Wire, out: Outgoing, pictures: Sequence[bytes] = (), shown: Ref | None = None) -> Ref:
    return await deliver(wire, BEN, out, pictures, shown)


# --- splitting ---


def test_units_are_counted_as_utf_16_does() -> None:
    """The Unicode Standard, chapter 3.9 (UTF-16): U+1F525 takes two units, U+00E9 one."""
    assert (utf16_units("é"), utf16_units("\U0001f525"), utf16_units("")) == (1, 2, 0)


def test_a_text_that_fits_is_one_part() -> None:
    assert split_text("a" * TEXT_LIMIT) == ["a" * TEXT_LIMIT]


def test_a_long_text_is_cut_at_a_line_end() -> None:
    first, second = "a" * 4000 + "\n" + "b" * 50, "c" * 100
    assert split_text(f"{first}\n{second}") == [first, second]


def test_emoji_count_double() -> None:
    parts = split_text("\U0001f525" * 3000)
    assert [utf16_units(part) for part in parts] == [TEXT_LIMIT, 6000 - TEXT_LIMIT]


def test_an_endless_line_is_cut_at_a_space_and_an_endless_word_anywhere() -> None:
    assert split_text("a" * 4000 + " " + "b" * 200) == ["a" * 4000, "b" * 200]
    assert split_text("a" * 5000) == ["a" * TEXT_LIMIT, "a" * (5000 - TEXT_LIMIT)]


LONG = st.text(st.sampled_from("ab \n\U0001f525é"), max_size=40).map(lambda text: text * 300)


@CALM
@given(LONG | st.text(st.characters()))
@example("\U0001f525" * 2048 + "\n")
@example(" \n ")
def test_no_part_is_too_long_or_blank_and_nothing_visible_is_lost(text: str) -> None:
    parts = split_text(text)
    assert all(part.strip() and utf16_units(part) <= TEXT_LIMIT for part in parts)
    sound = text.encode("utf-16-le", "surrogatepass").decode("utf-16-le", "replace")
    assert "".join("".join(parts).split()) == "".join(sound.split())


# --- buttons ---


def test_short_labels_stand_three_in_a_row() -> None:
    assert labels(layout([OutButton(x, "no") for x in "12345"])) == [["1", "2", "3"], ["4", "5"]]


def test_a_long_label_stands_alone() -> None:
    buttons = [OutButton(label, "no") for label in ("Yes", "Remind me later tonight, please", "No")]
    assert labels(layout(buttons)) == [["Yes"], ["Remind me later tonight, please"], ["No"]]


@CALM
@given(st.lists(st.text(st.sampled_from("ab c"), min_size=1, max_size=40).filter(str.strip), max_size=12))
def test_rows_keep_the_order_and_never_hold_more_than_three(texts: list[str]) -> None:
    rows = labels(layout([OutButton(text, "no") for text in texts]))
    assert [label for row in rows for label in row] == [text.strip() for text in texts]
    assert all(1 <= len(row) <= 3 for row in rows)


def test_no_buttons_are_no_keyboard() -> None:
    assert layout([]) is None


# --- sending and editing ---


async def test_the_buttons_and_the_reference_belong_to_the_last_part() -> None:
    wire = Wire()
    ref = await delivered(wire, message("a" * 4000 + "\n" + "b" * 200, "Yes"))
    assert [(kind, keys) for kind, _, keys in wire.calls] == [("text", []), ("text", [["Yes"]])]
    assert ref == Ref(BEN, 102)


async def test_an_edit_keeps_the_message() -> None:
    wire = Wire()
    assert await delivered(wire, message("new", "Yes", edit=True), shown=OLD) == OLD
    assert wire.calls == [("edit", 7, "new", [["Yes"]])]


async def test_an_edit_without_a_message_to_edit_is_a_new_message() -> None:
    wire = Wire()
    assert await delivered(wire, message("new", edit=True)) == Ref(BEN, 101)


async def test_an_edit_that_changes_nothing_has_succeeded() -> None:
    wire = Wire(BadRequest("Message is not modified: specified new message content is the same"))
    assert await delivered(wire, message("same", edit=True), shown=OLD) == OLD


@pytest.mark.parametrize(
    "refusal", ["Message to edit not found", "Message can't be edited", "There is no text in the message to edit"]
)
async def test_a_message_that_can_not_be_edited_is_sent_anew(refusal: str) -> None:
    wire = Wire(BadRequest(refusal))
    assert await delivered(wire, message("new", edit=True), shown=OLD) == Ref(BEN, 102)
    assert wire.calls[-1] == ("text", "new", [])


async def test_an_edit_too_long_for_one_message_is_sent_anew() -> None:
    wire = Wire()
    await delivered(wire, message("a\n" * 3000, edit=True), shown=OLD)
    assert [call[0] for call in wire.calls] == ["text", "text"]


async def test_being_blocked_is_not_a_reason_to_send_anew() -> None:
    wire = Wire(Forbidden("bot was blocked by the user"))
    with pytest.raises(Forbidden):
        await delivered(wire, message("new", edit=True), shown=OLD)
    assert len(wire.calls) == 1


async def test_a_short_text_is_the_pictures_caption() -> None:
    wire = Wire()
    await delivered(wire, message("c" * CAPTION_LIMIT, "Yes"), [PICTURE])
    assert wire.calls == [("photo", "c" * CAPTION_LIMIT, [["Yes"]])]


async def test_a_longer_text_follows_the_picture() -> None:
    wire = Wire()
    await delivered(wire, message("c" * (CAPTION_LIMIT + 1), "Yes"), [PICTURE])
    assert [(call[0], call[2]) for call in wire.calls] == [("photo", []), ("text", [["Yes"]])]


async def test_several_pictures_come_before_the_text() -> None:
    wire = Wire()
    await delivered(wire, message("see"), [PICTURE, PICTURE])
    assert wire.calls == [("photo", None, []), ("photo", None, []), ("text", "see", [])]


async def test_a_picture_needs_no_text() -> None:
    wire = Wire()
    await delivered(wire, message("", "Yes"), [PICTURE])
    assert wire.calls == [("photo", None, [["Yes"]])]


async def test_a_message_without_anything_is_not_sent() -> None:
    wire = Wire()
    with pytest.raises(EmptyMessageError):
        await delivered(wire, message(" \n"))
    assert wire.calls == []


def test_a_reference_reads_back() -> None:
    assert parse_ref(str(Ref(-1001, 5))) == Ref(-1001, 5)


@pytest.mark.parametrize("text", [None, "", "5", "a:b", "1:2:3", "1:-2", ":", "١:٢x"])
def test_anything_else_is_no_reference(text: str | None) -> None:
    assert parse_ref(text) is None
