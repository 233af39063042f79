"""Listening: a sound file in, its words out, or why there are none. One file at a time, and no file stays behind.

The recogniser is told of fire, burns and gas beside the trade's words. Where its guesses are doubtful, or may echo
what it was told, the sound is looked at again without a bias; ``weighing`` says which guess is taken.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Protocol

from bot.content.languages import LANGUAGES
from bot.content.voice_words import VoiceWords, voice_words
from bot.voice.bias import told
from bot.voice.heard import Heard
from bot.voice.judging import Candidate
from bot.voice.models import EarMissingError as EarMissingError, model_folder
from bot.voice.recogniser import Encoded, Recogniser
from bot.voice.sound import BrokenSoundError, LongSoundError, Wave, read
from bot.voice.weighing import Scales, Weighed
from intents.types import Language
from intents.understander import Understander

GUESSES = 5
"""Guesses of the first look, and the width of its search."""
SECOND_GUESSES = 1
"""The second look only confirms, or finds an alarm."""
FOREIGN, NOT_THEIRS = 0.85, 0.03
"""From which chance on another language was spoken, and below which the person's own was not."""
MOST_ALTERNATIVES = 4


class Hearing(Protocol):
    """What listens; tests and doors may bring another."""

    @property
    def languages(self) -> tuple[Language, ...]:
        """The languages that it knows."""

    def hear(self, sound: bytes | Path, language: str, bias: Sequence[str] = ()) -> Heard:
        """The words of a sound."""


class Ear:
    """Listens with one model. Not for several threads at once; see ``worker``."""

    def __init__(self, recogniser: Recogniser, understander: Understander, words: Mapping[str, VoiceWords]) -> None:
        self._recogniser = recogniser
        self._words = words
        known = set(recogniser.languages)
        self._scales = {
            language: Scales(understander, words[language], language)
            for language in LANGUAGES
            if language in known and language in words
        }

    @property
    def languages(self) -> tuple[Language, ...]:
        """The languages that both the loaded model and the helper know."""
        return tuple(self._scales)

    def hear(self, sound: bytes | Path, language: str, bias: Sequence[str] = ()) -> Heard:
        """The words of a sound file or its bytes, spoken in ``language``; ``bias`` are names that may come.

        Never raises for what is in the file; ``trouble`` says what is wrong with it.
        """
        theirs = next((known for known in self._scales if known == language), None)
        if theirs is None:
            return Heard("", trouble="language")
        try:
            found = read(sound)
        except BrokenSoundError:
            return Heard("", trouble="broken")
        except LongSoundError:
            return Heard("", trouble="too_long")
        stretches = [] if found.quiet else self._recogniser.speech(found.wave)
        if not stretches:
            return Heard("", trouble="silence" if found.quiet else "noise", seconds=found.seconds)
        return _heard([self._weighed(stretch, theirs, bias) for stretch in stretches], found.seconds)

    def warm_up(self) -> None:
        """Do once what makes the first note slow."""
        for language in self._scales:
            self._recogniser.warm_up(language)

    # --- inside ---

    def _weighed(self, stretch: Wave, theirs: Language, names: Sequence[str]) -> Weighed:
        encoded = self._recogniser.encoded(stretch)
        language = self._spoken(encoded, theirs)
        if language is None:
            return Weighed()
        bias = told(self._words[language], names)
        first = self._look(encoded, language, bias, GUESSES)
        if not self._scales[language].doubtful(first, bias):
            return self._scales[language].weighed(first)
        return self._scales[language].weighed(first, self._look(encoded, language, "", SECOND_GUESSES), bias)

    def _look(self, encoded: Encoded, language: Language, bias: str, guesses: int) -> list[Candidate]:
        found = self._recogniser.look(encoded, language, bias, guesses)
        return [Candidate(self._scales[language].mended(guess.text), guess.log_chance) for guess in found]

    def _spoken(self, encoded: Encoded, theirs: Language) -> Language | None:
        """The language that is spoken: theirs, or one of ours that it clearly is instead; None for a foreign one."""
        chances = self._recogniser.spoken_language(encoded)
        if not chances or chances.get(theirs, 0.0) >= NOT_THEIRS:
            return theirs
        likeliest = max(chances, key=lambda code: chances[code])
        if chances[likeliest] < FOREIGN:
            return theirs
        return next((known for known in self._scales if known == likeliest), None)


def _heard(stretches: Sequence[Weighed], seconds: float) -> Heard:
    clear = [stretch for stretch in stretches if stretch.candidates]
    if not clear:
        return Heard("", trouble="noise", seconds=seconds)
    text = " ".join(stretch.candidates[0].text for stretch in clear)
    # The alternatives of a note in many stretches would be whole texts, one for each way to combine theirs.
    others = clear[0].candidates[1 : MOST_ALTERNATIVES + 1] if len(clear) == 1 else ()
    confidence = min(stretch.confidence for stretch in clear)
    return Heard(text, tuple(other.text for other in others), confidence, seconds=seconds)


def open_ear(model: str | None = None, *, understander: Understander | None = None, cache: Path | None = None) -> Ear:
    """An ear with ``model`` (a name or a folder; by default the best that is here), loaded and warmed up.

    ``understander`` tells which guess makes sense; a kitchen's own knows its fryers' names. Raises ``EarMissingError``.
    """
    recogniser = Recogniser(model_folder(model or None, cache=cache))
    ear = Ear(recogniser, understander or Understander.load(), voice_words())
    if not ear.languages:
        raise EarMissingError("the speech model knows none of the helper's languages; name another one")
    ear.warm_up()
    return ear
