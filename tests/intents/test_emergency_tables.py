"""Every message of the two tables: real emergencies are raised, and what only uses their words is not."""

from __future__ import annotations

from pathlib import Path

import pytest

from intents.understander import Understander

DATA = Path(__file__).with_name("data")


def lines(name: str) -> list[str]:
    return [line for line in (DATA / name).read_text(encoding="utf-8").splitlines() if line and line[0] != "#"]


@pytest.mark.parametrize("line", lines("emergencies.txt"))
def test_somebody_who_needs_help_now_is_understood(line: str, understander: Understander) -> None:
    kind, _, text = line.partition(": ")
    assert understander.understand(text).topic == f"emergency.{kind}"


@pytest.mark.parametrize("line", lines("emergencies.txt"))
def test_capitals_and_exclamation_marks_hide_no_emergency(line: str, understander: Understander) -> None:
    kind, _, text = line.partition(": ")
    assert understander.understand(f"{text.upper()}!!!").topic == f"emergency.{kind}"


@pytest.mark.parametrize("text", lines("calm.txt"))
def test_a_calm_message_raises_no_alarm(text: str, understander: Understander) -> None:
    assert not (understander.understand(text).topic or "").startswith("emergency.")


def test_the_tables_hold_enough_of_each() -> None:
    assert len(lines("emergencies.txt")) >= 150
    assert len(lines("calm.txt")) >= 150
