"""The patterns that raise an alarm by themselves, and what they leave alone."""

from __future__ import annotations

import pytest

from intents.emergencies import alarm_in, is_calm
from intents.phrasebook import BUILT_IN, read
from intents.prepare import spelt_out
from intents.understander import Understander


def raised(text: str) -> str | None:
    alarm = alarm_in(spelt_out(text))
    return alarm.topic.removeprefix("emergency.") if alarm else None


@pytest.mark.parametrize(
    "text",
    [
        "the vat is on fire", "fire in the kitchen", "grease fire", "theres a fire on fryer 3",
        "flames under the pot",
        "my sleeve caught fire", "the rag went up in flames", "oil exploded", "everyone is running out", "fire!!!",
        "call the fire department", "fryer 2 is engulfed", "the wall behind it is burning",
        "the extinguisher didnt work", "hay fuego en la cocina", "se prendió la olla", "se incendió el aceite",
        "salen llamas de la tina", "la campana está ardiendo", "llamen a los bomberos",
        "se está quemando la freidora",
        "lumbre en la freidora", "explotó la freidora",
    ],
)  # fmt: skip
def test_fire(text: str) -> None:
    assert raised(text) == "fire"


@pytest.mark.parametrize(
    "text",
    [
        "i burned my arm", "he got burned with the oil", "hot oil on her leg", "oil splashed in his eyes",
        "my hand is blistering", "she put her hand in the oil", "wheres the first aid kit", "the skin is peeling off",
        "grabbed a hot basket and my fingers hurt", "steam burn", "oil went in my shoe", "me quemé la mano",
        "le cayó aceite en el brazo", "se quemó mi compañero", "tengo una ampolla grande",
        "me salpicó la cara el aceite",
        "una quemadura fea", "metió la mano en el aceite", "se le vino encima el aceite",
    ],
)  # fmt: skip
def test_burns(text: str) -> None:
    assert raised(text) == "burn"


@pytest.mark.parametrize(
    "text",
    [
        "i smell gas", "smells like rotten eggs by the fryer", "gas leak", "the gas hose came off",
        "gas alarm is beeping",
        "carbon monoxide alarm", "hissing behind it and it stinks", "they left the gas on", "huele a gas",
        "hay una fuga de gas", "se zafó la manguera del gas", "huele a huevo podrido",
        "está sonando el detector de gas",
        "what do i do if i smell gas", "i cant stop smelling gas", "we didnt smell gas before but now we smell gas",
    ],
)  # fmt: skip
def test_gas(text: str) -> None:
    assert raised(text) == "gas"


@pytest.mark.parametrize(
    "text",
    [
        "fire up fryer 2", "fire two is done", "the burner wont fire", "no flame on the burner",
        "pilot flame keeps going out",
        "this song is fire", "the new guy got fired", "fire check done", "which extinguisher do we need",
        "where is the extinguisher kept", "in case of fire what do i pull", "fire drill at ten", "smoke but no fire",
        "burnt taste", "i burned the fries", "the fries are burnt", "heartburn", "the bulb burned out",
        "burner is weak",
        "burnt bits on the bottom", "which gloves so i dont get burned", "is it gas or electric",
        "we dont smell gas anymore",
        "gas station", "what blisters on the doughnuts", "qué extintor se usa con la grasa",
        "se me quemaron las papas",
        "se quemó la bomba", "huele a quemado", "no prende la llama", "contra incendios", "cómo se llama el técnico",
        "te llamo luego", "es de gas o eléctrica", "ya no huele a gas", "no hay fuego", "guantes para no quemarme",
        "how do i change the pad", "cómo cambio el pad", "",
    ],
)  # fmt: skip
def test_what_only_sounds_like_one(text: str) -> None:
    assert raised(text) is None


def test_a_calm_question_is_known_as_one() -> None:
    assert is_calm(spelt_out("what would i do if the oil caught fire"))
    assert not is_calm(spelt_out("the oil caught fire"))


def test_a_calm_question_does_not_hide_a_real_fire() -> None:
    assert raised("where is the extinguisher theres a fire") == "fire"


def test_a_misspelt_alarm_is_raised_once_it_is_repaired() -> None:
    alarm = alarm_in(["flamse", "on", "the", "vat"], ["flames", "on", "the", "vat"])
    assert alarm is not None
    assert alarm.topic == "emergency.fire"


CALM_PHRASES = [phrase for phrase in read([BUILT_IN]).phrases if not phrase.topic.startswith("emergency.")]


def test_hardly_any_phrase_of_another_topic_surely_raises_an_alarm() -> None:
    alarms = [alarm_in(spelt_out(phrase.text)) for phrase in CALM_PHRASES]
    assert sum(alarm is not None and alarm.sure for alarm in alarms) < len(CALM_PHRASES) / 500


def test_a_doubtful_alarm_gives_way_to_a_calm_reading(understander: Understander) -> None:
    doubtful = [phrase.text for phrase in CALM_PHRASES if alarm_in(spelt_out(phrase.text))]
    raised = [text for text in doubtful if (understander.understand(text).topic or "").startswith("emergency.")]
    assert len(raised) < len(CALM_PHRASES) / 500
