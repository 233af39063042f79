"""Tense and form: asked how, asked whether, reported, due, not done; and what is not the helper's."""

from __future__ import annotations

from pathlib import Path

import pytest

from intents.understander import Understander

TABLE = Path(__file__).with_name("data") / "forms.txt"
ALL_WELL = [
    "all good now", "it's out", "fire's out", "the fire is out", "everybody is ok", "the gas smell is gone",
    "ya se apago el fuego", "todos estamos bien", "ya paso todo",
]  # fmt: skip
NOT_WELL = [
    "it's not over", "not out yet", "fire is out of control", "the fire is not out",
    "fire is out but he burned his arm",
    "todavia no se apaga", "el fuego no se apaga", "no estamos bien", "the gas smell is gone but now it is back",
]  # fmt: skip


@pytest.mark.parametrize("line", [one for one in TABLE.read_text(encoding="utf-8").splitlines() if one[0] != "#"])
def test_the_form_of_a_verb_decides_what_is_meant(line: str, understander: Understander) -> None:
    meant, _, text = line.partition(": ")
    found = understander.understand(text)
    taken = found.topic or ("not_done" if found.slots.not_done else "none")
    assert taken == meant


@pytest.mark.parametrize("text", ALL_WELL)
def test_that_an_emergency_is_over_is_understood_and_raises_none(text: str, understander: Understander) -> None:
    assert understander.understand(text).topic == "talk.all_well"


@pytest.mark.parametrize("text", NOT_WELL)
def test_that_an_emergency_goes_on_is_never_taken_for_its_end(text: str, understander: Understander) -> None:
    assert understander.understand(text).topic != "talk.all_well"


@pytest.mark.parametrize(
    "text", ["skimmed all of them", "just skimmed 2", "ya espumé la 1", "ya le saque las moronas a la 2"]
)
def test_skimming_that_was_done_is_no_question_how(text: str, understander: Understander) -> None:
    assert understander.understand(text).topic == "duty.skimmed"


@pytest.mark.parametrize(
    ("text", "fryer"),
    [
        ("changed the pad on the fries", "1"),
        ("cambié el pad de las papas", "1"),
        ("when was the pad changed on the falafel", "2"),
        ("changed the pad", None),
        ("changed the pad on 3 by the fries", "3"),
    ],
)
def test_a_food_names_its_fryer_where_only_a_fryer_can_be_meant(
    text: str, fryer: str | None, understander: Understander
) -> None:
    assert understander.understand(text).slots.fryer == fryer


@pytest.mark.parametrize(
    ("text", "tomorrow"),
    [
        ("remind me tomorrow", True),
        ("recuérdame mañana", True),
        ("anoche en la mañana filtré", False),
        ("remind me later", False),
    ],
)
def test_the_next_day_is_named_by_tomorrow_and_not_by_the_morning(
    text: str, tomorrow: bool, understander: Understander
) -> None:
    assert understander.understand(text).slots.tomorrow is tomorrow
