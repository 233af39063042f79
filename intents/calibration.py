"""How sure to be: from an engine's shares and nearness to the chance of being right."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from intents.engine import Ranked

FILE = Path(__file__).with_name("calibration.toml")
_SURE = 1e-4
"""Shares are kept this far from 0 and 1 before their log-odds are taken."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """What a ranking says about its best label."""

    odds: float
    """The log-odds of its share."""
    head: float
    """The logarithm of what the head alone gives it."""
    near: float
    """The cosine to its nearest phrase."""


def evidence(ranked: Sequence[Ranked]) -> Evidence:
    """The evidence of a ranking that is not empty."""
    share = min(max(ranked[0].chance, _SURE), 1 - _SURE)
    return Evidence(math.log(share / (1 - share)), math.log(max(ranked[0].head, _SURE)), ranked[0].near)


@dataclass(frozen=True, slots=True)
class Calibration:
    """A logistic curve over the evidence, and where to accept."""

    odds: float
    head: float
    near: float
    offset: float
    accept: float
    """At or above this confidence a topic is taken; below, the caller asks."""

    def confidence(self, seen: Evidence) -> float:
        """The chance that the best label is right, 0 to 1."""
        score = self.odds * seen.odds + self.head * seen.head + self.near * seen.near + self.offset
        return 1 / (1 + math.exp(-score))

    def confidences(self, ranked: Sequence[Ranked]) -> list[float]:
        """The chance that each label is right, 0 to 1. The best one's is calibrated; the others share the rest."""
        top = self.confidence(evidence(ranked))
        rest = sum(one.chance for one in ranked[1:]) or 1.0
        return [top, *((1 - top) * one.chance / rest for one in ranked[1:])]


@cache
def calibration() -> Calibration:
    """The curve of the built-in phrases."""
    return Calibration(**tomllib.loads(FILE.read_text(encoding="utf-8")))
