"""The faults' content: what is shipped is sound, and each slip of an editor's pen is found where it stands."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from bot.content import places
from bot.content.fault_files import FAULTS, LANGUAGES, Faults, Known, load_faults
from bot.content.findings import ContentError
from bot.content.guides import load_guides
from bot.content.templates import template
from bot.core.diagnosis import PREFIX, order
from bot.core.evidence import FACTS
from bot.core.kitchen import Fryer
from bot.core.messages import Words
from bot.core.records import OutageBegan, OutageEnded, ReadingTaken, ResetTried, WaitStarted
from tests.core.stage import daily, local
from tests.core.test_evidence import Log, every, log

TOPICS = {
    "wont_drain", "wont_filter", "slow_return", "no_heat", "too_hot", "foam", "smoke", "leak", "no_top_up",
    "no_power", "food_quality",
}  # fmt: skip


@pytest.fixture(scope="module")
def shipped() -> Faults:
    return load_faults(known=Known(guides=load_guides([places.GUIDES]).shapes))


def test_every_fault_that_can_be_asked_about_has_its_causes_in_both_languages(shipped: Faults) -> None:
    assert set(shipped.shapes) == {PREFIX + name for name in TOPICS}
    assert set(shipped.texts["en"]) == set(shipped.texts["es"])


def test_the_texts_are_those_that_the_skill_asks_for(shipped: Faults) -> None:
    for topic, shape in shipped.shapes.items():
        parts = ["title", "none_found", *(f"caution.{n + 1}" for n in range(shape.cautions))]
        parts += [f"{part}.{cause.id}" for cause in shape.causes for part in ("name", "check", "fix")]
        for language in LANGUAGES:
            assert {f"{topic}/{part}" for part in parts} <= set(shipped.texts[language])


def test_what_burns_spills_or_smokes_is_switched_off_first(shipped: Faults) -> None:
    stops = {topic for topic, shape in shipped.shapes.items() if shape.stop}
    assert stops == {"fault.too_hot", "fault.foam", "fault.smoke", "fault.leak"}


def test_nobody_under_16_is_sent_to_check_near_hot_oil(shipped: Faults) -> None:
    for shape in shipped.shapes.values():
        if shape.hot_oil or shape.stop:
            assert not any(cause.safe_for_under_16 for cause in shape.causes)


def test_a_pad_that_was_not_changed_is_looked_at_first_when_the_oil_comes_back_slowly(shipped: Faults) -> None:
    causes = shipped.shapes["fault.slow_return"].causes_on("gas")
    assert order(causes, frozenset({"pad_not_changed_2_days"}))[0].id == "pad"
    assert order(causes, frozenset({"just_changed_seals_today"}))[0].id == "wrong_seal"
    assert order(causes, frozenset({"just_changed_pad_today"}))[0].id == "seat"


def every_fact() -> list[Words]:
    """Every reason there is, with the parameters that the log gives it."""
    old = log(
        every(90, "seal_replacement", "10:30", "2026-01-01"),
        every(14, "boil_out", "14:30", "2026-08-01"),
        every(2, "reservoir_swap", "11:00", "2026-09-01"),
        daily("closing_filter", "22:15", ("1", "2", "3")),
    )
    old.did("oil_change", "2026-09-02 21:00").did("pad_change", "2026-09-02 21:00")
    old.wrote("2026-09-14 12:00", OutageBegan(90, "2", "ben")).wrote("2026-09-14 13:00", OutageEnded(91, "2", "ben"))
    for hour in (10, 11):
        old.wrote(f"2026-09-15 {hour}:00", ResetTried("2", "high_limit", True, "ben"))
    for part in ("high_limit", "pump"):
        old.wrote("2026-09-15 12:00", WaitStarted("2", part, local("2026-09-15 12:30"), "ben", "ben"))
    old.wrote("2026-09-15 12:10", ReadingTaken(92, "oil_test", "2", 26, "percent", "ben"))
    fresh = log()
    for duty in ("pad_change", "seal_replacement", "reservoir_swap", "boil_out", "oil_change"):
        fresh.did(duty, "2026-09-15 11:00")
    duties = (daily(duty, "21:30", ("1", "2", "3")) for duty in ("pad_change", "seal_replacement", "oil_change"))
    never = log(*duties, began="2026-01-01 09:00")
    found: list[Words] = []
    for each in (old, fresh, never):
        assert isinstance(each, Log)
        found += each.facts("2026-09-15 12:20").values()
    for worn, heat in ((15.0, 390.0), (16.0, 300.0)):
        morning = log().did("midshift_filter", "2026-09-15 09:45")
        morning.wrote("2026-09-15 10:00", ReadingTaken(93, "oil_test", "2", worn, "percent", "ben"))
        morning.wrote("2026-09-15 10:10", ReadingTaken(94, "temperature", "2", heat, "F", "ben"))
        found += morning.facts("2026-09-15 10:20").values()
    return found


def test_every_reason_has_words_whose_blanks_the_log_fills(shipped: Faults) -> None:
    reasons = every_fact()
    assert {words.id.rpartition(".")[2] for words in reasons} == FACTS
    assert sum(words.id.startswith("why.never.") for words in reasons) == 3
    for words in reasons:
        for language in LANGUAGES:
            assert template(shipped.texts[language][words.id]).names <= set(words.params)


def edited(tmp_path: Path, file: str, old: str, new: str) -> list[str]:
    """The findings after one edit of the shipped content, with the folder cut off; the edit must hit."""
    folder = tmp_path / "faults"
    shutil.copytree(FAULTS, folder)
    path = folder / file
    before = path.read_text(encoding="utf-8")
    assert re.search(old, before), old
    path.write_text(re.sub(old, new, before, count=1), encoding="utf-8")
    with pytest.raises(ContentError) as error:
        load_faults(folder, Known(frozenset(PREFIX + name for name in TOPICS), load_guides([places.GUIDES]).shapes))
    return [str(finding).removeprefix(f"{folder}/") for finding in error.value.findings]


@pytest.mark.parametrize(
    ("file", "old", "new", "found"),
    [
        ("leak/about.toml", "0.28", "0.38", "leak/about.toml:5: the likelihoods for gas fryers sum to 1.10"),
        ("no_heat/about.toml", "0.14", "0.20", "no_heat/about.toml:5: the likelihoods for electric fryers sum to 1.06"),
        ("leak/about.toml", "fault.leak", "fault.drip", 'leak/about.toml:1: the topic "fault.drip" is not that of'),
        ("leak/about.toml", "minutes = 0.5", "minutes = 0", "leak/about.toml:8: 0 is out of range"),
        ("leak/about.toml", 'fix = "text"', 'fix = "txt"',
         'leak/about.toml:9: unknown fix "txt"; did you mean "text"?'),
        ("leak/about.toml", 'fix = "text"', 'fix = "guide.reset_pump"',
         "opens only after its wait; write \"reset:pump\""),
        ("leak/about.toml", 'fix = "text"', 'fix = "fault.leak"', 'leak/about.toml:9: unknown fix "fault.leak"'),
        ("leak/about.toml", "recent_service", "recent_servise", 'did you mean "recent_service"?'),
        ("leak/about.toml", "factor = 3", "factor = -3", "-3 is out of range"),
        ("leak/about.toml", 'id = "pan"', 'id = "drain"', 'the cause "drain" stands here twice'),
        ("leak/about.toml", 'id = "pan"', 'id = "The Pan"', '"The Pan" can\'t be the id of a cause'),
        ("leak/about.toml", r"\[sources\]\n.*\n.*\n", "", "[sources] is missing"),
        ("leak/about.toml", "stop = true", "stopp = true",
         'leak/about.toml:3: unknown key "stopp"; did you mean "stop"?'),
        ("leak/about.toml", "stop = true", "", 'leak/about.toml:1: "stop" is missing'),
        ("no_top_up/about.toml", "hot_oil = false", "hot_oil = flase", "no_top_up/about.toml:2: this is no valid TOML"),
        ("no_power/about.toml", 'fix = "service"\nsafe_for_under_16 = false',
         'fix = "service"\nsafe_for_under_16 = true',
         'the fix "service" is not for anybody under 16'),
        ("smoke/about.toml", 'safe_for_under_16 = false\n\n\\[\\[causes\\]\\]\nid = "too_hot"',
         '\n[[causes]]\nid = "too_hot"',
         'smoke/about.toml:5: "safe_for_under_16" is missing'),
        ("leak/en.toml", r"\[causes.vat\]", "[causes.vet]",
         'leak/en.toml:34: unknown cause "vet"; did you mean "vat"?'),
        ("leak/en.toml", "name = .*", "", '"name" is missing'),
        ("leak/en.toml", "fully closed\\?", "fully closed.", "leak/en.toml:11: the check is no question"),
        ("leak/en.toml", "Close it from", "Close it within 10 seconds from", "the number 10 has no source"),
        ("leak/en.toml", "Close it", "Close it, {who},", "unknown placeholder {who}"),
        ("leak/en.toml", "Close it", "{fryer}: close it",
         "leak/es.toml:12: the placeholders are not those of the English"),
        ("leak/en.toml", "cautions = \\[", "cautions = []\nmore = [", 'unknown key "more"'),
        ("leak/en.toml", "Close it from the side, with", "Close it slowly and gently and with care from the left hand "
         "side of the fryer while you stand well back with", "a sentence of 25 words; make it two"),
        ("food_quality/en.toml", r"165 °F \(74 °C\)", "165 °F (70 °C)", "165 °F is not (70 °C)"),
        ("food_quality/es.toml", r"165 °F \(74 °C\)", "74 °C", "the numbers are not those of the English text"),
        ("why.en.toml", "oil_old = .*", "", 'why.en.toml:1: "oil_old" is missing'),
        ("why.es.toml", r"\[never\]", "[nunca]", "[never] is missing"),
        ("why.es.toml", r"vez el \{on\}", "vez el {an}", "unknown placeholder {an}"),
        ("why.es.toml", r"aquí \{n\} veces", "aquí muchas veces", "the placeholders are not those of the English"),
    ],
)  # fmt: skip
def test_a_slip_is_found_where_it_stands(tmp_path: Path, file: str, old: str, new: str, found: str) -> None:
    findings = edited(tmp_path, file, old, new)
    assert any(found in finding for finding in findings), findings
    assert all(re.match(r"\S+\.toml:\d+: .+; .+", finding) for finding in findings)


def test_a_text_that_is_hard_to_read_is_sent_back(tmp_path: Path) -> None:
    hard = 'title = "Inadvertent uncontrollable hydrocarbon evacuation"\n'
    body = "".join(
        f'[causes.{name}]\nname = "administrative irregularity"\ncheck = "Insufficiently accommodated?"\n'
        f'fix = "Immediately communicate."\n'
        for name in ("drain", "pan", "connection", "overflow", "jug", "vat")
    )
    text = f'{hard}cautions = ["Exceptionally hazardous."]\nnone_found = "Unidentified."\n{body}'
    findings = edited(tmp_path, "leak/en.toml", r"(?s)\A.*\Z", text)
    assert any("its reading ease is" in finding and "shorter words" in finding for finding in findings)


def test_too_many_causes_for_a_button_are_refused(tmp_path: Path) -> None:
    more = "".join(
        f'[[causes]]\nid = "more_{n}"\nlikelihood = 0.01\nminutes = 1\nfix = "text"\nsafe_for_under_16 = false\n\n'
        for n in range(10)
    )
    findings = edited(tmp_path, "leak/about.toml", r"\[\[causes\]\]", f"{more}[[causes]]")
    assert any("no button can carry 16 causes" in finding for finding in findings)


def test_a_missing_folder_or_file_is_one_clear_finding(tmp_path: Path) -> None:
    with pytest.raises(ContentError, match="there is no such folder of faults; check the path"):
        load_faults(tmp_path / "nowhere")
    findings = edited_away(tmp_path, "leak/es.toml")
    assert findings == ["leak/es.toml:1: there is no such file; check the path"]


def edited_away(tmp_path: Path, file: str) -> list[str]:
    """The findings where one file of the shipped content is gone."""
    folder = tmp_path / "faults"
    shutil.copytree(FAULTS, folder)
    (folder / file).unlink()
    with pytest.raises(ContentError) as error:
        load_faults(folder)
    return [str(finding).removeprefix(f"{folder}/") for finding in error.value.findings]


def test_the_longest_button_of_the_shipped_content_fits(shipped: Faults) -> None:
    fryer = Fryer("x" * 12)
    for shape in shipped.shapes.values():
        trail = "".join(cause.mark for cause in shape.causes_on(fryer.power))
        assert len(f"fault:{shape.topic.removeprefix(PREFIX)}:{fryer.id}:{trail}:fixed") <= 60
