"""What the present state of a kitchen is made of."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Mapping
from datetime import datetime, time

from msgspec import Struct, field
from msgspec.structs import replace

from bot.core import records as r
from bot.core.calendar import calendar
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
    shown: bool = False
    """Whether somebody was led to the step that presses the reset."""


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
    """A walk through a guide under way; ``step`` 0 is its cautions, ``offered`` as in ``WalkMoved``."""

    topic: str
    fryer: str | None
    step: int
    chat: str
    offered: bool = False


class Unsure(Struct, frozen=True):
    """Something that was heard and asked back, and when."""

    heard: r.HeardUnsurely
    at: datetime


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


def slot_key(duty: str, fryer: str | None) -> str:
    """The name of one duty on one fryer (or in the whole kitchen) within the state."""
    return f"{duty}|{fryer or ''}"


def done_at(change: r.Change) -> datetime:
    """When a confirmation says its duty was done. Raises ``TypeError`` for any other change."""
    if not isinstance(change, r.Confirmed):
        raise TypeError(f"not a confirmation: {change!r}")
    return change.done_at


def number_of(entry: Logged) -> int:
    """The number of a log entry; 0 for one that has none."""
    return getattr(entry.change, "entry", 0)


def written_since(entries: list[Logged], limit: datetime) -> list[Logged]:
    """The entries written down from ``limit`` on; they are in that order."""
    return entries[bisect_left(entries, limit, key=lambda e: e.at) :]


def with_the_last(entries: list[Logged], limit: datetime) -> list[Logged]:
    """The confirmations from ``limit`` on, and the last that stands, however old: the next due day counts from it."""
    if not entries or entries[0].at >= limit:
        return entries
    recent = written_since(entries, limit)
    latest = max((e for e in entries if not e.undone), key=lambda e: done_at(e.change), default=None)
    return recent if latest is None or latest in recent else [latest, *recent]


def count_use(shelves: Mapping[str, Iterable[Shelf]], confirmed: r.Confirmed, times: int) -> None:
    """Count what a confirmation used up since each count of a supply.

    What was done before a count is in it already, whenever it was written down.
    """
    key = slot_key(confirmed.duty, confirmed.fryer)
    for counts in shelves.values():
        for shelf in counts:
            if confirmed.done_at > shelf.at:
                shelf.done[key] = shelf.done.get(key, 0) + times


def with_moved(rules: r.Rules, moved: Mapping[str, time]) -> r.Rules:
    """Rules with the times to which duties were moved in chat."""
    if not moved:
        return rules
    return replace(rules, duties=tuple(replace(duty, at=moved.get(duty.id, duty.at)) for duty in rules.duties))


def on_an_earlier_day(rules: r.Rules, done: datetime, at: datetime) -> bool:
    """Whether something written down ``at`` was done on a kitchen day before that one."""
    days = calendar(rules)
    return done < days.day_start(days.day_of(at))
