"""The demo kitchen is Lantern Street, with everything that the demo shows."""

from __future__ import annotations

from bot.content import places
from bot.content.duty_kinds import load_duty_kinds
from bot.content.kitchen_file import read_kitchen
from bot.core.kitchen import Every

KITCHEN = read_kitchen(places.demo_folder() / "kitchen.toml")


def test_it_has_three_fryers_that_both_languages_can_name() -> None:
    assert KITCHEN.name == "Lantern Street Kitchen"
    assert [(f.id, f.power) for f in KITCHEN.fryers] == [("1", "electric"), ("2", "gas"), ("3", "electric")]
    names = " ".join(name for fryer in KITCHEN.fryers for name in fryer.names)
    for word in ("fries", "papas", "falafel", "doughnut", "donas"):
        assert word in names


def test_its_crew_has_every_role_both_languages_and_somebody_under_16() -> None:
    assert {person.role for person in KITCHEN.people} == {"cook", "lead", "manager", "trainer"}
    assert {person.language for person in KITCHEN.people} == {"en", "es"}
    assert [person.id for person in KITCHEN.people if person.under_16] == ["teo"]
    assert sorted(p.telegram or 0 for p in KITCHEN.people) == list(range(1001, 1007))


def test_it_schedules_every_rhythm_but_drops() -> None:
    assert {duty.every.unit for duty in KITCHEN.duties} == {"day", "week", "month", "days"}
    hood = KITCHEN.duty("hood_filters")
    assert hood is not None
    assert (hood.every, hood.fryers) == (Every("week", 1, "sunday"), None)


def test_it_schedules_each_kind_of_duty_that_comes_by_the_clock() -> None:
    """Oil is changed when the test says so, not by the calendar."""
    assert set(load_duty_kinds()) - {duty.id for duty in KITCHEN.duties} == {"oil_change"}


def test_it_counts_the_seals_of_every_colour_in_use() -> None:
    colours = {fryer.seals.colour for fryer in KITCHEN.fryers if fryer.seals is not None}
    assert {f"seals_{colour}" for colour in colours} <= set(KITCHEN.supplies)
