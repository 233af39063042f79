"""What comes in and what goes out: frozen values that can be compared with ``==``.

A reply is an id and parameters, never a sentence: the wording files turn it into words in the reader's
language. Parameters may be numbers, names, times (aware ``datetime``), dates, lengths (``timedelta``), further
``Words``, or a tuple of any of these (a list for the reader).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Literal

from bot.core.records import Change
from intents.types import Language, Understood

CREW = "crew"
"""The chat of the whole crew; every other chat is private and bears the id of its person."""

Kind = Literal["reply", "reminder", "escalation", "catch_up", "countdown", "summary", "alert"]


@dataclass(frozen=True, slots=True)
class Said:
    """A person wrote or spoke; ``spoken`` where the words come from a voice note."""

    sender: str
    chat: str
    understood: Understood
    spoken: bool = False
    addressed: bool = True
    """False for talk in the crew chat that is not plainly meant for the helper."""
    danger: str | None = None
    """The dangerous act that the words announce or ask about, by its id in the content."""


@dataclass(frozen=True, slots=True)
class Tapped:
    """A person pressed a button; ``action`` is what that button carried."""

    sender: str
    chat: str
    action: str


@dataclass(frozen=True, slots=True)
class Sent:
    """A person sent something that is neither words nor a tap."""

    sender: str
    chat: str
    what: Literal["photo", "voice", "sticker", "location", "file"]
    entry: int | None = None
    """The record that a photo was kept with, under the name ``file``."""
    file: str | None = None
    unusable: bool = False
    """True for a photo that belongs to a record and can't be kept: none at all, too large, or one too many."""


@dataclass(frozen=True, slots=True)
class Tick:
    """Time has passed."""


Event = Said | Tapped | Sent | Tick


@dataclass(frozen=True, slots=True)
class Words:
    """A text by its id in the wording files (or, with a slash, in a guide), with its parameters."""

    id: str
    params: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Button:
    """A button: its label, and the action that a tap on it carries (at most 60 bytes)."""

    label: Words
    action: str


@dataclass(frozen=True, slots=True)
class Attachment:
    """A file to send along: a summary's picture of one kitchen day, or a picture of a guide's step."""

    what: Literal["summary_picture", "guide_picture"]
    on: date | None = None
    name: str | None = None


@dataclass(frozen=True, slots=True)
class Reply:
    """One message to one chat: a line of text for each of ``lines``.

    ``key`` names the message within its chat, so that a later reply with the same key and ``edit`` replaces it;
    where the old one can't be edited any more, it is sent as a new message.
    """

    to: str
    kind: Kind
    lines: tuple[Words, ...]
    buttons: tuple[Button, ...] = ()
    key: str | None = None
    edit: bool = False
    files: tuple[Attachment, ...] = ()
    language: Language | None = None
    """The reader's language; None: that of the chat (the person's, or the kitchen's for the crew)."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What should happen: changes to append to the history first, then replies to send."""

    changes: tuple[Change, ...] = ()
    replies: tuple[Reply, ...] = ()

    def __add__(self, other: Outcome) -> Outcome:
        return Outcome(self.changes + other.changes, self.replies + other.replies)
