"""What was read last is known still, as long as it would be read the same way."""

from __future__ import annotations

from typing import cast

from bot.content.danger_signs import DangerSigns
from bot.reading import Reader
from intents.types import Language, Understood
from intents.understander import Understander


class Counting:
    """An understander that counts how often it is asked."""

    def __init__(self) -> None:
        self.asked = 0

    def understand(self, text: str, *, language: Language | None = None) -> Understood:
        self.asked += 1
        return Understood(text, None, 1.0, language or "en")


def test_a_text_that_was_read_just_now_is_not_read_again() -> None:
    reader, counting, signs = Reader(), Counting(), DangerSigns((), ())
    by = cast("Understander", counting)
    first = reader.read("what is due", "en", by, signs)
    assert reader.read("what is due", "en", by, signs) is first
    assert counting.asked == 1


def test_another_text_language_or_understanding_is_read_anew() -> None:
    reader, counting, taught, signs = Reader(), Counting(), Counting(), DangerSigns((), ())
    by = cast("Understander", counting)
    reader.read("what is due", "en", by, signs)
    assert reader.read("who is late", "en", by, signs).understood.text == "who is late"
    assert reader.read("who is late", "es", by, signs).understood.language == "es"
    reader.read("who is late", "es", by, DangerSigns((), ()))
    assert counting.asked == 4
    reader.read("who is late", "es", cast("Understander", taught), signs)
    assert taught.asked == 1
