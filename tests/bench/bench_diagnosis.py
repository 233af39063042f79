"""How much sooner the cause is found than by a fixed card, on the product's own content; no wall time.

Run: ``python -m tests.bench.bench_diagnosis``. Exit status 1 where a goal is missed.

The likelihoods, minutes and factors are the content's own, set by judgement, so these figures say what the order
makes of them, not how often it is right in a real kitchen. The simulation assumes that the content is true: one
cause a fault, drawn by its share; each fact of the fault shows independently, in ``BASE`` of all faults where it
has nothing to do with the cause, and ``factor`` times as often (at most ``ALWAYS``) where it does; each check
tells the truth.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Sequence
from itertools import permutations
from operator import attrgetter, itemgetter
from statistics import fmean

from bot.content.fault_files import POWERS, Faults, load_faults
from bot.core.diagnosis import Cause, Evidence, FaultShape, expected_minutes, order

FAULTS = 500
MANY = 20_000
"""Faults of one more run, which tells how far the figure of ``FAULTS`` swings by chance."""

SEED = 20260915
BASE = 0.05
BASES = (0.02, 0.05, 0.1, 0.2)
ALWAYS = 0.95

SAVED_GOAL = 0.30
FIRST_GOAL = 0.90

Case = tuple[FaultShape, tuple[Cause, ...]]


def main() -> int:
    """Print the figures; 1 where a goal is missed."""
    faults = load_faults()
    met = against_cards(faults)
    met &= simulated(cases(faults))
    return 0 if met else 1


def cases(faults: Faults) -> list[Case]:
    """Each fault once where gas and electric fryers share its causes, else once for each power."""
    found = [(shape, shape.causes_on(power)) for shape in faults.shapes.values() for power in POWERS]
    return list(dict.fromkeys(found))


def against_cards(faults: Faults) -> bool:
    """Expected minutes beside cards in alphabetical order, the mean of all orders, and the best of all orders."""
    print(f"{'fault':<22}{'ours':>7}{'best':>7}{'by name':>9}{'by id':>8}{'any order':>11}   minutes, no log")
    rows = []
    for shape, causes in cases(faults):
        named = [(faults.texts["en"][f"{shape.topic}/name.{cause.id}"], cause) for cause in causes]
        ours = expected_minutes(order(causes))
        every = [expected_minutes(ordered) for ordered in permutations(causes)]
        by_name = expected_minutes([cause for _, cause in sorted(named, key=itemgetter(0))])
        by_id = expected_minutes(sorted(causes, key=attrgetter("id")))
        rows.append((ours, min(every), by_name, by_id, fmean(every)))
        print(f"{shape.topic:<22}{ours:7.2f}{min(every):7.2f}{by_name:9.2f}{by_id:8.2f}{fmean(every):11.2f}")
    optimal = all(abs(ours - best) < 1e-9 for ours, best, *_ in rows)
    saved = [1 - fmean(row[0] for row in rows) / fmean(row[column] for row in rows) for column in (2, 3, 4)]
    print(f"equal to the best of all orders: {'yes' if optimal else 'NO'}")
    print(f"minutes saved: {saved[0]:.1%} by name, {saved[1]:.1%} by id, {saved[2]:.1%} beside the mean of all orders")
    return optimal and min(saved[:2]) >= SAVED_GOAL


def simulated(pool: Sequence[Case]) -> bool:
    """How often the right cause is checked first where the log holds a sign of it, and over all faults."""
    met = False
    for base, faults in (*((base, FAULTS) for base in BASES), (BASE, MANY)):
        rng = random.Random(SEED)
        with_sign: list[int] = []
        overall: list[int] = []
        while len(with_sign) < faults:
            _, causes = rng.choice(pool)
            true = rng.choices(causes, [cause.likelihood for cause in causes])[0]
            evidence = shown(rng, causes, true, base)
            place = order(causes, evidence).index(true)
            overall.append(place)
            if any(sign.fact in evidence and sign.factor > 1 for sign in true.evidence):
                with_sign.append(place)
        first = with_sign.count(0) / faults
        second = sum(place <= 1 for place in with_sign) / faults
        print(
            f"a fact shows by chance in {base:.0%} of faults: right cause first {first:.1%}, among the first two "
            f"{second:.1%} of {faults} faults with a sign in the log ({faults / len(overall):.0%} of all faults had "
            f"one); over all {len(overall)} faults first {overall.count(0) / len(overall):.1%}"
        )
        if (base, faults) == (BASE, FAULTS):
            met = first >= FIRST_GOAL
    return met


def shown(rng: random.Random, causes: Sequence[Cause], true: Cause, base: float) -> Evidence:
    """The facts that the log shows for one drawn fault."""
    factors = {sign.fact: sign.factor for sign in true.evidence}
    facts = sorted({sign.fact for cause in causes for sign in cause.evidence})
    return frozenset(fact for fact in facts if rng.random() < min(ALWAYS, base * factors.get(fact, 1)))


if __name__ == "__main__":
    sys.exit(main())
