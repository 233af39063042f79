"""``python -m intents.calibrate``: measure by cross-validation how sure to be, and write ``calibration.toml``.

Every phrase is ranked by an engine that was fitted without it. Nothing but the phrase files is read.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from intents import fitted
from intents.calibration import FILE, Evidence, calibration, evidence
from intents.evaluate import reliability
from intents.phrasebook import BUILT_IN, read
from intents.topics import topics

FOLDS = 4
STEPS = 25


def collect(folders: Sequence[Path]) -> tuple[list[Evidence], list[bool], list[bool]]:
    """For each phrase, ranked by an engine that hasn't seen it: evidence, whether right, whether the best is inside."""
    phrases = read(folders).phrases
    words = [fitted.masked(phrase.text) for phrase in phrases]
    fold = np.random.default_rng(7).integers(0, FOLDS, len(phrases))
    seen: list[Evidence] = []
    right: list[bool] = []
    inside: list[bool] = []
    for held in range(FOLDS):
        kept = [at for at in range(len(phrases)) if fold[at] != held]
        engine = fitted.fit([words[at] for at in kept], [phrases[at].topic for at in kept])
        for at in np.flatnonzero(fold == held):
            ranked = engine.rank(words[at])
            if ranked:
                seen.append(evidence(ranked))
                right.append(_public(ranked[0].label) == _public(phrases[at].topic))
                inside.append(topics()[ranked[0].label].inside)
    return seen, right, inside


def _public(topic: str) -> str | None:
    return topic if topics()[topic].inside else None


def curve(seen: Sequence[Evidence], right: Sequence[bool]) -> tuple[float, float, float]:
    """The logistic curve (odds, near, offset) that fits best, by Newton's method."""
    x = np.array([[one.odds, one.near, 1.0] for one in seen])
    y = np.array(right, dtype=float)
    weights = np.zeros(3)
    for _ in range(STEPS):
        chance = 1 / (1 + np.exp(-x @ weights))
        slope = x.T @ (y - chance) - 1e-3 * weights
        bend = (x * (chance * (1 - chance))[:, None]).T @ x + 1e-3 * np.eye(3)
        weights += np.linalg.solve(bend, slope)
    return float(weights[0]), float(weights[1]), float(weights[2])


def main() -> int:
    """Measure and write; returns the exit status."""
    seen, right, inside = collect([BUILT_IN])
    odds, near, offset = curve(seen, right)
    confidence = 1 / (1 + np.exp(-np.array([odds * one.odds + near * one.near + offset for one in seen])))
    table, error = reliability([(float(c), r) for c, r in zip(confidence, right, strict=True)])
    FILE.write_text(
        "# Measured by `python -m intents.calibrate` on the built-in phrases, each ranked without having been seen.\n"
        f"# {len(seen)} phrases, {sum(right) / len(right):.3f} right, expected calibration error {error:.3f}.\n"
        f"odds = {odds:.4f}\nnear = {near:.4f}\noffset = {offset:.4f}\n\n"
        "# At or above this confidence a topic is taken; below it the helper asks.\n"
        f"accept = {calibration().accept:.2f}\n",
        encoding="utf-8",
    )
    for mean, share, count in table:
        print(f"confidence {mean:.2f} right {share:.2f} ({count})")  # noqa: T201
    for accept in np.arange(0.2, 0.75, 0.05):
        taken = [r for c, r, i in zip(confidence, right, inside, strict=True) if i and c >= accept]
        print(f"accept {accept:.2f}: taken {len(taken)} of {sum(inside)}, right {sum(taken) / len(taken):.3f}")  # noqa: T201
    return 0


if __name__ == "__main__":
    sys.exit(main())
