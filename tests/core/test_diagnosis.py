"""Which check comes next: by likelihood for each minute, and no order beats it."""

from __future__ import annotations

from itertools import permutations

import pytest
from hypothesis import given, strategies as st

from bot.core.diagnosis import Cause, FaultShape, Sign, expected_minutes, order, shares


def cause(name: str, likelihood: float, minutes: float, *signs: Sign) -> Cause:
    return Cause(name, likelihood, minutes, "text", evidence=signs)


FACTS = ("pad_not_changed_2_days", "oil_old", "recent_service")

SIGNS = st.lists(
    st.builds(Sign, st.sampled_from(FACTS), st.floats(0.1, 20)), max_size=3, unique_by=lambda sign: sign.fact
).map(tuple)

CAUSES = st.lists(st.tuples(st.floats(0.01, 1), st.floats(0.1, 10), SIGNS), min_size=1, max_size=6).map(
    lambda drawn: [cause(f"cause_{n}", p, c, *signs) for n, (p, c, signs) in enumerate(drawn)]
)
EVIDENCE = st.frozensets(st.sampled_from(FACTS))


def test_the_worked_example_costs_7_6_minutes_and_any_other_order_more() -> None:
    """p = .5 .3 .2 and c = 10 2 1 give the order c, b, a; all six orders were counted out by hand."""
    a, b, c = cause("a", 0.5, 10), cause("b", 0.3, 2), cause("c", 0.2, 1)
    assert order([a, b, c]) == [c, b, a]
    costs = sorted(round(expected_minutes(ordered), 9) for ordered in permutations([a, b, c]))
    assert costs == [7.6, 7.7, 9.2, 9.6, 11.1, 11.2]


@given(CAUSES, EVIDENCE)
def test_no_order_finds_the_cause_sooner_on_average(causes: list[Cause], evidence: frozenset[str]) -> None:
    best = min(expected_minutes(ordered, evidence) for ordered in permutations(causes))
    assert expected_minutes(order(causes, evidence), evidence) == pytest.approx(best)


@given(CAUSES, EVIDENCE)
def test_the_order_holds_every_cause_once_and_does_not_depend_on_what_is_ruled_out(
    causes: list[Cause], evidence: frozenset[str]
) -> None:
    ordered = order(causes, evidence)
    assert sorted(c.id for c in ordered) == sorted(c.id for c in causes)
    assert order(ordered[1:], evidence) == ordered[1:]


@given(CAUSES, EVIDENCE)
def test_the_shares_sum_to_one(causes: list[Cause], evidence: frozenset[str]) -> None:
    assert sum(shares(causes, evidence)) == pytest.approx(1)


@given(CAUSES, EVIDENCE, st.floats(1, 20))
def test_a_fact_that_speaks_for_a_cause_never_moves_it_back(
    causes: list[Cause], evidence: frozenset[str], factor: float
) -> None:
    known = cause("known", causes[0].likelihood, causes[0].minutes, Sign("high_limit_tripped_today", factor))
    pool = [known, *causes[1:]]
    before = order(pool, evidence).index(known)
    assert order(pool, evidence | {"high_limit_tripped_today"}).index(known) <= before


def test_equals_stay_in_the_order_of_the_file() -> None:
    same = [cause(name, 0.25, 1) for name in "dbca"]
    assert order(same) == same


def test_evidence_turns_the_order_round() -> None:
    pad = cause("pad", 0.3, 2, Sign("pad_not_changed_2_days", 4))
    seat = cause("seat", 0.2, 1)
    assert order([pad, seat]) == [seat, pad]
    assert order([pad, seat], frozenset({"pad_not_changed_2_days"})) == [pad, seat]
    assert shares([pad, seat], frozenset({"pad_not_changed_2_days"})) == pytest.approx((1.2 / 1.4, 0.2 / 1.4))


def test_a_gas_fryer_has_no_electric_causes_and_an_unknown_one_has_all() -> None:
    flame = Cause("flame", 0.5, 1, "text", power="gas")
    breaker = Cause("breaker", 0.5, 1, "text", power="electric")
    dial = cause("dial", 0.5, 1)
    shape = FaultShape("fault.no_heat", (flame, breaker, dial))
    assert shape.causes_on("gas") == (flame, dial)
    assert shape.causes_on("electric") == (breaker, dial)
    assert shape.causes_on(None) == (flame, breaker, dial)


@given(st.text(min_size=1, max_size=24))
def test_a_cause_is_marked_by_two_letters_that_depend_on_its_id_alone(name: str) -> None:
    one, other = cause(name, 0.1, 1), cause(name, 0.9, 5)
    assert one.mark == other.mark
    assert len(one.mark) == 2
    assert one.mark.isalnum()
