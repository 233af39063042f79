"""What is said in an emergency: short, sourced, the same in both languages, the outer cause of harm first."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from bot.content import places
from bot.content.dangers import load_dangers
from bot.content.emergencies import load_emergencies
from tests.content.contentkit import findings_of, line_of


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(places.EMERGENCIES, tmp_path / "emergencies"))


def spoil(file: Path, old: str, new: str) -> str:
    text = file.read_text(encoding="utf-8")
    assert old in text
    changed = text.replace(old, new, 1)
    file.write_text(changed, encoding="utf-8")
    return changed


def test_each_emergency_has_at_most_five_lines_and_something_to_say_later() -> None:
    shapes = load_emergencies().shapes
    assert set(shapes) == {"fire", "burn", "gas"}
    assert all(1 <= shape.lines <= 5 and shape.after >= 1 for shape in shapes.values())


def test_every_line_has_its_text_in_both_languages() -> None:
    read = load_emergencies()
    ids = {
        f"emergency.{kind}/{part}.{n}"
        for kind, shape in read.shapes.items()
        for part, count in (("line", shape.lines), ("after", shape.after))
        for n in range(1, count + 1)
    }
    assert set(read.texts["en"]) == set(read.texts["es"]) == ids


def test_at_a_fire_the_hood_system_comes_before_the_extinguisher() -> None:
    """Class K placard (NFPA 10, NFPA 96), restated in a trade FAQ."""
    texts = load_emergencies().texts
    for language, hood, extinguisher in (("en", "hood", "extinguisher"), ("es", "campana", "extintor")):
        said = " ".join(texts[language][f"emergency.fire/line.{n}"] for n in range(1, 6)).casefold()  # type: ignore[index]
        assert -1 < said.index(hood) < said.index(extinguisher)


def test_a_burn_is_cooled_for_20_minutes() -> None:
    """ANZCOR guideline 9.1.3."""
    texts = load_emergencies().texts
    assert "20 minutes" in texts["en"]["emergency.burn/line.1"]
    assert "20 minutos" in texts["es"]["emergency.burn/line.1"]


def test_a_sixth_line_is_a_fault(folder: Path) -> None:
    text = spoil(folder / "en.toml", "[fire]\nlines = [", '[fire]\nlines = [\n  "Go.",')
    found = findings_of(load_emergencies, folder)
    assert any(f.what == "there are 6 lines" and f.line == line_of(text, "lines = [") for f in found)


def test_a_number_must_be_sourced(folder: Path) -> None:
    text = spoil(folder / "en.toml", "for 20 minutes", "for 25 minutes")
    found = findings_of(load_emergencies, folder)
    line = line_of(text, "25 minutes")
    assert any(f.what == "the number 25 has no source" and f.line == line for f in found)
    assert any("not those of the English" in f.what and f.file.endswith("es.toml") for f in found)


def test_a_missing_emergency_is_a_fault(folder: Path) -> None:
    spoil(folder / "es.toml", "[gas]", "[gass]")
    found = findings_of(load_emergencies, folder)
    assert any(f.what == "[gas] is missing" for f in found)
    assert any('did you mean "gas"?' in f.todo for f in found)


def test_a_line_in_one_language_only_is_a_fault(folder: Path) -> None:
    spoil(folder / "es.toml", '  "Ni hielo, ni mantequilla, ni cremas.",\n', "")
    (found,) = findings_of(load_emergencies, folder)
    assert found.what == "4 lines here, 5 in English"


def test_an_unknown_placeholder_is_a_fault(folder: Path) -> None:
    spoil(folder / "en.toml", "{emergency_number}", "{number}")
    (found,) = findings_of(load_emergencies, folder)
    assert "unknown placeholder {number}" in found.what


def test_dangers_have_a_warning_and_phrases_in_both_languages() -> None:
    dangers = load_dangers()
    assert set(dangers.texts["en"]) == set(dangers.texts["es"])
    assert dangers.phrases["en"].keys() == dangers.phrases["es"].keys()
    assert all(phrases for language in dangers.phrases.values() for phrases in language.values())
    assert "danger.water_on_fire/warning" in dangers.texts["en"]


def test_a_danger_in_one_language_only_is_a_fault(tmp_path: Path) -> None:
    folder = Path(shutil.copytree(places.DANGERS, tmp_path / "dangers"))
    spoil(folder / "es.toml", "[water_on_fire]", "[agua]")
    found = findings_of(load_dangers, folder)
    assert {f.what for f in found} == {
        'the danger "agua" is missing here',
        'the danger "water_on_fire" is missing here',
    }
