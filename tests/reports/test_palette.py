"""Colours that can be read in the dark and told apart by colour-blind people; shapes that need no colour."""

from __future__ import annotations

from itertools import combinations

import pytest
from PIL import ImageChops, ImageStat

from bot.reports.palette import CARD, GROUND, MARKS, QUIET, RAIL, TEXT, TRACK, Mark
from bot.reports.symbols import symbol
from tests.reports.colourkit import DICHROMACY, contrast, difference, linear, seen_with

APART = 15.0
"""CIE 1976 difference asked of any two verdicts: over six times what is just noticeable. Common practice."""

PAIRS = list(combinations(MARKS, 2))
COLOURED = [pair for pair in PAIRS if "not_due" not in pair]
"""A duty that is not due is told by its small dot; it shares the grey of quiet text."""


def test_the_contrast_ratio_is_that_of_the_standard() -> None:
    """WCAG 2.1, definition of contrast ratio: 21 for black on white; #767676 on white is the known 4.54."""
    assert contrast((0, 0, 0), (255, 255, 255)) == pytest.approx(21)
    assert contrast((0x76, 0x76, 0x76), (255, 255, 255)) == pytest.approx(4.54, abs=0.005)


def test_the_colour_difference_is_that_of_the_standard() -> None:
    """CIE 1976 L*a*b*: white is (100, 0, 0) and black (0, 0, 0)."""
    assert difference((1, 1, 1), (0, 0, 0)) == pytest.approx(100, abs=0.01)


@pytest.mark.parametrize("kind", DICHROMACY)
def test_simulated_colour_blindness_leaves_greys_alone(kind: str) -> None:
    """Each row of a matrix adds up to one: a check of the transcription."""
    assert all(sum(row) == pytest.approx(1, abs=2e-6) for row in DICHROMACY[kind])


@pytest.mark.parametrize("text", [TEXT, QUIET])
@pytest.mark.parametrize("ground", [GROUND, CARD])
def test_text_has_the_contrast_that_reading_needs(text: tuple[int, int, int], ground: tuple[int, int, int]) -> None:
    """WCAG 2.1, 1.4.3: at least 4.5 to 1."""
    assert contrast(text, ground) >= 4.5


@pytest.mark.parametrize("mark", MARKS)
@pytest.mark.parametrize("ground", [CARD, RAIL])
def test_symbols_have_the_contrast_that_graphics_need(mark: Mark, ground: tuple[int, int, int]) -> None:
    """WCAG 2.1, 1.4.11: at least 3 to 1."""
    assert contrast(MARKS[mark], ground) >= 3


def test_a_bar_stands_out_from_its_track() -> None:
    """WCAG 2.1, 1.4.11: at least 3 to 1."""
    assert contrast(MARKS["on_time"], TRACK) >= 3


@pytest.mark.parametrize("pair", COLOURED)
def test_any_two_verdicts_differ_in_colour(pair: tuple[Mark, Mark]) -> None:
    assert difference(*(linear(MARKS[mark]) for mark in pair)) >= APART


@pytest.mark.parametrize("kind", DICHROMACY)
@pytest.mark.parametrize("pair", COLOURED)
def test_any_two_verdicts_differ_for_the_colour_blind(pair: tuple[Mark, Mark], kind: str) -> None:
    assert difference(*(seen_with(kind, MARKS[mark]) for mark in pair)) >= APART


@pytest.mark.parametrize("pair", PAIRS)
@pytest.mark.parametrize("size", [20, 50])
def test_any_two_marks_differ_in_shape(pair: tuple[Mark, Mark], size: int) -> None:
    """Of the ink of both together, at least a third is in only one of them."""
    one, other = (symbol(mark, size) for mark in pair)
    union = ImageStat.Stat(ImageChops.lighter(one, other)).sum[0]
    only_one = ImageStat.Stat(ImageChops.difference(one, other)).sum[0]
    assert only_one / union >= 1 / 3


@pytest.mark.parametrize("mark", MARKS)
def test_no_shape_is_cut_off(mark: Mark) -> None:
    """Whatever touches the edge is no more than the blur of a smooth edge."""
    shape = symbol(mark, 50)
    edges = [shape.crop(box) for box in ((0, 0, 50, 1), (0, 49, 50, 50), (0, 0, 1, 50), (49, 0, 50, 50))]
    assert all(ImageStat.Stat(edge).mean[0] < 64 for edge in edges)
