"""What comes in and what goes out: frozen values that can be compared with ``==``.

A reply is an id and parameters, never a sentence: the wording files turn it into words in the reader's
language. Parameters may be numbers, names, times (aware ``datetime``), dates, lengths (``timedelta``), further
``Words``, or a tuple of any of these (a list for the reader).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal

from msgspec import Struct, field

from bot.core.kitchen import Role
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
    recognised: float = 1.0
    """The chance (0 to 1) that spoken words are the ones that were said."""
    secret: str | None = None
    """Fresh and unguessable, for a link that may have to be made; None where links can't be."""


@dataclass(frozen=True, slots=True)
class NotHeard:
    """A person spoke, or seemed to, and no words could be made out; ``why`` as in ``bot.voice.heard.Trouble``."""

    sender: str
    chat: str
    why: str
    addressed: bool = True


@dataclass(frozen=True, slots=True)
class Objection:
    """Why a phrase must not be taught; ``topic`` is the one that it belongs to or is too near to."""

    why: str
    topic: str | None = None


@dataclass(frozen=True, slots=True)
class Tapped:
    """A person pressed a button; ``action`` is what that button carried."""

    sender: str
    chat: str
    action: str
    secret: str | None = None
    """As in ``Said``."""
    objection: Objection | None = None
    """What speaks against the phrase that this tap would teach."""


@dataclass(frozen=True, slots=True)
class Sent:
    """A person sent something that is neither words nor a tap."""

    sender: str
    chat: str
    what: Literal["photo", "sticker", "location", "file"]
    entry: int | None = None
    """The record that a photo was kept with, under the name ``file``."""
    file: str | None = None
    unusable: bool = False
    """True for a photo that belongs to a record and can't be kept: none at all, too large, or one too many."""


@dataclass(frozen=True, slots=True)
class Arrived:
    """Somebody whom the kitchen did not know came by a link and said who they are; ``phone`` is their number."""

    secret: str
    phone: int
    name: str
    language: Language
    under_16: bool


@dataclass(frozen=True, slots=True)
class GroupOffered:
    """A person of the kitchen asked, in a group that is no chat of its, to make that group the crew's chat."""

    sender: str
    group: int


@dataclass(frozen=True, slots=True)
class LinkWanted:
    """Whoever runs the helper wants a link, at the command line: for a new person, or for one that is known."""

    secret: str
    role: Role
    person: str | None = None


@dataclass(frozen=True, slots=True)
class Tick:
    """Time has passed."""


Coming = Arrived | GroupOffered | LinkWanted
"""What happens at a kitchen's edge, where people and groups come in."""

Event = Said | NotHeard | Tapped | Sent | Arrived | GroupOffered | LinkWanted | Tick


class Words(Struct, frozen=True):
    """A text by its id in the wording files (or, with a slash, in a guide), with its parameters."""

    id: str
    params: Mapping[str, Any] = field(default_factory=dict)


class Button(Struct, frozen=True):
    """A button: its label, and the action that a tap on it carries (at most 60 bytes)."""

    label: Words
    action: str


@dataclass(frozen=True, slots=True)
class Attachment:
    """A file to send along: a summary's picture of one kitchen day, a picture of a guide's step, or a link's square."""

    what: Literal["summary_picture", "guide_picture", "invitation"]
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
    aloud: tuple[Words, ...] = ()
    """The lines that are to be said aloud as well."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What should happen: changes to append to the history first, then replies to send."""

    changes: tuple[Change, ...] = ()
    replies: tuple[Reply, ...] = ()

    def __add__(self, other: Outcome) -> Outcome:
        return Outcome(self.changes + other.changes, self.replies + other.replies)
