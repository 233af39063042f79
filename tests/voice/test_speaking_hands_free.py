"""A walk with both hands full: every step is asked for and heard by voice, and no question loses the place."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta

import pytest

from bot.app import Helper
from bot.core.records import Outgoing
from bot.voice.heard import Heard

NOW = datetime.fromisoformat("2026-09-15T15:00:00-04:00")


class Cook:
    """Somebody who speaks to the helper and hears it."""

    def __init__(self, helper: Helper, name: str) -> None:
        self.helper = helper
        self.name = name
        self.now = NOW

    def says(self, text: str, confidence: float = 0.7) -> list[Outgoing]:
        """What comes back to them for a voice note with these words."""
        self.now += timedelta(seconds=20)
        heard = Heard(text, confidence=confidence)
        return [m for m in self.helper.hear_spoken(self.name, self.name, heard, self.now) if m.to == self.name]

    def hears(self, text: str) -> str:
        """What is said aloud to them after these words."""
        return " ".join(line for message in self.says(text) for line in message.aloud)


@pytest.fixture
def helper(open_helper: Callable[[datetime], Helper]) -> Iterator[Helper]:
    found = open_helper(NOW)
    found.voices = frozenset({"en", "es"})
    yield found


def test_a_whole_walk_goes_by_voice(helper: Helper) -> None:
    ben = Cook(helper, "ben")
    assert ben.hears("talk to me").startswith("From now on I also speak")
    assert "Caution:" in ben.hears("how do I change the pad on fryer 2")
    assert ben.hears("next").startswith("Step 1 of ")
    assert ben.hears("next step please").startswith("Step 2 of ")
    assert ben.hears("go back").startswith("Step 1 of ")
    first = ben.hears("repeat that")
    assert first.startswith("Step 1 of ")
    assert ben.hears("stop").startswith("Stopped: ")


def test_a_question_in_a_walk_is_answered_and_the_walk_is_offered_again_at_its_place(helper: Helper) -> None:
    ben = Cook(helper, "ben")
    ben.says("talk to me")
    ben.says("how do I change the pad on fryer 2")
    ben.says("next")
    ben.says("next")
    replies = ben.says("how hot should the oil be")
    assert len(replies) == 2
    assert "You were at step 2 of" in replies[-1].text
    assert ben.hears("next").startswith("Step 3 of ")


def test_how_long_tells_where_the_walk_is_and_what_it_takes(helper: Helper) -> None:
    ben = Cook(helper, "ben")
    ben.says("talk to me")
    ben.says("how do I change the pad on fryer 2")
    ben.says("next")
    ben.says("next")
    said = ben.hears("how long does this take")
    assert said.startswith("You are at step 2 of ")
    assert "minutes" in said
    assert ben.hears("next").startswith("Step 3 of ")


def test_it_goes_in_spanish_too(helper: Helper) -> None:
    rosa = Cook(helper, "rosa")
    assert rosa.hears("háblame").startswith("Desde ahora también te hablo")
    rosa.says("cómo cambio el filtro de papel en la freidora 2")
    assert rosa.hears("siguiente").startswith("Paso 1 de ")
    assert rosa.hears("cuánto tarda esto").startswith("Vas en el paso 1 de ")
    assert rosa.hears("repite").startswith("Paso 1 de ")
    assert rosa.hears("solo texto") == ""
    assert rosa.hears("siguiente") == ""


def test_what_a_walk_ends_in_is_logged_only_after_a_clear_yes(helper: Helper) -> None:
    ben = Cook(helper, "ben")
    ben.says("how do I change the pad on fryer 2")
    text = ""
    for _ in range(40):
        text = ben.says("next")[0].text
        if "Shall I log it" in text:
            break
    assert "Shall I log it" in text
    assert "Shall I log this" in ben.says("yes", confidence=0.3)[0].text
    assert "Logged" in ben.says("yes", confidence=0.9)[0].text
