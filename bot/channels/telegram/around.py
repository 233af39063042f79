"""What stands around an update's event: where and when it was sent, and what it answers.

Pure reading, field by field, of whatever arrives; what isn't as documented is left out, and reading never raises.
(Source of the fields: the public Bot API's documentation, types Message, CallbackQuery, PhotoSize.)
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from bot.channels.telegram import wire

LARGEST_PHOTO = 10 * 1024 * 1024
"""Bytes of a photo that the helper takes."""


@dataclass(frozen=True, slots=True)
class SoundFile:
    """A sound on the server: its name there, and how long and big it is said to be."""

    name: str
    seconds: int | None
    size: int | None


@dataclass(frozen=True, slots=True)
class Around:
    """Where an update comes from, as far as it says so."""

    user: int | None = None
    chat: int | None = None
    sent_at: int | None = None
    """Unix time of the message; None for a tap, whose time nobody tells."""
    thread: int | None = None
    """The topic of a group that has topics."""
    tapped: int | None = None
    """The number of the message whose button was pressed."""
    quoted: tuple[str, ...] = ()
    """What the buttons of the message carry that this one answers."""
    photo: str | None = None
    """The server's name of the largest photo that isn't too large."""
    sound: SoundFile | None = None
    """A voice note, or a piece of audio."""

    @property
    def replied(self) -> str | None:
        """The action of a button of the message that this one answers; one that takes a record back names it best."""
        actions = [action for data in self.quoted if (action := wire.button_action(data)) is not None]
        return next((action for action in actions if action.startswith("undo:")), next(iter(actions), None))

    @property
    def tag(self) -> str | None:
        """The tag of the kitchen whose message this one answers."""
        return next((tag for data in self.quoted if (tag := wire.button_tag(data)) is not None), None)


def look_around(raw: object) -> Around:
    """What one update says of itself."""
    update = _dict(raw)
    query = _dict(update.get("callback_query"))
    if query:
        message = _dict(query.get("message"))
        return Around(
            user=_number(_dict(query.get("from")).get("id")),
            chat=_number(_dict(message.get("chat")).get("id")),
            thread=_thread(message),
            tapped=_number(message.get("message_id")),
        )
    message = _dict(update.get("message"))
    return Around(
        user=_number(_dict(message.get("from")).get("id")),
        chat=_number(_dict(message.get("chat")).get("id")),
        sent_at=_number(message.get("date")),
        thread=_thread(message),
        quoted=tuple(_carried(_dict(message.get("reply_to_message")))),
        photo=_photo(message.get("photo")),
        sound=_sound(message.get("voice")) or _sound(message.get("audio")),
    )


def _thread(message: dict[str, Any]) -> int | None:
    # A reply in a group without topics has a thread number too, which nothing may be sent to.
    return _number(message.get("message_thread_id")) if message.get("is_topic_message") is True else None


def _carried(quoted: dict[str, Any]) -> Iterator[str]:
    for row in _list(_dict(quoted.get("reply_markup")).get("inline_keyboard")):
        for button in _list(row):
            data = _dict(button).get("callback_data")
            if isinstance(data, str):
                yield data


def _photo(sizes: object) -> str | None:
    best: tuple[int, str] | None = None
    for size in map(_dict, _list(sizes)):
        name, pixels = size.get("file_id"), (_number(size.get("width")) or 0) * (_number(size.get("height")) or 0)
        if not isinstance(name, str) or (_number(size.get("file_size")) or 0) > LARGEST_PHOTO:
            continue
        if best is None or pixels > best[0]:
            best = pixels, name
    return best[1] if best is not None else None


def _sound(value: object) -> SoundFile | None:
    sound = _dict(value)
    name = sound.get("file_id")
    if not isinstance(name, str):
        return None
    return SoundFile(name, _number(sound.get("duration")), _number(sound.get("file_size")))


def _dict(value: object) -> dict[str, Any]:
    return value if isinstance(value, dict) else {}


def _list(value: object) -> list[Any]:
    return value if isinstance(value, list) else []


def _number(value: object) -> int | None:
    return value if isinstance(value, int) and not isinstance(value, bool) else None
