"""Reading ease by published formulas."""

from __future__ import annotations

import pytest

from bot.content import readability
from bot.content.readability import (
    english_syllables,
    fernandez_huerta,
    flesch,
    sentences,
    spanish_syllables,
    words,
)

THE_CAT = "The cat sat on the mat."
AUSTRALIAN_PLATYPUS = "The Australian platypus is seemingly a hybrid of a mammal and reptilian creature."
"""Worked examples in wide use (recalled); 6 words in 1 sentence with 6 syllables, and 13 in 1 with 24."""


def test_flesch_of_the_short_worked_example() -> None:
    assert flesch([THE_CAT]) == pytest.approx(116.145, abs=0.0005)


def test_flesch_of_the_long_worked_example(monkeypatch: pytest.MonkeyPatch) -> None:
    """With the syllables that the example counts: the formula is what is tested, not our counting."""
    counted = iter([1, 3, 3, 1, 3, 1, 2, 1, 1, 2, 1, 3, 2])
    monkeypatch.setattr(readability, "english_syllables", lambda _: next(counted))
    assert flesch([AUSTRALIAN_PLATYPUS]) == pytest.approx(37.455, abs=0.0005)


def test_fernandez_huerta_by_hand() -> None:
    """Two sentences, six words, ten syllables: 206.84 - 60 * 10/6 - 1.02 * 6/2."""
    assert fernandez_huerta(["Abre la tapa. Saca el filtro."]) == pytest.approx(206.84 - 60 * 10 / 6 - 1.02 * 3)


@pytest.mark.parametrize("ease", [flesch, fernandez_huerta])
def test_without_words_there_is_no_ease(ease: object) -> None:
    with pytest.raises(ValueError, match="no words"):
        ease(["...", ""])  # type: ignore[operator]


@pytest.mark.parametrize(
    ("word", "count"),
    [
        ("pan", 1), ("filter", 2), ("change", 1), ("table", 2), ("handles", 2), ("gloves", 1), ("changed", 1),
        ("heated", 2), ("people", 2), ("safe", 1), ("boxes", 2), ("see", 1), ("reservoir", 3), ("the", 1), ("30", 1),
    ],
)  # fmt: skip
def test_english_syllables(word: str, count: int) -> None:
    assert english_syllables(word) == count


@pytest.mark.parametrize(
    ("word", "count"),
    [
        ("pan", 1), ("aceite", 3), ("freidora", 3), ("vacía", 3), ("leer", 2), ("guantes", 2), ("queso", 2),
        ("bien", 1),
        ("pingüino", 3), ("hay", 1), ("ahí", 2), ("ciudad", 2), ("baúl", 2), ("aéreo", 4), ("y", 1), ("limpiéis", 2),
        ("cuidado", 3), ("30", 1),
    ],
)  # fmt: skip
def test_spanish_syllables_split_a_hiatus_and_keep_a_diphthong(word: str, count: int) -> None:
    assert spanish_syllables(word) == count


def test_a_figure_and_a_contraction_are_one_word_each() -> None:
    assert words("Don't heat 1,234.5 non-stick pans (now)!") == ["Don't", "heat", "1,234.5", "non-stick", "pans", "now"]


def test_a_decimal_point_ends_no_sentence() -> None:
    assert sentences("Wait 2.5 min. Then go! … ¿Ya?") == ["Wait 2.5 min.", "Then go!", "¿Ya?"]
