"""What an update of the Bot API means: pure reading, whatever arrives, and nothing is done about it here.

Only the few fields that matter are looked at, and an update that isn't as documented is ``Nothing``. Reading never
raises. (Source of the fields: the public Bot API's documentation, types Update, Message, CallbackQuery.)
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import msgspec
from msgspec import Struct

from bot.channels.port import Helper, Thing
from bot.channels.telegram.addresses import AddressBook, Place
from bot.channels.telegram.commands import GREETING, Command, read_command
from bot.core.actions import LONGEST
from intents.types import Language

KINDS = ("message", "callback_query")
"""The kinds of update that are asked for; edited messages, for one, never change what was logged."""

VERSION = "1:"
"""Stands before the action of every button, so that a later version can tell its own buttons from these."""

_ACTION = re.compile(r"[a-z][a-z_]*(?::[^:\s\x00-\x1f\x7f]+)*")
_LONE_SURROGATE = re.compile(r"[\ud800-\udfff]")
_GROUPS = ("group", "supergroup")

_THINGS: tuple[tuple[str, Thing], ...] = (
    ("photo", "photo"), ("voice", "voice"), ("sticker", "sticker"), ("location", "location"),
    ("animation", "file"), ("audio", "file"), ("contact", "file"), ("dice", "file"), ("document", "file"),
    ("poll", "file"), ("story", "file"), ("video", "file"), ("video_note", "file"),
)  # fmt: skip


class _User(Struct):
    id: int
    is_bot: bool = False
    language_code: str | None = None
    username: str | None = None


class _Chat(Struct):
    id: int
    type: str


class _Quoted(Struct, rename={"sender": "from"}):
    sender: _User | None = None


class _Message(Struct, rename={"sender": "from"}):
    chat: _Chat
    sender: _User | None = None
    text: str | None = None
    caption: str | None = None
    reply_to_message: _Quoted | None = None
    migrate_to_chat_id: int | None = None


class _ButtonMessage(Struct):
    chat: _Chat


class _Query(Struct, rename={"sender": "from"}):
    id: str
    sender: _User
    message: _ButtonMessage | None = None
    data: Any = None


class _Update(Struct):
    update_id: int
    message: _Message | None = None
    callback_query: _Query | None = None


@dataclass(frozen=True, slots=True)
class Me:
    """The bot itself, as the server calls it."""

    id: int
    username: str


@dataclass(frozen=True, slots=True)
class Words:
    """Somebody of a kitchen said something."""

    place: Place
    text: str
    addressed: bool
    cause: str


@dataclass(frozen=True, slots=True)
class Tap:
    """Somebody of a kitchen pressed a button."""

    place: Place
    action: str
    query: str
    cause: str


@dataclass(frozen=True, slots=True)
class Arrival:
    """Somebody of a kitchen sent something that is neither words nor a tap."""

    place: Place
    what: Thing
    cause: str


@dataclass(frozen=True, slots=True)
class StaleTap:
    """A button that no longer means anything; its presser is told so politely."""

    helper: Helper
    language: Language
    query: str


@dataclass(frozen=True, slots=True)
class StrangeTap:
    """Somebody pressed a button that isn't theirs to press; nothing is said."""

    query: str


@dataclass(frozen=True, slots=True)
class Stranger:
    """Somebody whom no kitchen knows wrote in private."""

    user: int
    language: Language


@dataclass(frozen=True, slots=True)
class GroupMoved:
    """A group became a supergroup, under another number."""

    old: int
    new: int


@dataclass(frozen=True, slots=True)
class Nothing:
    """Nothing to be done."""


Event = Words | Tap | Arrival | StaleTap | StrangeTap | Stranger | GroupMoved | Nothing


def update_id(raw: object) -> int | None:
    """The number of an update, however odd the rest of it is."""
    number = raw.get("update_id") if isinstance(raw, dict) else None
    return number if isinstance(number, int) and not isinstance(number, bool) else None


