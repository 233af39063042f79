"""The rules of cool-down waits and resets. They are never bent:

no reset steps before the wait is over; a device that trips again in the same kitchen day, or whose reset didn't hold
and whose fryer service hasn't put back, is a case for service and not for another try; a wait is never shorter than the
kitchen's, which is never shorter than half an hour (common practice; the kitchen file refuses less).
"""

from __future__ import annotations

from datetime import datetime, timedelta
from math import ceil

from bot.core import records as r
from bot.core.messages import Words
from bot.core.pieces import Wait, slot_key
from bot.core.scene import Scene, fryer_words
from intents.types import Part

GOOD_FOR = timedelta(hours=12)
"""A finished wait opens the reset this long; after that the vat may have been heated again."""

MARKS = (5, 4, 3, 2, 1)
"""Minutes left at which the countdown is shown anew, besides every fifth minute."""

PARTS: tuple[Part, ...] = ("pump", "high_limit")


def may_reset(scene: Scene, fryer: str | None, part: Part) -> bool:
    """Whether a wait for it is over, has not been used, and is not stale."""
    wait = scene.state.waits.get(slot_key(part, fryer))
    return (
        wait is not None
        and wait.ended == "finished"
        and wait.reset is None
        and scene.now >= wait.ends_at
        and scene.now - wait.ends_at <= GOOD_FOR
    )


def needs_service(scene: Scene, part: Part, fryer: str) -> bool:
    """Whether it is service's turn: a reset in this kitchen day, well or not, or one that never held since.

    A reset that did not hold stands, on whatever day it was, until the fryer has been put back in service.
    """
    start = scene.days.day_start(scene.today)
    back = False
    for entry in reversed(scene.state.log):
        match entry.change:
            case r.OutageEnded(fryer=mended) if mended == fryer and not entry.undone:
                back = True
            case r.ResetTried(fryer=tried, part=device, worked=worked) if (tried, device) == (fryer, part):
                return entry.at >= start or not (worked or back)
    return False


def marks(wait: Wait) -> list[tuple[int, datetime]]:
    """The minutes left at which the countdown is shown anew, and when that is; the end is not among them."""
    total = ceil((wait.ends_at - wait.started_at) / timedelta(minutes=1))
    minutes = [m for m in range(total - 1, 0, -1) if m % 5 == 0 or m in MARKS]
    return [(m, wait.ends_at - timedelta(minutes=m)) for m in minutes]


def part_words(part: Part) -> Words:
    """A part as people call it."""
    return Words(f"part.{part}")


def params(part: Part, fryer: str) -> dict[str, object]:
    """The parameters that every text about a wait takes."""
    return {"part": part_words(part), "fryer": fryer_words(fryer)}
