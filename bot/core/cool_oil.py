"""Steps that need cool oil: what the log knows of a fryer's heat, and whether a walk may go past such a step.

They need 100 °F (38 °C) or less: the most at which US federal rules let anybody under 16 handle oil (US DOL Fact Sheet
58, 2010); that it is taken for everybody is common practice.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from bot.core import records as r
from bot.core.state import State

COOL_F = 100.0
"""Degrees Fahrenheit."""

FRESH = timedelta(minutes=60)
"""A reading this old still says something of the oil; common practice."""


@dataclass(frozen=True, slots=True)
class Reading:
    """A temperature as it was logged."""

    value: float
    unit: str
    at: datetime

    @property
    def cool(self) -> bool:
        """Whether oil of this temperature counts as cool."""
        return (self.value if self.unit == "F" else self.value * 9 / 5 + 32) <= COOL_F


def latest(state: State, fryer: str | None, now: datetime) -> Reading | None:
    """The last temperature of a fryer that was logged within the hour and stands, or None."""
    for entry in reversed(state.log):
        if now - entry.at > FRESH:
            return None
        change = entry.change
        if not isinstance(change, r.ReadingTaken) or change.what != "temperature" or entry.undone:
            continue
        if change.fryer == fryer:
            return Reading(change.value, change.unit, entry.at)
    return None
