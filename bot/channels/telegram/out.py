"""A message of the helper's as calls of the Bot API: split, laid out, edited where it replaces an older one.

Limits (public Bot API documentation, sendMessage, sendPhoto, InlineKeyboardButton): a text has 1-4096 characters,
a caption at most 1024, what a button carries 1-64 bytes. Entities are measured there in UTF-16 units; whether the
two limits are is not said, so the stricter count is used for them as well.
"""

from __future__ import annotations

import logging
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from telegram import InlineKeyboardButton, InlineKeyboardMarkup
from telegram.error import BadRequest

from bot.channels.telegram.logs import happened
from bot.channels.telegram.wire import button_data
from bot.core.records import OutButton, Outgoing

TEXT_LIMIT = 4096
CAPTION_LIMIT = 1024
"""In UTF-16 units."""

MOST_IN_ROW = 3
ROW_WIDTH = 30
"""Characters of all labels in a row that a small phone shows without cutting any short (tried by eye)."""

_STEP = re.compile(r"\n(?=\n|\d{1,2}[.)]\s)")
"""Where a numbered step or a new paragraph begins."""

_REF = re.compile(r"(-?\d{1,20}):(\d{1,20})")


class EmptyMessageError(ValueError):
    """There is neither a text nor a picture to send."""


@dataclass(frozen=True, slots=True)
class Ref:
    """A message as the server knows it."""

    chat: int
    message: int

    def __str__(self) -> str:
        return f"{self.chat}:{self.message}"


class Sender(Protocol):
    """The calls that sending needs; each gives the number of the message, and raises ``telegram.error`` errors."""

    async def send_text(self, chat: int, text: str, keyboard: InlineKeyboardMarkup | None) -> int: ...

    async def send_photo(
        self, chat: int, picture: bytes, caption: str | None, keyboard: InlineKeyboardMarkup | None
    ) -> int: ...

    async def edit_text(self, chat: int, message: int, text: str, keyboard: InlineKeyboardMarkup | None) -> None: ...


def parse_ref(ref: str | None) -> Ref | None:
    """A reference read back; None for anything that isn't one."""
    match = _REF.fullmatch(ref) if ref is not None else None
    return Ref(int(match[1]), int(match[2])) if match is not None else None


async def deliver(
    sender: Sender, chat: int, out: Outgoing, pictures: Sequence[bytes], shown: Ref | None, tag: str | None = None
) -> Ref:
    """Send one message, or edit the one that it replaces (``shown``), and give the message that shows it now.

    The message given is the one that bears the buttons, each with ``tag`` where a kitchen has to be named. Raises
    ``EmptyMessageError`` where there is nothing to send, and the errors of ``sender``; a message that was already
    sent in part is then sent again as a whole.
    """
    texts = split_text(out.text)
    if not texts and not pictures:
        raise EmptyMessageError
    keyboard = layout(out.buttons, tag)
    fits = len(texts) == 1 and not pictures
    if out.edit and shown is not None and fits and await _edited(sender, shown, texts[0], keyboard):
        return shown
    captioned = len(pictures) == 1 and len(texts) <= 1 and utf16_units(out.text) <= CAPTION_LIMIT
    if captioned:
        return Ref(chat, await sender.send_photo(chat, pictures[0], texts[0] if texts else None, keyboard))
    message = 0
    for place, picture in enumerate(pictures, 1):
        last = place == len(pictures) and not texts
        message = await sender.send_photo(chat, picture, None, keyboard if last else None)
    for place, text in enumerate(texts, 1):
        message = await sender.send_text(chat, text, keyboard if place == len(texts) else None)
    return Ref(chat, message)


async def _edited(sender: Sender, shown: Ref, text: str, keyboard: InlineKeyboardMarkup | None) -> bool:
    try:
        await sender.edit_text(shown.chat, shown.message, text, keyboard)
    except BadRequest as error:
        # Any other refusal means that this message can't be made to show the text: it is gone, too old, or a
        # picture. If it is the text or the chat that is wrong, a new message is refused as well, and that counts.
        return "not modified" in error.message.lower()
    return True


def utf16_units(text: str) -> int:
    """The length of a text in UTF-16 units; a character beyond the basic plane (most emoji) counts two."""
    return len(text.encode("utf-16-le", "surrogatepass")) // 2


def split_text(text: str) -> list[str]:
    """``text`` in parts of at most 4096 units, cut before a step or a paragraph; or else at a line's end.

    At a space or anywhere it is cut only in an endless line, and before a step only if a part isn't mostly empty then.

    Parts begin and end with something visible; a text without anything visible has no parts.
    """
    parts: list[str] = []
    rest = _sound(text).strip()
    while rest:
        cut = _fitting(rest)
        if cut < len(rest):
            steps = (match.start() for match in _STEP.finditer(rest, cut // 2, cut + 1))
            ends = (max(steps, default=0), rest.rfind("\n", 0, cut + 1), rest.rfind(" ", 0, cut + 1))
            cut = next((at for at in ends if at > 0), cut)
        parts.append(rest[:cut].rstrip())
        rest = rest[cut:].lstrip()
    return parts


def layout(buttons: Sequence[OutButton], tag: str | None = None) -> InlineKeyboardMarkup | None:
    """Buttons in rows: up to three short labels side by side, a long one alone. None where there are none.

    They name the kitchen whose ``tag`` is given.

    A button without a label, or that could not be read back, is left out: the server would refuse the message.
    """
    rows: list[list[InlineKeyboardButton]] = []
    width = 0
    for button in buttons:
        label, data = _sound(button.label).strip(), _data(button, tag)
        if not label or data is None:
            happened("button_left_out", level=logging.ERROR)
            continue
        share = max(len(label), ROW_WIDTH // MOST_IN_ROW)
        if rows and len(rows[-1]) < MOST_IN_ROW and width + share <= ROW_WIDTH:
            rows[-1].append(InlineKeyboardButton(label, callback_data=data))
            width += share
        else:
            rows.append([InlineKeyboardButton(label, callback_data=data)])
            width = share
    return InlineKeyboardMarkup(rows) if rows else None


def _data(button: OutButton, tag: str | None) -> str | None:
    try:
        return button_data(button.action, tag)
    except ValueError:
        return None


def _sound(text: str) -> str:
    """The text without half characters, which no wire carries."""
    return text.encode("utf-16-le", "surrogatepass").decode("utf-16-le", "replace")


def _fitting(text: str) -> int:
    """How many characters of the text fit into one message."""
    if utf16_units(text) <= TEXT_LIMIT:
        return len(text)
    fitting = text.encode("utf-16-le")[: TEXT_LIMIT * 2]
    return len(fitting.decode("utf-16-le", "ignore"))
