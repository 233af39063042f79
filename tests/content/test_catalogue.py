"""All content together: it loads, and the program asks for no text that isn't there."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

import bot
from bot.content import places
from bot.content.catalogue import Content, load_content
from bot.content.check import check
from bot.content.kitchen_file import read_kitchen
from bot.content.templates import GIVEN
from bot.core.messages import Words
from bot.reports.picture_words import DATE_LABEL, LABELS
from intents.topics import topics
from intents.types import Language
from tests.content.contentkit import ENGLISH, KITCHEN, findings_of, write_guide

NOW = datetime(2026, 9, 15, tzinfo=UTC)
SOURCES = sorted(Path(str(bot.__file__)).parent.rglob("*.py"))


@pytest.fixture(scope="module")
def content() -> Content:
    return load_content()


def calls(name: str = "Words") -> Iterator[tuple[str, ast.Call]]:
    """Every ``Words(...)`` or ``something.text(...)`` in the program, and where it stands."""
    for source in SOURCES:
        for node in ast.walk(ast.parse(source.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and node.args:
                called = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
                if called == name:
                    yield f"{source.name}:{node.lineno}", node


def literal_ids(node: ast.expr) -> Iterator[str]:
    match node:
        case ast.Constant(value=str() as words_id):
            yield words_id
        case ast.IfExp(body=body, orelse=orelse):
            yield from literal_ids(body)
            yield from literal_ids(orelse)


def pattern(node: ast.JoinedStr) -> str:
    return "".join(re.escape(str(v.value)) if isinstance(v, ast.Constant) else ".+" for v in node.values)


def test_every_text_that_the_program_names_is_there(content: Content) -> None:
    lost = [f"{at}: {i}" for at, call in calls() for i in literal_ids(call.args[0]) if i not in content.wording.ids]
    assert lost == []


def test_every_text_that_a_door_names_is_there(content: Content) -> None:
    asked = [
        (at, words_id)
        for at, call in calls("text")
        for words_id in literal_ids(call.args[0])
        if re.fullmatch(r"[a-z_]+\.[a-z_.]+", words_id)
    ]
    assert [f"{at}: {words_id}" for at, words_id in asked if words_id not in content.wording.ids] == []


def test_every_label_of_a_picture_is_there_and_asks_for_nothing(content: Content) -> None:
    assert set(LABELS) - content.wording.ids == set()
    assert [label for label in LABELS if content.wording.placeholders(label)] == []
    assert content.wording.placeholders(DATE_LABEL) == {"on"}


def test_every_family_of_texts_that_the_program_names_has_members(content: Content) -> None:
    lost = [
        f"{at}: {pattern(call.args[0])}"
        for at, call in calls()
        if isinstance(call.args[0], ast.JoinedStr)
        and not any(re.fullmatch(pattern(call.args[0]), words_id) for words_id in content.wording.ids)
    ]
    assert lost == []


def test_a_text_gets_every_parameter_that_it_has_a_place_for(content: Content) -> None:
    """Where the call spells its parameters out; a dictionary made elsewhere can't be read from the source."""
    lost = []
    for at, call in calls():
        params = call.args[1] if len(call.args) > 1 else ast.Dict([], [])
        if not isinstance(params, ast.Dict) or not all(isinstance(key, ast.Constant) for key in params.keys):
            continue
        given = {key.value for key in params.keys if isinstance(key, ast.Constant)}
        for words_id in literal_ids(call.args[0]):
            if words_id in content.wording.ids:
                missing = content.wording.placeholders(words_id) - given - GIVEN
                missing |= {"n"} - given if content.wording.is_plural(words_id) else set()
                lost += [f"{at}: {words_id} lacks {name}" for name in sorted(missing)]
    assert lost == []


