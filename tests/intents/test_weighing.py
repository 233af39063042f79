"""What the rest of a message does to its topic, and the topics that are the helper's own."""

from __future__ import annotations

import pytest

from intents.understander import Understander, public_slots, public_topic

OWN = [
    ("move the closing filter to 10 pm from now on", "duty.move"),
    ("de ahora en adelante los pads a las 9 de la noche", "duty.move"),
    ("who is trained on the boil-out", "train.who"),
    ("quién está capacitado para el boil out", "train.who"),
    ("quiz me on skimming", "train.check"),
    ("hazme preguntas del cambio de pad", "train.check"),
    ("sign Rosa off on the boil-out", "train.sign_off"),
    ("dale el visto bueno a Ben en el cambio de pad", "train.sign_off"),
]


@pytest.mark.parametrize(("text", "topic"), OWN)
def test_the_helpers_own_topics_are_acted_on_and_printed_as_none(
    text: str, topic: str, understander: Understander
) -> None:
    found = understander.understand(text)
    assert found.topic == topic
    assert public_topic(found) is None
    assert public_slots(found) == {}


def test_degrees_fahrenheit_are_no_percentage(understander: Understander) -> None:
    assert understander.understand("oil reading 355 fahrenheit on fryer 3").topic != "log.oil_test"


@pytest.mark.parametrize("text", ["the gubbins are wonky again", "blorp the fnord please", "zorgle mip on 2"])
def test_words_that_nobody_wrote_before_mean_nothing(text: str, understander: Understander) -> None:
    assert understander.understand(text).topic is None


@pytest.mark.parametrize(
    ("done", "not_done"),
    [
        ("I changed the pad on 1", "I didn't change the pad on 1"),
        ("the boil out got done", "the boil out didn't get done"),
        ("ya cambié el galón", "el galón está vacío y no lo he cambiado"),
        ("se filtró la 2 anoche", "anoche no se filtró la 2"),
    ],
)
def test_one_small_word_turns_a_duty_done_into_one_not_done(
    done: str, not_done: str, understander: Understander
) -> None:
    assert understander.understand(done).topic == "log.done"
    found = understander.understand(not_done)
    assert (found.topic, found.slots.not_done) == (None, True)
