"""Guides load whole or not at all: every fault of every file at once, with its line."""

from __future__ import annotations

from pathlib import Path

import pytest

from bot.content import places
from bot.content.duty_kinds import load_duty_kinds
from bot.content.guides import References, load_guides, references
from bot.core.library import GuideShape, StepShape
from intents.topics import topics
from tests.content.contentkit import ABOUT, ENGLISH, SPANISH, findings_of, line_of, write_guide

KNOWN = References(frozenset({"guide.skim", "guide.drain"}), frozenset({"pad_change"}), frozenset({"skimming"}))


def test_a_sound_guide_gives_its_shape_and_its_texts_in_both_languages(tmp_path: Path) -> None:
    write_guide(tmp_path)
    guides = load_guides([tmp_path], KNOWN)
    assert guides.shapes["guide.skim"] == GuideShape(
        topic="guide.skim",
        kind="walk",
        hot_oil=True,
        risk="high",
        not_when=1,
        gear=2,
        cautions=1,
        takes=True,
        steps=(StepShape(see=True), StepShape(if_not=True), StepShape(), StepShape()),
    )
    assert guides.texts["en"]["guide.skim/title"] == "Skim the oil"
    assert guides.texts["es"]["guide.skim/caution.1"] == "El aceite arde, cerca de 350 °F (177 °C)."
    assert guides.texts["es"]["guide.skim/step.2.if_not"] == "Toma uno seco."
    assert set(guides.texts["en"]) == set(guides.texts["es"])


def test_every_part_of_a_guide_has_an_id(tmp_path: Path) -> None:
    write_guide(tmp_path)
    ids = {name.removeprefix("guide.skim/") for name in load_guides([tmp_path], KNOWN).texts["en"]}
    assert ids == {
        "title", "purpose", "takes", "not_when.1", "gear.1", "gear.2", "caution.1",
        "step.1", "step.1.see", "step.2", "step.2.if_not", "step.3", "step.4",
    }  # fmt: skip


def test_a_later_folder_wins_and_leaves_nothing_of_the_earlier_guide(tmp_path: Path) -> None:
    write_guide(tmp_path / "a")
    ours = ENGLISH.replace("Skim the oil", "Our way").replace('gear = ["Gloves", "Skimmer"]', "gear = []")
    theirs = SPANISH.replace('gear = ["Guantes", "Colador"]', "gear = []")
    write_guide(tmp_path / "b", english=ours, spanish=theirs)
    guides = load_guides([tmp_path / "a", tmp_path / "b"], KNOWN)
    assert guides.texts["en"]["guide.skim/title"] == "Our way"
    assert "guide.skim/gear.1" not in guides.texts["en"]
    assert guides.shapes["guide.skim"].gear == 0


def test_a_folder_that_is_not_there_is_a_finding(tmp_path: Path) -> None:
    (found,) = findings_of(load_guides, [tmp_path / "none"])
    assert "no such folder" in found.what


def test_what_a_guide_may_refer_to_is_only_checked_where_it_is_known(tmp_path: Path) -> None:
    write_guide(tmp_path, "mop", about=ABOUT.replace("guide.skim", "guide.mop"))
    assert "guide.mop" in load_guides([tmp_path]).shapes


A_LONG_SENTENCE = "word " * 20 + "word."
HARD_SPANISH = "Inmediatamente descontaminaríamos comprensivamente. " * 4
NO_CAUTIONS = 'cautions = ["The oil is hot, near 350 °F (177 °C)."]', "cautions = []"
HARD_WORDS = "Immediately facilitate comprehensive decontamination operations. " * 2

FAULTS = [
    # file, old, new, piece of the new text on whose line it is reported, what, todo
    ("about", 'topic = "guide.skim"', 'topic = "guide.drain"', "topic", "not that of its folder", '"guide.skim"'),
    ("about", 'kind = "walk"', 'kind = "tour"', "kind", 'unknown kind "tour"', '"walk", "answer"'),
    ("about", "hot_oil = true\n", "", None, '"hot_oil" is missing', "add hot_oil"),
    ("about", "hot_oil = true", 'hot_oil = "yes"', "hot_oil", "true or false", "without quotes"),
    ("about", "by_power = false", 'by_power = false\nlogs = "pad"', "logs", 'unknown duty "pad"', ""),
    ("about", "by_power = false", 'by_power = false\nresets = "motor"', "resets", "unknown part", '"pump"'),
    ("about", "by_power = false", "by_power = true", "by_power", "every step is for all", "by_power = false"),
    ("about", "by_power = false", "bypower = false", "bypower", "unknown key", 'did you mean "by_power"?'),
    ("about", '"2 minutes" = "common practice"', '"2 minutes" = 3', '"2 minutes"', "must be a text", ""),
    ("en", "title = ", "titel = ", "titel", 'unknown key "titel"', 'did you mean "title"?'),
    ("en", 'say = "Lift the crumbs out."', 'do = "Lift"', "[[steps]]\ndo", '"say" is missing', "add say"),
    ("en", 'say = "Lift the crumbs out."', "say = 3", "say = 3", "must be a text", "in quotes"),
    ("en", "Lift the crumbs out.", A_LONG_SENTENCE, "word word", "a sentence of 21 words", "make it two"),
    ("en", "Lift the crumbs out.", "Lift. Look. Go.", "Lift.", "a step of 3 sentences", "two steps"),
    ("en", "Lift the crumbs out.", "Lift 5 crumbs.", "Lift 5", "the number 5 has no source", "[sources]"),
    ("en", "350 °F (177 °C)", "350 °F", "350", "without its °C", "(177 °C)"),
    ("en", "Lift the crumbs out.", "Lift {crumbs}.", "Lift", "unknown placeholder {crumbs}", "service_contact"),
    ("en", "Lift the crumbs out.", "Lift {crumbs.", "Lift", "the braces don't match", "{name}"),
    ("en", "Lift the crumbs out.", "Lift {0}.", "Lift", "{0} is no placeholder", "{name}"),
    ("en", "Clean oil lasts.", HARD_WORDS, None, "reading ease", "shorter words"),
    ("es", "Aceite limpio dura más.", HARD_SPANISH, None, "reading ease", ""),
    ("en", "Lift the crumbs out.\"", "Lift.\"\npicture = \"skiming\"", "skiming", "no picture", '"skimming"?'),
    ("es", '"Guantes", "Colador"', '"Guantes"', "gear", "1 gear here, 2 in English", "make them the same"),
    ("es", 'takes = "Unos 2 minutos."\n', "", None, "0 takes here, 1 in English", "make them the same"),
    ("es", 'see = "No se ve piel."\n', "", "[[steps]]", '"see" stands in one language only', "in both"),
    ("es", 'say = "Saca las migas."', 'say = "Saca las migas."\npower = "gas"', "power", '"power" is not the same', ""),
    ("es", "Unos 2 minutos.", "Unos minutos.", "takes", "numbers are not those of the English", ""),
    ("es", "Saca las migas.\"\n\n[[", "Saca {fryer}.\"\n\n[[", "Saca {fryer}", "placeholders are not those", ""),
    ("en", *NO_CAUTIONS, "cautions", "there are 0 cautions", "1 to 5"),
]  # fmt: skip