@pytest.mark.parametrize("language", ["en", "es"])
def test_every_text_can_be_said_and_no_brace_is_left_in_it(content: Content, language: Language) -> None:
    kitchen = read_kitchen(places.demo_folder() / "kitchen.toml")
    for words_id in content.wording.ids:
        filled = dict.fromkeys(content.wording.placeholders(words_id) - GIVEN, "x")
        said = content.wording.render(Words(words_id, filled), language, kitchen, NOW)
        assert said
        assert not re.search(r"[{}]|\.\.(?!\.)", said), f"{words_id}: {said}"


def test_every_duty_topic_and_incident_has_a_name(content: Content) -> None:
    wanted = {f"duty.{duty}" for duty in content.library.duties}
    wanted |= {f"topic.{topic.id}" for topic in topics().values() if topic.inside}
    wanted |= {f"incident.{kind}" for kind in content.library.emergencies}
    assert wanted - content.wording.ids == set()


def test_every_text_of_guides_and_emergencies_is_in_the_catalogue(content: Content) -> None:
    for topic, shape in content.library.guides.items():
        assert {f"{topic}/step.{n}" for n in range(1, len(shape.steps) + 1)} <= content.wording.ids
    assert "emergency.fire/line.1" in content.wording.ids
    assert "danger.water_on_fire/warning" in content.wording.ids


def test_every_fault_has_its_shape_and_title(content: Content) -> None:
    assert content.library.faults
    assert {f"{topic}/title" for topic in content.library.faults} <= content.wording.ids


def test_every_duty_kind_leads_to_a_guide_that_is_there(content: Content) -> None:
    assert {kind.guide for kind in content.library.duties.values()} <= {None, *content.library.guides}


def test_what_a_guide_logs_is_the_duty_that_leads_to_it(content: Content) -> None:
    for topic, guide in content.library.guides.items():
        if guide.logs is not None:
            assert content.library.duties[guide.logs].guide == topic


def test_a_kitchens_own_guide_replaces_the_built_in_one(tmp_path: Path) -> None:
    write_guide(tmp_path, english=ENGLISH.replace("Skim the oil", "Our own way"))
    content = load_content(tmp_path)
    kitchen = read_kitchen(places.demo_folder() / "kitchen.toml")
    assert content.wording.render(Words("guide.skim/title"), "en", kitchen, NOW) == "Our own way"
    assert "guide.drain" in content.library.guides


def test_a_faulty_guide_of_the_kitchen_stops_the_start(tmp_path: Path) -> None:
    place = write_guide(tmp_path, english=ENGLISH.replace("Lift the crumbs out.", "Lift 7 crumbs."))
    (found, *_) = findings_of(load_content, tmp_path)
    assert found.file == str(place / "en.toml")


def test_every_picture_is_found_by_its_name(content: Content) -> None:
    shown = {step.picture for guide in content.library.guides.values() for step in guide.steps if step.picture}
    assert [name for name in sorted(shown) if content.picture(name) is None] == []
    assert content.picture("no_such_picture") is None


# --- check ---


def test_what_travels_with_the_program_has_no_faults() -> None:
    assert [str(finding) for finding in check(places.demo_folder() / "kitchen.toml")] == []


def test_check_collects_the_faults_of_all_files(tmp_path: Path) -> None:
    kitchen = tmp_path / "kitchen.toml"
    kitchen.write_text(KITCHEN.replace('"gas"', '"coal"'), encoding="utf-8")
    guide = write_guide(tmp_path / "guides", english=ENGLISH.replace("Lift the crumbs out.", "Lift 7 crumbs."))
    phrases = tmp_path / "phrases"
    (phrases / "en").mkdir(parents=True)
    (phrases / "en" / "guide.nothing.txt").write_text("how\n", encoding="utf-8")
    found = check(kitchen, guides=tmp_path / "guides", phrases=[phrases])
    files = {finding.file for finding in found}
    assert files >= {str(kitchen), str(guide / "en.toml"), str(phrases / "en" / "guide.nothing.txt")}
    assert found == sorted(found)
    assert all(re.fullmatch(r".+:\d+: [^;]+; .+", str(finding)) for finding in found)
