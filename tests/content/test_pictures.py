"""The drawings that go with guide steps: all there, light enough to send, readable in both languages."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from xml.etree import ElementTree

import pytest
from PIL import Image, ImageColor

from bot.content import places

TEXT = "{http://www.w3.org/2000/svg}text"

WIDE_ENOUGH = 800
"""Pixels. Common practice: sharp across a phone held upright."""

LIGHT_ENOUGH = 80_000
"""Bytes. Our own bound, so that a step still arrives over a weak kitchen network."""

LETTERS = 36
"""Font size in pixels: on a phone that shows the drawing 360 points wide, 14 points. Common practice."""

OKABE_ITO = {"#E69F00", "#56B4E9", "#009E73", "#F0E442", "#0072B2", "#D55E00", "#CC79A7"}
"""The colours of M. Okabe and K. Ito, "Color Universal Design" (2008), that are neither black nor grey."""


def named_in_guides() -> dict[str, set[str]]:
    """Each picture a guide names, and the languages of the guides that name it."""
    named: dict[str, set[str]] = {}
    for guide in places.GUIDES.glob("*/*.toml"):
        for step in tomllib.loads(guide.read_text(encoding="utf-8")).get("steps", ()):
            if "picture" in step:
                named.setdefault(step["picture"], set()).add(guide.stem)
    return named


NAMED = named_in_guides()

each_picture = pytest.mark.parametrize("name", sorted(NAMED))


def svg(name: str) -> Path:
    return places.PICTURES / f"{name}.svg"


def png(name: str) -> Path:
    return places.PICTURES / f"{name}.png"


def labels(name: str, language: str) -> list[str]:
    drawn = ElementTree.parse(svg(name)).iter(TEXT)
    return [(label.text or "").strip() for label in drawn if label.get("lang") == language]


def test_guides_name_pictures_and_every_picture_is_named() -> None:
    """No picture is missing as drawing or as PNG, and none lies about unused."""
    assert NAMED
    assert {path.stem for path in places.PICTURES.glob("*.svg")} == set(NAMED)
    assert {path.stem for path in places.PICTURES.glob("*.png")} == set(NAMED)


@each_picture
def test_a_picture_is_named_in_both_languages(name: str) -> None:
    """One file serves the English guide and the Spanish one."""
    assert NAMED[name] == {"en", "es"}


@each_picture
def test_the_png_opens_and_is_wide_and_light_enough(name: str) -> None:
    """Pillow reads it to the end; it is wide enough to be sharp and light enough to send."""
    with Image.open(png(name)) as picture:
        picture.load()
        assert picture.format == "PNG"
        assert picture.width >= WIDE_ENOUGH
    assert png(name).stat().st_size < LIGHT_ENOUGH


@each_picture
def test_the_png_has_the_shape_of_its_drawing_on_white(name: str) -> None:
    """A drawing whose size changed was rendered again; its corners are white, none see-through."""
    _, _, width, height = map(float, ElementTree.parse(svg(name)).getroot().attrib["viewBox"].split())
    with Image.open(png(name)) as picture:
        assert picture.height / picture.width == pytest.approx(height / width, abs=1 / picture.width)
        full = picture.convert("RGBA")
    right, bottom = full.width - 1, full.height - 1
    corners = {full.getpixel(corner) for corner in ((0, 0), (right, 0), (0, bottom), (right, bottom))}
    assert corners == {(255, 255, 255, 255)}


@each_picture
def test_every_label_stands_in_both_languages(name: str) -> None:
    """As many Spanish labels as English ones, none empty, and no word without its language."""
    english, spanish = labels(name, "en"), labels(name, "es")
    assert english
    assert len(english) == len(spanish)
    assert all(english + spanish)
    unmarked = [label.text or "" for label in ElementTree.parse(svg(name)).iter(TEXT) if "lang" not in label.attrib]
    assert all(text.isdigit() for text in unmarked)


@each_picture
def test_labels_are_large(name: str) -> None:
    """Every font size is one that a cook can read on a phone."""
    sizes = [int(size) for size in re.findall(r"font-size: (\d+)px", svg(name).read_text(encoding="utf-8"))]
    assert sizes
    assert min(sizes) >= LETTERS


@each_picture
def test_at_most_two_colours_and_safe_ones(name: str) -> None:
    """Beside black, white and greys there are at most two colours, all told apart by colour-blind people."""
    used = {code.upper() for code in re.findall(r"#[0-9A-Fa-f]{3,6}\b", svg(name).read_text(encoding="utf-8"))}
    coloured = {code for code in used if len(set(ImageColor.getrgb(code))) > 1}
    assert len(coloured) <= 2
    assert coloured <= OKABE_ITO
