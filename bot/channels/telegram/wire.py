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
from bot.channels.telegram.addresses import TAG_LENGTH, AddressBook, Place, tag_of
from bot.channels.telegram.commands import GREETING, Command, read_command
from bot.content.languages import ENGLISH, LANGUAGES
from bot.core.actions import LONGEST
from bot.core.invites import FRYER, JOIN
from bot.core.messages import CREW
from bot.voice.heard import Heard
from intents.types import Language

KINDS = ("message", "callback_query")
"""The kinds of update that are asked for; edited messages, for one, never change what was logged."""

VERSION = "1:"
"""Stands before the action of every button, so that a later version can tell its own buttons from these."""

TAGGED = "2"
"""Begins a button for somebody of several kitchens; the kitchen's tag follows, then the action."""

CHOOSE = "kitchen"
"""The action of a button that says which kitchen is meant."""

COMING = "join:"
"""How the action of a button begins that is for those who come in."""

CREW_HERE = "crew"
"""The command that makes a group the crew's chat, where it is sent in one."""

_ACTION = re.compile(r"[a-z][a-z_]*(?::[^:\s\x00-\x1f\x7f]+)*")
_TAG = re.compile(rf"{TAGGED}([A-Za-z0-9_-]{{{TAG_LENGTH}}})")
_LONE_SURROGATE = re.compile(r"[\ud800-\udfff]")
_GROUPS = ("group", "supergroup")

