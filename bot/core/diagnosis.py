"""Which check is the best one next: the one most likely to find the cause for each minute that it takes.

With one fault, checks that don't depend on each other and fixed times, checking by likelihood over minutes finds
the cause soonest on average (arXiv 1203.3502). That no longer holds once checks share work, such as pulling the
same pan; the order is then a good one, not the best. Nothing is kept between two checks: whoever asks says what
was ruled out.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import prod
from zlib import crc32

from msgspec import Struct

from bot.core.kitchen import Power
from intents.types import Part

PREFIX = "fault."
"""Every fault's topic begins with it."""

RESETS: dict[str, Part] = {"reset:pump": "pump", "reset:high_limit": "high_limit"}
"""The fixes that are a reset, and of what."""

Evidence = frozenset[str]
"""The facts that the log shows to hold now, by their names (``bot.core.evidence.FACTS``)."""

NOTHING_KNOWN: Evidence = frozenset()

MARK_LENGTH = 2
_DIGITS = "0123456789abcdefghijklmnopqrstuvwxyz"


class Sign(Struct, frozen=True):
    """A fact that speaks for a cause: where it holds, the cause is ``factor`` times as likely (below 1: less)."""

    fact: str
    factor: float


class Cause(Struct, frozen=True):
    """One thing that may be wrong.

    ``likelihood`` is its rough share (0 to 1) of all such faults, ``minutes`` what the check for it takes. ``fix``
    is a guide's topic, another fault's, one of ``RESETS``, ``service``, or ``text`` where its words say all.
    ``safe_for_under_16`` speaks for the check and its fix.
    """

    id: str
    likelihood: float
    minutes: float
    fix: str
    power: Power | None = None
    evidence: tuple[Sign, ...] = ()
    safe_for_under_16: bool = False

    @property
    def mark(self) -> str:
        """Two letters that stand for it in a button, and still do when causes are added or moved about."""
        high, low = divmod(crc32(self.id.encode()) % len(_DIGITS) ** MARK_LENGTH, len(_DIGITS))
        return _DIGITS[high] + _DIGITS[low]

    def weight(self, evidence: Evidence) -> float:
        """How likely it is beside the other causes of the fault, given what the log shows; no share of 1."""
        return self.likelihood * prod(sign.factor for sign in self.evidence if sign.fact in evidence)


class FaultShape(Struct, frozen=True):
    """One fault: its causes, and what has to be said before anybody checks anything.

    ``stop`` where the vat must be switched off first; ``hot_oil`` where the checks are near oil that may be hot.
    """

    topic: str
    causes: tuple[Cause, ...]
    hot_oil: bool = True
    stop: bool = False
    cautions: int = 0

    def causes_on(self, power: Power | None) -> tuple[Cause, ...]:
        """The causes that a fryer of that power can have; all where it isn't known."""
        return tuple(c for c in self.causes if c.power is None or power is None or c.power == power)


def shares(causes: Sequence[Cause], evidence: Evidence = NOTHING_KNOWN) -> tuple[float, ...]:
    """The chance that each of these is the cause, if one of them is: weights that sum to 1."""
    weights = [cause.weight(evidence) for cause in causes]
    total = sum(weights)
    return tuple(weight / total for weight in weights)


def order(causes: Iterable[Cause], evidence: Evidence = NOTHING_KNOWN) -> list[Cause]:
    """The causes in the order in which to check them; equals stay as they stand in the file."""
    return sorted(causes, key=lambda cause: -cause.weight(evidence) / cause.minutes)


def expected_minutes(ordered: Sequence[Cause], evidence: Evidence = NOTHING_KNOWN) -> float:
    """The minutes of checking, on average, until the cause is found, if it is one of these, in this order."""
    spent = expected = 0.0
    for cause, share in zip(ordered, shares(ordered, evidence), strict=True):
        spent += cause.minutes
        expected += share * spent
    return expected
