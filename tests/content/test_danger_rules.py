"""The files of the dangers' signs: what a trainer may get wrong, and where it is said."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from bot.content import places
from bot.content.danger_signs import DangerSigns, Sign
from bot.content.dangers import load_dangers, lost_offers
from bot.core.library import DangerShape
from tests.content.contentkit import findings_of


def spoil(file: Path, old: str, new: str) -> str:
    text = file.read_text(encoding="utf-8")
    assert old in text
    changed = text.replace(old, new, 1)
    file.write_text(changed, encoding="utf-8")
    return changed


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(places.DANGERS, tmp_path / "dangers"))


def test_an_idea_without_words_in_a_language_is_a_fault(folder: Path) -> None:
    spoil(folder / "ideas.es.toml", "water_extinguisher = ", "water_bottle = ")
    found = findings_of(load_dangers, folder)
    assert {Path(finding.file).name for finding in found} == {"signs.toml", "ideas.es.toml"}
    assert any('"water_extinguisher" has no words' in finding.what for finding in found)
    assert any('no sign holds the idea "water_bottle"' in finding.what for finding in found)


def test_a_danger_without_signs_is_a_fault(folder: Path) -> None:
    spoil(folder / "signs.toml", "[skip_gear]", "[skip_gears]")
    found = findings_of(load_dangers, folder)
    assert {finding.what for finding in found} == {
        'there is no danger "skip_gears"',
        'the danger "skip_gear" has no signs',
    }


def test_a_star_in_the_middle_is_a_fault(folder: Path) -> None:
    spoil(folder / "ideas.en.toml", '"throw*"', '"th*row"')
    (found,) = findings_of(load_dangers, folder)
    assert "only at the end" in found.what


def test_an_offer_that_nothing_answers_is_a_fault() -> None:
    (found,) = lost_offers({"skip_gear": DangerShape(("guide.nothing",))}, ["guide.skim"], {})
    assert 'no answer to "guide.nothing"' in found.what


def test_a_sign_needs_all_of_its_ideas_and_none_of_those_that_rule_it_out() -> None:
    signs = DangerSigns(
        [Sign("ice", (frozenset({"ice", "oil"}),), frozenset({"food"}))],
        [{"ice": ["ice"], "oil": ["hot oil", "grease*"], "food": ["fries"]}, {"ice": ["hielo"]}],
    )
    assert signs.danger_in("ice in hot oil") == "ice"
    assert signs.danger_in("hielo in the greasepot") == "ice", "languages mix, and a star is any ending"
    assert signs.danger_in("ice in oil that is hot") is None, "words of an idea stand side by side"
    assert signs.danger_in("ice on the fries and hot oil") is None
    assert signs.danger_in("") is None


def test_of_two_dangers_the_one_further_up_is_told() -> None:
    signs = DangerSigns(
        [Sign("fire", (frozenset({"fire"}),)), Sign("ice", (frozenset({"ice"}),))], [{"fire": ["fire"], "ice": ["ice"]}]
    )
    assert signs.danger_in("ice on the fire") == "fire"
