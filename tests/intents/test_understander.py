"""What a message is taken to mean: topics, slots, languages, and when it is nothing the helper knows."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings, strategies as st

from intents.understander import Understander, public_slots

TOPICS = [
    ("how do I put a fresh pad in the pan", "guide.pad_change"),
    ("steps to filter during the shift please", "guide.filter_midshift"),
    ("cómo hago el filtrado de la noche con la bandeja y todo", "guide.filter_closing"),
    ("where does the used oil go", "guide.oil_discard"),
    ("what should the inside of the chicken read", "guide.food_temps"),
    ("the oil won't go down when I open the drain", "fault.wont_drain"),
    ("la freidora 3 no agarra calor", "fault.no_heat"),
    ("start a cooldown for the pump on 1", "cooldown.start"),
    ("how much longer till I can reset it", "cooldown.status"),
    ("when did somebody last do the boil out on 3", "ask.last_done"),
    ("what's still left to do tonight", "ask.due"),
    ("qué falta por hacer", "ask.due"),
    ("undo that last one", "log.undo"),
    ("fryer 2 is broken, nobody use it", "log.out_of_service"),
    ("la 2 ya quedó arreglada", "log.back_in_service"),
    ("next step", "walk.next"),
    ("siguiente", "walk.next"),
    ("gracias", "talk.thanks"),
]

OUTSIDE = [
    "how do I clean the espresso machine", "who is on shift tomorrow", "qué tiempo hace hoy",
    "tell me a joke", "the dishwasher is leaking", "fryer 2", "el aceite", "asdf qwer", "",
]  # fmt: skip

EMERGENCIES = [
    ("fryer 2 is on fire", "emergency.fire"),
    ("there are flames coming out of the vat", "emergency.fire"),
    ("FUEGO EN LA COCINA", "emergency.fire"),
    ("se está quemando la freidora ayuda", "emergency.fire"),
    ("i just burned my hand with the oil", "emergency.burn"),
    ("le cayó aceite caliente en el brazo", "emergency.burn"),
    ("hot oil splashed in his face", "emergency.burn"),
    ("it smells like gas in here", "emergency.gas"),
    ("huele mucho a gas", "emergency.gas"),
    ("fire two is on fire", "emergency.fire"),
]

CALM = [
    "fire up fryer 2 for me", "is fryer 2 gas or electric", "which extinguisher is for grease",
    "the fries taste burnt", "this song is fire", "las papas salen quemadas", "did anyone do the fire check",
    "what do I wear so I don't get burned", "fire two won't heat",
]  # fmt: skip

SLOTS: list[tuple[str, dict[str, Any]]] = [
    ("changed the pad on 2", {"duty": "pad_change", "fryer": "2"}),
    ("new pad in the falafel one", {"duty": "pad_change", "fryer": "2"}),
    ("ya cambié el papel de la de donas", {"duty": "pad_change", "fryer": "3"}),
    ("did the o-rings on number three at 4pm", {"duty": "seal_replacement", "fryer": "3", "clock": "16:00"}),
    ("closing filter done on one", {"duty": "closing_filter", "fryer": "1"}),
    ("hice la prueba de aceite de la dos", {"duty": "oil_test", "fryer": "2"}),
    ("oil on 2 is at 21.5 percent", {"fryer": "2", "amount": 21.5, "unit": "percent"}),
    ("fryer 1 oil temperature 355 F", {"fryer": "1", "amount": 355, "unit": "F"}),
    ("remind me in half an hour", {"minutes": 30}),
    ("recuérdame a las 5 de la tarde", {"clock": "17:00"}),
    ("start the wait for the high limit on 3", {"fryer": "3", "part": "high_limit"}),
    ("haven't changed the pad on 1 yet", {"fryer": "1", "duty": "pad_change", "not_done": True}),
    ("todavía no hago el boil out de la 3", {"fryer": "3", "duty": "boil_out", "not_done": True}),
]


@pytest.mark.parametrize(("text", "topic"), TOPICS)
def test_a_plain_message_finds_its_topic(text: str, topic: str, understander: Understander) -> None:
    assert understander.understand(text).topic == topic


@pytest.mark.parametrize("text", OUTSIDE)
def test_what_is_outside_or_vague_has_no_topic(text: str, understander: Understander) -> None:
    assert understander.understand(text).topic is None


@pytest.mark.parametrize(("text", "topic"), EMERGENCIES)
def test_no_emergency_is_missed(text: str, topic: str, understander: Understander) -> None:
    assert understander.understand(text).topic == topic


@pytest.mark.parametrize("text", CALM)
def test_what_only_sounds_like_an_emergency_raises_none(text: str, understander: Understander) -> None:
    assert not (understander.understand(text).topic or "").startswith("emergency.")


@pytest.mark.parametrize(("text", "slots"), SLOTS)
def test_slots_hold_what_the_message_states_and_nothing_else(
    text: str, slots: dict[str, Any], understander: Understander
) -> None:
    assert public_slots(understander.understand(text)) == slots


def test_what_was_not_done_has_no_topic(understander: Understander) -> None:
    assert understander.understand("nobody did the closing filter on 2").topic is None


def test_several_things_in_one_message_are_told_apart(understander: Understander) -> None:
    found = understander.understand("closing filter done on 1, 2 and 3")
    assert [s.fryer for s in (found.slots, *found.more)] == ["1", "2", "3"]


def test_a_fryer_that_the_kitchen_has_not_got_is_named_as_such(understander: Understander) -> None:
    found = understander.understand("pad changed on fryer 9")
    assert (found.slots.fryer, found.slots.unknown_fryer) == (None, "9")


@pytest.mark.parametrize(("text", "language"), [("how do I skim", "en"), ("cómo quito las migajas", "es")])
def test_the_language_of_a_message(text: str, language: str, understander: Understander) -> None:
    assert understander.understand(text).language == language


def test_the_persons_setting_decides_where_the_words_do_not(understander: Understander) -> None:
    assert understander.understand("2", language="es").language == "es"


@pytest.mark.parametrize("text", ["2", "fryer 2", "la dos", "the falafel one", "number two"])
def test_a_short_answer_names_its_fryer(text: str, understander: Understander) -> None:
    assert understander.understand(text).said_fryer == "2"


def test_a_long_message_is_no_short_answer(understander: Understander) -> None:
    assert understander.understand("how do I change the pad on 2 before the rush").said_fryer is None


@settings(max_examples=150)
@given(text=st.text(max_size=300))
def test_any_text_is_answered_the_same_each_time(text: str, understander: Understander) -> None:
    first = understander.understand(text)
    assert first == understander.understand(text)
    assert first.text == text
    assert 0 <= first.confidence <= 1


def test_ten_thousand_characters_are_answered(understander: Understander) -> None:
    assert understander.understand("how do I change the pad " * 420).language == "en"


@pytest.mark.parametrize(("text", "topic"), TOPICS)
def test_capitals_change_no_topic(text: str, topic: str, understander: Understander) -> None:
    assert understander.understand(text.upper()).topic == topic


def test_the_explanation_names_the_nearest_phrase_and_its_place(understander: Understander) -> None:
    phrase, topic, chance, near = understander.explain("how do i change the pad").nearest[0]
    assert topic == "guide.pad_change"
    assert phrase.file.name == "guide.pad_change.txt"
    assert 0 < chance <= 1
    assert 0 < near <= 1.0001