def read(raw: object, me: Me, book: AddressBook, commands: Mapping[str, Command]) -> Event:
    """What one update means."""
    try:
        update = msgspec.convert(raw, _Update)
    except (msgspec.ValidationError, RecursionError):
        return Nothing()
    cause = f"tg:{update.update_id}"
    if update.callback_query is not None:
        return _query(update.callback_query, book, cause)
    if update.message is None or not isinstance(raw, dict):
        return Nothing()
    return _message(update.message, raw["message"], me, book, commands, cause)


def button_data(action: str) -> str:
    """What a button carries for an action. Raises ``ValueError`` for one that wouldn't be read back."""
    data = VERSION + action
    if button_action(data) != action:
        raise ValueError("no button can carry this action")
    return data


def button_action(data: object) -> str | None:
    """The action that a button carried; None for another version's, or anything malformed."""
    if not isinstance(data, str) or not data.startswith(VERSION) or _LONE_SURROGATE.search(data):
        return None
    action = data.removeprefix(VERSION)
    if len(action.encode()) > LONGEST or _ACTION.fullmatch(action) is None:
        return None
    return action


def _query(query: _Query, book: AddressBook, cause: str) -> Event:
    message = query.message
    if message is None or query.sender.is_bot:
        return StrangeTap(query.id)
    place = book.place(query.sender.id, message.chat.id, private=message.chat.type == "private")
    if place is None:
        return StrangeTap(query.id)
    action = button_action(query.data)
    if action is None:
        return StaleTap(place.helper, _language_of(place), query.id)
    return Tap(place, action, query.id, cause)


def _message(
    message: _Message,
    raw: Mapping[str, object],
    me: Me,
    book: AddressBook,
    commands: Mapping[str, Command],
    cause: str,
) -> Event:
    if message.migrate_to_chat_id is not None:
        return GroupMoved(message.chat.id, message.migrate_to_chat_id)
    sender, private = message.sender, message.chat.type == "private"
    if sender is None or sender.is_bot or not (private or message.chat.type in _GROUPS):
        return Nothing()
    place = book.place(sender.id, message.chat.id, private=private)
    if place is None:
        return Stranger(sender.id, _spoken_by(sender)) if private and message.chat.id == sender.id else Nothing()
    quoted = message.reply_to_message
    for_us = private or (quoted is not None and quoted.sender is not None and quoted.sender.id == me.id)
    # What somebody writes under a picture is heard like any words: it may be a cry for help.
    text = message.text if message.text is not None else message.caption
    if text is not None and text.strip():
        return _words(place, _LONE_SURROGATE.sub("\ufffd", text), me, commands, cause, for_us)
    for field, what in _THINGS:
        if raw.get(field) is not None:
            return Arrival(place, what, cause) if for_us else Nothing()
    return Nothing()


def _words(
    place: Place,
    text: str,
    me: Me,
    commands: Mapping[str, Command],
    cause: str,
    for_us: bool,
) -> Event:
    written = read_command(text)
    if written is not None:
        if written.bot is not None and written.bot != me.username.lower():
            return Nothing()
        command = commands.get(written.name)
        if command is not None:
            return Words(place, command.said(written.rest, _language_of(place)), True, cause)
        # Not a command of ours, but perhaps words of ours: "/fire" must never fall on deaf ears.
        said = f"{written.name.replace('_', ' ')} {written.rest}".strip()
        return Words(place, said, for_us or written.bot is not None, cause)
    mention = re.compile(rf"(?<!\w)@{re.escape(me.username)}(?!\w)", re.IGNORECASE)
    if me.username and mention.search(text):
        rest = mention.sub(" ", text).strip()
        return Words(place, rest or commands[GREETING].said("", _language_of(place)), True, cause)
    return Words(place, text, for_us, cause)


def _language_of(place: Place) -> Language:
    person = place.helper.kitchen.person(place.sender)
    return person.language if person is not None else place.helper.kitchen.language


def _spoken_by(user: _User) -> Language:
    return "es" if (user.language_code or "").lower().startswith("es") else "en"