_THINGS: tuple[tuple[str, Thing], ...] = (
    ("photo", "photo"), ("sticker", "sticker"), ("location", "location"),
    ("animation", "file"), ("contact", "file"), ("dice", "file"), ("document", "file"),
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
class Voice:
    """Somebody of a kitchen sent a sound."""

    place: Place
    addressed: bool
    cause: str


@dataclass(frozen=True, slots=True)
class Spoken:
    """What was heard in somebody's voice note."""

    place: Place
    heard: Heard
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
class KitchenChosen:
    """Somebody of several kitchens said by a button which of them is meant."""

    place: Place
    query: str


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
    """Somebody whom no kitchen knows wrote in private; ``text`` is empty where it was no words."""

    user: int
    language: Language
    text: str = ""
    cause: str = ""


@dataclass(frozen=True, slots=True)
class Started:
    """Somebody came into their private chat by a link that carried ``value``; ``place`` where a kitchen knows them."""

    user: int
    value: str
    language: Language
    place: Place | None
    cause: str


@dataclass(frozen=True, slots=True)
class Answered:
    """Somebody pressed a button that is for those who come in, known or not."""

    user: int
    action: str
    query: str
    cause: str


@dataclass(frozen=True, slots=True)
class GroupOffered:
    """Somebody of a kitchen asked, in a group that is no crew chat of theirs, that it become one."""

    user: int
    group: int
    cause: str


@dataclass(frozen=True, slots=True)
class GroupMoved:
    """A group became a supergroup, under another number."""

    old: int
    new: int


@dataclass(frozen=True, slots=True)
class Nothing:
    """Nothing to be done."""


Event = (
    Words | Voice | Spoken | Tap | KitchenChosen | Arrival | StaleTap | StrangeTap | Stranger | Started | Answered
    | GroupOffered | GroupMoved | Nothing
)  # fmt: skip


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


def button_data(action: str, tag: str | None = None) -> str:
    """What a button carries for an action, and for a kitchen where ``tag`` names one.

    Raises ``ValueError`` for what wouldn't be read back.
    """
    data = VERSION + action if tag is None else TAGGED + tag + action
    if button_action(data) != action or button_tag(data) != tag:
        raise ValueError("no button can carry this action")
    return data


def button_action(data: object) -> str | None:
    """The action that a button carried; None for another version's, or anything malformed."""
    if not isinstance(data, str) or _LONE_SURROGATE.search(data):
        return None
    if button_tag(data) is not None:
        action = data[len(TAGGED) + TAG_LENGTH :]
    elif data.startswith(VERSION):
        action = data.removeprefix(VERSION)
    else:
        return None
    if len(action.encode()) > LONGEST or _ACTION.fullmatch(action) is None:
        return None
    return action


def button_tag(data: object) -> str | None:
    """The tag of the kitchen that a button names; None where it names none."""
    match = _TAG.match(data) if isinstance(data, str) else None
    return match[1] if match is not None else None


def _query(query: _Query, book: AddressBook, cause: str) -> Event:
    message = query.message
    if message is None or query.sender.is_bot:
        return StrangeTap(query.id)
    coming = button_action(query.data)
    if coming is not None and coming.startswith(COMING) and message.chat.id == query.sender.id:
        return Answered(query.sender.id, coming, query.id, cause)
    place = book.place(query.sender.id, message.chat.id, private=message.chat.type == "private")
    if place is None:
        return StrangeTap(query.id)
    action, tag = button_action(query.data), button_tag(query.data)
    if place.chat != CREW:
        theirs = book.private_places(query.sender.id)
        meant = [p for p in theirs if tag_of(p.helper) == tag] if tag is not None or len(theirs) > 1 else [place]
        if not meant:
            return StaleTap(place.helper, _language_of(place), query.id)
        place = meant[0]
    if action is None or (place.chat == CREW and tag is not None):
        return StaleTap(place.helper, _language_of(place), query.id)
    return KitchenChosen(place, query.id) if action == CHOOSE else Tap(place, action, query.id, cause)


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
    written = read_command(message.text or "")
    if written is not None and written.bot in (None, me.username.lower()):
        by_link = written.name == GREETING and written.rest.startswith((JOIN, FRYER))
        if by_link and private and message.chat.id == sender.id:
            return _started(written.rest, sender, place, cause)
        if place is None and not private and written.name == CREW_HERE and book.private_places(sender.id):
            return GroupOffered(sender.id, message.chat.id, cause)
    if place is None:
        if not private or message.chat.id != sender.id:
            return Nothing()
        said = _LONE_SURROGATE.sub("\ufffd", message.text or "")
        return Stranger(sender.id, _spoken_by(sender), said, cause)
    quoted = message.reply_to_message
    for_us = private or (quoted is not None and quoted.sender is not None and quoted.sender.id == me.id)
    # What somebody writes under a picture is heard like any words: it may be a cry for help.
    text = message.text if message.text is not None else message.caption
    if text is not None and text.strip():
        return _words(place, _LONE_SURROGATE.sub("\ufffd", text), me, commands, cause, for_us)
    if raw.get("voice") is not None or (for_us and raw.get("audio") is not None):
        # Talk in the crew's chat is listened to as it is read: somebody may be crying for help.
        return Voice(place, for_us, cause)
    for field, what in _THINGS:
        if raw.get(field) is not None:
            return Arrival(place, what, cause) if for_us else Nothing()
    return Nothing()


def _started(value: str, sender: _User, place: Place | None, cause: str) -> Event:
    """Who comes by a link; one from a fryer's sticker opens that fryer's card, for those whom a kitchen knows."""
    if place is not None and value.startswith(FRYER):
        return Words(place, f"/fryer {value.removeprefix(FRYER)}", True, cause)
    return Started(sender.id, value, _spoken_by(sender), place, cause)


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
            rest = command.meant(written.rest)
            return Words(place, command.said(rest, _language_of(place)), True, cause)
        # Not a command of ours, but perhaps words of ours: "/fire" must never fall on deaf ears.
        said = f"{written.name.replace('_', ' ')} {written.rest}".strip()
        return Words(place, said, for_us or written.bot is not None, cause)
    mention = re.compile(rf"(?<!\w)@{re.escape(me.username)}(?!\w)", re.IGNORECASE)
    if me.username and mention.search(text):
        rest = mention.sub(" ", text).strip()
        return Words(place, rest or commands[GREETING].said("", _language_of(place)), True, cause)
    if for_us:
        begun = ((command, command.begun(text)) for command in commands.values())
        asked = next((c.said(c.meant(rest), _language_of(place)) for c, rest in begun if rest is not None), text)
        return Words(place, asked, True, cause)
    return Words(place, text, False, cause)


def _language_of(place: Place) -> Language:
    person = place.helper.kitchen.person(place.sender)
    return person.language if person is not None else place.helper.kitchen.language


def _spoken_by(user: _User) -> Language:
    # "es-MX" is Spanish; of what isn't spoken here, English is.
    theirs = (user.language_code or "").lower().partition("-")[0]
    return theirs if theirs in LANGUAGES else ENGLISH
