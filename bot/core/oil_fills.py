"""The oils that a vat has had, one after another, each with its tests."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from bot.core import records as r
from bot.core.pieces import done_at
from bot.core.scene import Scene

FALL = 6.0
"""Points. A test this much lower than the one before, and below half of it, is of other oil: four standard
deviations of a difference, and more than topping up or filtering does (20 % of the value, LWT 2018 97:45-52)."""


@dataclass(frozen=True, slots=True)
class Reading:
    """An oil test, in percent of polar compounds."""

    at: datetime
    percent: float


@dataclass(frozen=True, slots=True)
class Fill:
    """One filling of a vat: its tests, oldest first, and when it was filled in, if that was logged.

    ``fell_from`` is the last test of the oil before, where only the fall tells that it was changed.
    """

    since: datetime | None
    readings: tuple[Reading, ...]
    fell_from: Reading | None = None


def fills(scene: Scene, fryer: str, just_taken: float | None = None) -> tuple[Fill, ...]:
    """The oils that the log still knows of, oldest first; the last one is in the vat now, tested or not."""
    readings = [
        Reading(entry.at, entry.change.value)
        for entry in scene.state.log
        if isinstance(entry.change, r.ReadingTaken)
        and entry.change.what == "oil_test"
        and entry.change.fryer == fryer
        and not entry.undone
    ]
    if just_taken is not None:
        readings.append(Reading(scene.now, just_taken))
    changes = [done_at(entry.change) for entry in scene.state.confirmations("oil_change", fryer)]
    found: list[Fill] = []
    place = 0
    for since, until in zip([None, *changes], [*changes, None], strict=True):
        # A test at the very instant of the change is of the oil that went out.
        end = bisect_right(readings, until, place, key=lambda reading: reading.at) if until else len(readings)
        if end > place or until is None:
            found += _parted(since, readings[place:end])
        place = end
    return tuple(found)


def _parted(since: datetime | None, readings: Sequence[Reading]) -> Iterator[Fill]:
    """The tests between two changes that were logged, parted where a fall tells of one that was not."""
    begun, fell_from = 0, None
    for place in range(1, len(readings)):
        before, here = readings[place - 1], readings[place]
        if before.percent - here.percent >= FALL and here.percent < before.percent / 2:
            yield Fill(since, tuple(readings[begun:place]), fell_from)
            begun, since, fell_from = place, None, before
    yield Fill(since, tuple(readings[begun:]), fell_from)
