"""How sure to be: from an engine's shares and nearness to the chance of being right."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from intents.engine import Ranked


@dataclass(frozen=True, slots=True)
class Calibration:
    """A logistic curve over the best label's log-odds and nearness, and where to accept."""

    odds: float
    near: float
    offset: float
    accept: float
    """At or above this confidence a topic is taken; below, the caller asks."""

    def confidences(self, ranked: Sequence[Ranked]) -> list[float]:
        """The chance that each label is right, 0 to 1. The best one's is calibrated; the others share the rest."""
        best = ranked[0]
        share = min(max(best.chance, 1e-6), 1 - 1e-6)
        top = _logistic(self.odds * math.log(share / (1 - share)) + self.near * best.near + self.offset)
        rest = sum(one.chance for one in ranked[1:]) or 1.0
        return [top, *((1 - top) * one.chance / rest for one in ranked[1:])]


def _logistic(value: float) -> float:
    return 1 / (1 + math.exp(-value))


@cache
def calibration() -> Calibration:
    """The curve of the built-in phrases."""
    return Calibration(odds=0.8, near=3.0, offset=-0.8, accept=0.35)
