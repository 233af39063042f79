"""One tap for several duties: all that was due when that was asked, or one duty on every fryer where it is open."""

from __future__ import annotations

from datetime import datetime

from bot.core.actions import action
from bot.core.messages import Button, Words
from bot.core.schedule import Occurrence
from bot.core.times import stamp


def all_due(open_now: list[Occurrence], done_at: datetime, asked_at: datetime) -> tuple[Button, ...]:
    """The button for all that is due by now; none where that is not several duties."""
    if len(due_by(open_now, asked_at)) < 2:
        return ()
    return (Button(Words("button.all_due"), action("alldue", stamp(done_at), stamp(asked_at))),)


def all_fryers(open_now: list[Occurrence], duty: str, done_at: datetime) -> tuple[Button, ...]:
    """The button for one duty on all the fryers where it is open; none where that is not several."""
    ids = tuple(o.slot.fryer for o in open_on(open_now, duty) if o.slot.fryer is not None)
    if len(ids) < 2:
        return ()
    return (Button(Words("button.on_all", {"fryers": ids}), action("didall", duty, stamp(done_at))),)


def due_by(open_now: list[Occurrence], at: datetime) -> list[Occurrence]:
    """Those of them that were due at an instant."""
    return [o for o in open_now if o.due_at <= at]


def open_on(open_now: list[Occurrence], duty: str) -> list[Occurrence]:
    """Those of them that are of one duty."""
    return [o for o in open_now if o.slot.duty.id == duty]
