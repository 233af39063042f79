"""``python -m intents.calibrate``: measure by cross-validation how sure to be, and write ``calibration.toml``.

Every phrase is ranked by an engine that was fitted without it. Nothing but the phrase files is read.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt

from intents import fitted
from intents.calibration import FILE, Evidence, calibration, evidence
from intents.evaluate import reliability
from intents.phrasebook import BUILT_IN, read
from intents.topics import topics
from intents.weighing import by_what_is_stated

Floats = npt.NDArray[np.float64]

FOLDS = 10
STEPS = 25
ACCEPTS = (0.0, 0.3, 0.35, 0.4, 0.45, 0.5, 0.6)
"""Thresholds that are tried out and printed; which one is taken is a choice, kept in the file."""


@dataclass(frozen=True, slots=True)
class Case:
    """A phrase, ranked by an engine that has not seen it."""

    evidence: Evidence
    taken: str | None
    """The best topic, None for one outside."""
    meant: str | None


def collect(folders: Sequence[Path]) -> list[Case]:
    """Every phrase of ``folders`` once; those that have no words are left out."""
    phrases = read(folders).phrases
    stated = [fitted.stated(phrase.text) for phrase in phrases]
    words = [one.masked(one.words) for one in stated]
    fold = np.random.default_rng(7).integers(0, FOLDS, len(phrases))
    cases: list[Case] = []
    for held in range(FOLDS):
        kept = [at for at in range(len(phrases)) if fold[at] != held]
        engine = fitted.fit([words[at] for at in kept], [phrases[at].topic for at in kept])
        for at in np.flatnonzero(fold == held):
            ranked = by_what_is_stated(engine.rank(words[at]), stated[at])
            if ranked:
                cases.append(Case(evidence(ranked), _public(ranked[0].label), _public(phrases[at].topic)))
    return cases


def _public(topic: str) -> str | None:
    return topic if topics()[topic].inside else None


def curve(seen: Sequence[Evidence], right: Sequence[bool]) -> tuple[float, float, float, float]:
    """The logistic curve (odds, head, near, offset) that fits best, by Newton's method.

    Being near to a known phrase never makes less sure: where that would fit better, it doesn't count at all.
    """
    weights = _newton(seen, right, nearness=1.0)
    if weights[2] < 0:
        weights = _newton(seen, right, nearness=0.0)
    return float(weights[0]), float(weights[1]), float(weights[2]), float(weights[3])


def _newton(seen: Sequence[Evidence], right: Sequence[bool], nearness: float) -> Floats:
    x = np.array([[one.odds, one.head, nearness * one.near, 1.0] for one in seen])
    y = np.array(right, dtype=float)
    weights = np.zeros(4)
    for _ in range(STEPS):
        chance = 1 / (1 + np.exp(-x @ weights))
        slope = x.T @ (y - chance) - 1e-3 * weights
        bend = (x * (chance * (1 - chance))[:, None]).T @ x + 1e-3 * np.eye(4)
        weights += np.linalg.solve(bend, slope)
    return weights


def main() -> int:
    """Measure and write; returns the exit status."""
    cases = collect([BUILT_IN])
    right = [case.taken == case.meant for case in cases]
    odds, head, near, offset = curve([case.evidence for case in cases], right)
    measured = replace(calibration(), odds=odds, head=head, near=near, offset=offset)
    confidence = [measured.confidence(case.evidence) for case in cases]
    table, error = reliability(list(zip(confidence, right, strict=True)))
    FILE.write_text(
        "# Measured by `python -m intents.calibrate` on the built-in phrases, each ranked without having been seen.\n"
        f"# {len(cases)} phrases, {sum(right) / len(right):.3f} right, expected calibration error {error:.3f}.\n"
        f"odds = {odds:.4f}\nhead = {head:.4f}\nnear = {near:.4f}\noffset = {offset:.4f}\n\n"
        "# At or above this confidence a topic is taken; below it, likelier wrong than right, the helper asks.\n"
        f"accept = {measured.accept:.2f}\n",
        encoding="utf-8",
    )
    for mean, share, count in table:
        print(f"confidence {mean:.2f} right {share:.2f} ({count})")  # noqa: T201
    for accept in ACCEPTS:
        decided = [case.taken if sure >= accept else None for case, sure in zip(cases, confidence, strict=True)]
        known = [took == case.meant for took, case in zip(decided, cases, strict=True) if case.meant]
        none = [took is None for took, case in zip(decided, cases, strict=True) if case.meant is None]
        print(f"accept {accept:.2f}: topics {sum(known) / len(known):.3f}, rejected {sum(none) / len(none):.3f}")  # noqa: T201
    return 0


if __name__ == "__main__":
    sys.exit(main())
