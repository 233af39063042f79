"""Figures in texts: sourced, with a proper unit, and the right °C beside each °F."""

from __future__ import annotations

import pytest
from hypothesis import given, strategies as st

from bot.content.fields import Fault
from bot.content.numbers import check_units, numbers_in, unsourced


def test_a_number_without_a_source_is_named() -> None:
    assert unsourced("Wait 30 minutes at 165 °F (74 °C).", ["165 °F, 74 °C"]) == ["30"]


def test_a_part_of_a_sourced_number_is_no_source() -> None:
    assert unsourced("Wait 30 minutes.", ["300 drops", "13.30"]) == ["30"]


def test_numbers_in_placeholders_do_not_count() -> None:
    assert numbers_in("{text_2} and 1,234.5 of 6") == ["1,234.5", "6"]


@pytest.mark.parametrize(
    "text",
    [
        "Heat to 350 °F (177 °C).",
        "Keep 325 to 375 °F (163 to 191 °C).",
        "Entre 325 a 375 °F (163 a 191 °C).",
        "At 41 °F (5 °C) or less.",
        "Off by no more than 2 °F, or 1 °C if it shows °C.",
        "Wait 30 min, then 25 % more.",
        "Class K, 3 seals, within 30 ft (9 m).",
    ],
)
def test_well_written_figures_pass(text: str) -> None:
    check_units(text)


@pytest.mark.parametrize(
    ("text", "todo"),
    [
        ("Heat to 350 °F.", "write (177 °C) right after it"),
        ("Heat to 350 °F, that is hot (177 °C).", "write (177 °C) right after it"),
        ("Heat to 350 °F (179 °C).", "write (177 °C)"),
        ("Keep 325 to 375 °F (163 to 195 °C).", "write (163 to 191 °C)"),
        ("Keep 325 to 375 °F (163 °C).", "write (163 to 191 °C)"),
        ("Off by no more than 2 °F.", "add (1 °C)"),
        ("Heat to 350°F (177 °C).", "350 °F (177 °C)"),
        ("Heat to 350 F.", "350 °F (177 °C)"),
        ("Heat to 350 degrees.", "350 °F (177 °C)"),
        ("Calienta a 350 grados.", "350 °F (177 °C)"),
        ("Wait 30min.", "30 min"),
        ("At 25% or more.", "25 %"),
    ],
)
def test_badly_written_figures_are_faults(text: str, todo: str) -> None:
    with pytest.raises(Fault) as caught:
        check_units(text)
    assert todo in caught.value.todo


@given(st.integers(30, 900), st.integers(-60, 60))
def test_a_conversion_passes_if_it_is_right_within_a_degree(fahrenheit: int, off: int) -> None:
    celsius = round((fahrenheit - 32) * 5 / 9) + off
    text = f"At {fahrenheit} °F ({celsius} °C)."
    if celsius < 0:
        return
    if abs(celsius - (fahrenheit - 32) * 5 / 9) <= 1:
        check_units(text)
    else:
        with pytest.raises(Fault):
            check_units(text)
