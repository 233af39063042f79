"""What the present state of a kitchen is made of."""

from __future__ import annotations

from datetime import datetime

from msgspec import Struct, field

from bot.core import records as r
from intents.types import Part


class Logged(Struct):
    """One entry of the log: when it was written down, what it says, and whether it was taken back."""

    at: datetime
    change: r.Change
    undone: bool = False


class RulesSince(Struct, frozen=True):
    """Rules, and the instant from which they hold."""

    since: datetime
    rules: r.Rules


class Outage(Struct):
    """A stretch out of service; ``to`` is None while it lasts."""

    entry: int
    fryer: str
    since: datetime
    to: datetime | None = None


class Wait(Struct):
    """The latest cool-down of one part of one fryer; ``ended`` is None while it runs."""

    fryer: str
    part: Part
    started_at: datetime
    ends_at: datetime
    by: str
    chat: str
    ended: r.WaitEnd | None = None
    reset: bool | None = None
    """Whether the reset that followed worked; None before it was tried."""


class Shelf(Struct):
    """A count of one supply on the shelf, and how often each duty was done on each fryer since then."""

    entry: int
    at: datetime
    count: int
    done: dict[str, int] = field(default_factory=dict)


class Question(Struct, frozen=True):
    """An open question: how it may be answered, and since when it is open."""

    options: tuple[r.Option, ...]
    at: datetime


class Walk(Struct, frozen=True):
    """A walk through a guide under way; ``step`` 0 is its cautions."""

    topic: str
    fryer: str | None
    step: int
    chat: str


class Mention(Struct, frozen=True):
    """The fryer a person talked about last."""

    fryer: str
    at: datetime


class SignOff(Struct, frozen=True):
    """That a person may do what a guide says, by whose word and until when; one that was taken back ended then."""

    until: datetime
    by: str
    revoked: bool = False


class Snooze(Struct, frozen=True):
    """A reminder that was put off."""

    until: datetime
    by: str
    chat: str