@pytest.mark.parametrize(("file", "old", "new", "piece", "what", "todo"), FAULTS)
def test_a_fault_is_reported_with_its_line_and_what_to_do(
    tmp_path: Path, file: str, old: str, new: str, piece: str | None, what: str, todo: str
) -> None:
    texts = {"about": ABOUT, "en": ENGLISH, "es": SPANISH}
    assert old in texts[file]
    texts[file] = texts[file].replace(old, new, 1)
    place = write_guide(tmp_path, "skim", texts["about"], texts["en"], texts["es"])
    found = findings_of(load_guides, [tmp_path], KNOWN)
    where = str(place / f"{file}.toml")
    line = line_of(texts[file], piece) if piece is not None else 1
    assert any(f.file == where and f.line == line and what in f.what and todo in f.todo for f in found), [
        str(f) for f in found
    ]


def test_an_unsourced_number_is_reported_in_each_language(tmp_path: Path) -> None:
    place = write_guide(tmp_path, about=ABOUT.replace('"2 minutes" = "common practice"\n', ""))
    found = findings_of(load_guides, [tmp_path], KNOWN)
    assert {f.file for f in found} == {str(place / "en.toml"), str(place / "es.toml")}
    assert {f.what for f in found} == {"the number 2 has no source"}


@pytest.mark.parametrize("file", ["about", "en", "es"])
def test_a_missing_file_of_a_guide_is_a_finding(tmp_path: Path, file: str) -> None:
    place = write_guide(tmp_path)
    (place / f"{file}.toml").unlink()
    (found,) = findings_of(load_guides, [tmp_path], KNOWN)
    assert found.file == str(place / f"{file}.toml")
    assert found.what == "there is no such file"


def test_a_walk_has_at_least_four_steps(tmp_path: Path) -> None:
    english = ENGLISH.replace('[[steps]]\nsay = "Drop them in the bin."\n', "")
    spanish = SPANISH.replace('[[steps]]\nsay = "Tira todo en el bote."\n', "")
    write_guide(tmp_path, english=english, spanish=spanish)
    found = findings_of(load_guides, [tmp_path], KNOWN)
    assert {(f.what, f.todo) for f in found} == {("there are 3 steps", "write 4 to 14")}


def test_an_answer_logs_nothing(tmp_path: Path) -> None:
    about = ABOUT.replace('kind = "walk"', 'kind = "answer"\nlogs = "pad_change"')
    write_guide(tmp_path, about=about)
    (found,) = findings_of(load_guides, [tmp_path], KNOWN)
    assert (found.line, found.what) == (3, '"logs" needs a walk, and this guide is an answer')


def test_steps_that_differ_by_power_must_be_announced(tmp_path: Path) -> None:
    english = ENGLISH.replace('say = "Lift the crumbs out."', 'say = "Lift the crumbs out."\npower = "gas"')
    spanish = SPANISH.replace('say = "Saca las migas."', 'say = "Saca las migas."\npower = "gas"')
    write_guide(tmp_path, english=english, spanish=spanish)
    (found,) = findings_of(load_guides, [tmp_path], KNOWN)
    assert (found.line, found.todo) == (5, "write by_power = true")


def test_every_guide_that_travels_with_the_program_is_sound() -> None:
    guides = load_guides([places.GUIDES], references(load_duty_kinds()))
    assert set(guides.texts["en"]) == set(guides.texts["es"])


def test_every_guide_topic_has_its_guide() -> None:
    guides = load_guides([places.GUIDES])
    assert {t.id for t in topics().values() if t.inside and t.id.startswith("guide.")} == set(guides.shapes)


def test_nobody_under_16_is_led_through_a_reset() -> None:
    """A reset is work at a fryer that was just at frying heat: US DOL Fact Sheet 58 (2010)."""
    shapes = load_guides([places.GUIDES]).shapes.values()
    assert [s.topic for s in shapes if s.resets is not None and not s.hot_oil] == []


def test_every_guide_with_hot_oil_has_a_caution_before_its_first_step() -> None:
    assert [s.topic for s in load_guides([places.GUIDES]).shapes.values() if s.hot_oil and s.cautions == 0] == []
