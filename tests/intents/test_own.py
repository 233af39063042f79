"""A kitchen's own phrases and duties: at work at once, never against an emergency."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, strategies as st

from intents.own import EXACTLY, LONGEST, NEARLY, OwnDuties, read_own
from intents.phrasebook import Phrase
from intents.types import Language
from intents.understander import Understander

FRYERS = {"1": ["fries fryer"], "2": ["falafel fryer"], "3": ["doughnut fryer"]}
DUTIES = {"hood_rail": ["hood rail", "barandal de la campana"], "tray": ["crumb tray", "charola de migas"]}

PHRASES = {
    "en/fault.wont_filter": ["the filter is not running on {fryer}", "it will not filter", "filter pump does nothing"],
    "en/fault.too_hot": ["{fryer} is too hot", "oil way over temperature", "the oil is {amount} and climbing"],
    "en/guide.skim": ["how do i skim", "skimming the oil", "walk me through skimming {fryer}"],
    "en/log.done": [
        "hood filters done", "did the hood filters", "wiped the hood filters", "boil out done on {fryer}",
        "pads changed on {fryer}", "changed the pad", "finished the hood filters at {clock}",
    ],
    "en/ask.last_done": ["when were the hood filters last done", "who did the boil out last", "when was the pad done"],
    "en/remind.snooze": ["remind me about the hood filters in {minutes}", "ask me about the pads later"],
    "en/log.note": ["note for the next shift {note}", "leave a note that {note}"],
    "en/outside.not_done": ["did not do the hood filters", "the pads are not done yet", "nobody did the boil out"],
    "en/outside.chat": ["what a night", "nice weather", "who won the game", "the boss has got a new hat"],
    "en/outside.vague": ["the pot", "the thing has got something", "it got the other thing", "on the fryer", "time"],
    "en/emergency.fire": ["the fryer is on fire", "flames coming out of {fryer}", "grease fire", "fire in the kitchen"],
    "en/emergency.burn": ["he burned his arm", "hot oil on her hand", "i burned myself badly"],
    "es/log.done": ["ya limpié los filtros de la campana", "listo los filtros de la campana", "cambié el papel filtro"],
    "es/emergency.fire": ["se prendió la freidora", "hay fuego en la cocina"],
}  # fmt: skip


def phrase(text: str, topic: str, language: Language = "en") -> Phrase:
    return Phrase(text, topic, language, Path("phrases/en/x.txt"), 1)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("phrases")
    for name, lines in PHRASES.items():
        file = made / f"{name}.txt"
        file.parent.mkdir(exist_ok=True)
        file.write_text("\n".join(lines), encoding="utf-8")
    return made


@pytest.fixture(scope="module")
def small(folder: Path) -> Understander:
    return Understander.load((folder,), FRYERS, duties=DUTIES)


SHAKES = phrase("the pot has got the shakes", "fault.wont_filter")
GREMLINS = phrase("gremlins on the falafel fryer", "fault.too_hot")


@pytest.fixture(scope="module")
def taught(small: Understander) -> Understander:
    return small.with_own([SHAKES, GREMLINS])


# --- phrases ---


@pytest.mark.parametrize(
    "text", ["the pot has got the shakes", "The POT has got the shakes!!!", "the pot, has got the shakes"]
)
def test_an_own_phrase_acts_without_a_fit_with_a_confidence_that_is_high_and_capped(
    small: Understander, taught: Understander, text: str
) -> None:
    assert small.understand(text).topic != "fault.wont_filter"
    understood = taught.understand(text)
    assert (understood.topic, understood.confidence) == ("fault.wont_filter", EXACTLY)
    assert [choice.topic for choice in understood.choices] == ["fault.wont_filter"]


@pytest.mark.parametrize(("said", "fryer"), [("gremlins on fryer 3", "3"), ("gremlins on the fries fryer", "1")])
def test_it_is_the_same_phrase_on_any_fryer_by_any_of_its_names(taught: Understander, said: str, fryer: str) -> None:
    understood = taught.understand(said)
    assert (understood.topic, understood.slots.fryer) == ("fault.too_hot", fryer)


def test_one_slip_in_a_long_word_is_let_pass_with_less_confidence(taught: Understander) -> None:
    understood = taught.understand("the pot has got the shakkes")
    assert understood.topic == "fault.wont_filter"
    assert understood.confidence in (EXACTLY, NEARLY)


@pytest.mark.parametrize(
    "text", ["the pot has not got the shakes", "the pot has got the snakes", "who has got the pot", "the pot"]
)
def test_other_words_are_another_message(taught: Understander, small: Understander, text: str) -> None:
    assert taught.understand(text) == small.understand(text)


def test_two_own_phrases_that_mean_two_things_mean_neither(small: Understander) -> None:
    both = small.with_own([phrase("bongo time", "guide.skim"), phrase("Bongo  TIME!", "log.done")])
    assert both.understand("bongo time").topic is None


def test_what_is_taken_out_again_is_forgotten_at_once(taught: Understander, small: Understander) -> None:
    assert taught.with_own([]).understand(SHAKES.text) == small.understand(SHAKES.text)


def test_a_phrase_for_what_is_outside_makes_a_message_no_topic(small: Understander) -> None:
    found = small.with_own([phrase("skim milk", "outside.chat")]).understand("skim milk")
    assert (found.topic, found.confidence) == (None, EXACTLY)


def test_own_phrases_are_part_of_the_next_fit_and_help_with_other_wordings(folder: Path, small: Understander) -> None:
    own = [
        phrase(f"{a} the shakes {b}", "fault.wont_filter") for a in ("got", "has", "having") for b in ("again", "bad")
    ]
    fitted = Understander.load((folder,), FRYERS, own=own)
    said = "yo it keeps having them shakes again"
    share = {choice.topic: choice.confidence for choice in fitted.understand(said).choices}
    before = {choice.topic: choice.confidence for choice in small.understand(said).choices}
    assert share.get("fault.wont_filter", 0) > before.get("fault.wont_filter", 0)


def test_the_explanation_names_the_own_phrase(taught: Understander) -> None:
    assert taught.explain(SHAKES.text).own == SHAKES


# --- emergencies come before everything ---

FIRES = [line for name, lines in PHRASES.items() if "emergency" in name for line in lines if "{" not in line]


@given(text=st.text(max_size=40))
def test_own_phrases_leave_any_other_message_as_it_was(small: Understander, taught: Understander, text: str) -> None:
    assert taught.understand(text) == small.understand(text)


@pytest.mark.parametrize("text", FIRES)
def test_nothing_that_sounds_an_alarm_can_be_taught_to_mean_anything_else(small: Understander, text: str) -> None:
    objection = small.objection(text, "guide.skim")
    assert objection is not None
    assert objection.why == "emergency"
    assert small.with_own([phrase(text, "guide.skim")]).understand(text).topic == small.understand(text).topic


def test_an_alarm_with_an_own_phrase_in_it_stays_an_alarm(taught: Understander) -> None:
    assert taught.understand("the pot has got the shakes and it is on fire").topic == "emergency.fire"


@given(topic=st.sampled_from(["guide.skim", "log.done", "fault.too_hot", "outside.chat"]), at=st.data())
def test_whatever_is_taught_every_alarm_is_raised_as_before(small: Understander, topic: str, at: st.DataObject) -> None:
    text = at.draw(st.sampled_from(FIRES))
    words = at.draw(st.lists(st.sampled_from(text.split()), min_size=1, max_size=6))
    taught = small.with_own([phrase(" ".join(words), topic), phrase(text, topic), phrase(text.upper(), topic)])
    assert taught.understand(text).topic == small.understand(text).topic


def test_a_cry_of_a_kitchens_own_raises_the_alarm_by_its_very_words_alone(small: Understander) -> None:
    taught = small.with_own([phrase("the dragon is awake", "emergency.fire")])
    assert taught.understand("The dragon is awake!").topic == "emergency.fire"
    assert taught.understand("the dragon is asleep").topic == small.understand("the dragon is asleep").topic


# --- objections ---


@pytest.mark.parametrize(
    ("text", "topic", "why"),
    [
        ("!!!", "guide.skim", "empty"),
        ("", "guide.skim", "empty"),
        ("{fryer}", "guide.skim", "empty"),
        ("word " * LONGEST, "guide.skim", "long"),
        ("skim {soup}", "guide.skim", "placeholder"),
        ("anything", "guide.soup", "unknown_topic"),
        ("The hood filters: DONE", "guide.skim", None),
        ("Hood filters: DONE", "guide.skim", "taken"),
        ("hood filters done", "log.done", None),
        ("bongo time", "guide.skim", None),
        ("the fryer is on fire", "emergency.fire", None),
    ],
)
def test_what_must_not_be_taught_is_refused_with_the_reason(
    small: Understander, text: str, topic: str, why: str | None
) -> None:
    objection = small.objection(text, topic)
    assert (objection.why if objection is not None else None) == why


def test_what_belongs_to_another_topic_is_shown_with_its_place(small: Understander) -> None:
    objection = small.objection("hood filters done", "guide.skim")
    assert objection is not None
    assert objection.topic == "log.done"
    assert objection.phrase is not None
    assert objection.phrase.where.endswith("log.done.txt:1")


# --- own duties ---


@pytest.mark.parametrize(
    ("text", "topic", "duty"),
    [
        ("wiped the hood rail", "log.done", "hood_rail"),
        ("hood rail done", "log.done", "hood_rail"),
        ("finished the crumb tray at 9:15", "log.done", "tray"),
        ("when was the crumb tray last done", "ask.last_done", "tray"),
        ("remind me about the hood rail in 20 minutes", "remind.snooze", "hood_rail"),
        ("ya limpié el barandal de la campana", "log.done", "hood_rail"),
    ],
)
def test_what_is_said_of_a_kitchens_own_duty_is_understood(
    small: Understander, text: str, topic: str, duty: str
) -> None:
    understood = small.understand(text)
    assert (understood.topic, understood.slots.duty) == (topic, duty)


def test_an_own_duty_that_was_not_done_is_not_logged(small: Understander) -> None:
    understood = small.understand("did not do the crumb tray")
    assert understood.topic is None
    assert (understood.slots.not_done, understood.slots.duty) == (True, "tray")


def test_an_own_duty_beside_one_that_everybody_knows_is_told_apart(small: Understander) -> None:
    understood = small.understand("did the hood filters and the crumb tray")
    assert [slots.duty for slots in (understood.slots, *understood.more)] == ["hood_filters", "tray"]


def test_an_alarm_about_an_own_duty_is_an_alarm(small: Understander) -> None:
    assert small.understand("the hood rail is on fire").topic == "emergency.fire"


def test_a_note_about_an_own_duty_keeps_its_words(small: Understander) -> None:
    understood = small.understand("note for the next shift the hood rail is loose")
    assert (understood.topic, understood.slots.note) == ("log.note", "the hood rail is loose")


@given(words=st.lists(st.sampled_from(["the", "hood", "rail", "crumb", "tray", "done", "and", "2"]), max_size=8))
def test_stand_ins_leave_every_other_word_where_it_was(words: list[str]) -> None:
    out, own = OwnDuties.of(DUTIES).replaced(words, ())
    assert [word for word in words if word in ("the", "done", "and", "2")] == [
        word for word in out if word in ("the", "done", "and", "2")
    ]
    assert bool(own) == any(pair in ("hood rail", "crumb tray") for pair in map(" ".join, pairwise(words)))


# --- files ---


def test_own_phrase_files_are_read_and_faulty_lines_left_out_with_their_place(tmp_path: Path) -> None:
    (tmp_path / "en").mkdir()
    (tmp_path / "en" / "guide.skim.txt").write_text(
        "# ours\nclear the top\n!!!\n" + "word " * LONGEST, encoding="utf-8"
    )
    (tmp_path / "en" / "guide.soup.txt").write_text("soup\n", encoding="utf-8")
    (tmp_path / "fr").mkdir()
    (tmp_path / "fr" / "guide.skim.txt").write_text("bonjour\n", encoding="utf-8")
    found = read_own(tmp_path)
    assert [one.text for one in found.phrases] == ["clear the top"]
    assert {(fault.file.name, fault.file.parent.name, fault.line) for fault in found.faults} == {
        ("guide.skim.txt", "en", 3),
        ("guide.skim.txt", "en", 4),
        ("guide.soup.txt", "en", 1),
        ("guide.skim.txt", "fr", 1),
    }  # fmt: skip


def test_a_kitchen_without_phrases_has_none_and_no_fault(tmp_path: Path) -> None:
    assert read_own(tmp_path / "nowhere").phrases == read_own(None).phrases == ()
    assert not read_own(tmp_path / "nowhere").faults
