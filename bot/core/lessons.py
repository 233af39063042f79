"""What was not understood and what became of it: the changes, and the list that a trainer goes through.

A text of the list has a number, which is given when it is first heard; near-identical ones go under the same one.
``bot.core.records`` says how the frozen types may change.
"""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from msgspec import Struct, field
from rapidfuzz import fuzz

from bot.core.one_line import one_line
from intents.normalise import is_word, tokens

MOST_OPEN = 300
"""Texts that wait for a decision; beyond it the one that was heard least, and longest ago, is let go."""

ALIKE = 90
"""From this similarity on (0 to 100), at as many words, two texts are one that was mistyped."""

_BRACES = str.maketrans("{}", "  ")


class NotSure(Struct, frozen=True, tag="not_sure"):
    """``by`` wrote ``text``, which goes under ``lesson``, and was asked which of ``topics`` is meant."""

    lesson: int
    text: str
    language: str
    topics: tuple[str, ...]
    by: str


class Meant(Struct, frozen=True, tag="meant"):
    """Asked what they mean by the text of ``lesson``, a person chose ``topic``; None for none of those offered."""

    lesson: int
    topic: str | None
    by: str


class PhraseTaught(Struct, frozen=True, tag="phrase_taught"):
    """From now on ``text`` is a phrase of ``topic``; ``by`` is None where that was decided at the command line."""

    lesson: int
    text: str
    language: str
    topic: str
    by: str | None = None


class PhraseRefused(Struct, frozen=True, tag="phrase_refused"):
    """The text of ``lesson`` is to be no phrase, and is not asked about again."""

    lesson: int
    by: str | None = None


class PhraseTakenBack(Struct, frozen=True, tag="phrase_taken_back"):
    """Whatever was decided about ``lesson`` is decided no more."""

    lesson: int
    by: str | None = None


class PhrasesFiled(Struct, frozen=True, tag="phrases_filed"):
    """The kitchen's phrase files agree with all that was taught and taken back, up to and with this filing."""

    through: int


LessonChange = NotSure | Meant | PhraseTaught | PhraseRefused | PhraseTakenBack | PhrasesFiled


class Lesson(Struct):
    """One text: how often it was not understood, what was offered and chosen then, and what was decided."""

    number: int
    text: str
    language: str
    at: datetime
    times: int = 0
    offered: tuple[str, ...] = ()
    chosen: dict[str, int] = field(default_factory=dict)
    none: int = 0
    """How often nothing of what was offered was meant."""
    decided: Literal["taught", "refused"] | None = None
    topic: str | None = None
    """The topic that it was taught as."""

    @property
    def answered(self) -> int:
        """How often somebody said what is meant, or that nothing offered was."""
        return self.none + sum(self.chosen.values())


class Filing(Struct, frozen=True):
    """A line that the phrase files are still to gain, or to lose."""

    number: int
    gain: bool
    text: str
    language: str
    topic: str


class Lessons(Struct):
    """The list, and what the phrase files lack of it."""

    last: int = 0
    by_number: dict[int, Lesson] = field(default_factory=dict)
    filings: int = 0
    unfiled: list[Filing] = field(default_factory=list)

    def open(self) -> list[Lesson]:
        """What waits for a decision, the most frequent first."""
        waiting = (lesson for lesson in self.by_number.values() if lesson.decided is None and lesson.text)
        return sorted(waiting, key=lambda lesson: (-lesson.times, lesson.number))

    def number_of(self, text: str, language: str) -> int:
        """The number under which a text goes: that of one like it, or a new one."""
        words = _words(text)
        for lesson in self.by_number.values():
            # One that was taught and is still not understood is another way of saying it.
            if lesson.decided != "taught" and lesson.language == language and _alike(words, _words(lesson.text)):
                return lesson.number
        return self.last + 1

    def heard(self, number: int, text: str, language: str, at: datetime, offered: tuple[str, ...] = ()) -> None:
        """A text was not understood."""
        self.last = max(self.last, number)
        text = as_phrase(text)
        lesson = self.by_number.setdefault(number, Lesson(number, text, language, at))
        lesson.times += 1
        lesson.at = at
        lesson.text = lesson.text or text
        lesson.offered = offered or lesson.offered
        waiting = self.open()
        for least in sorted(waiting, key=lambda one: (one.times, one.at))[: max(0, len(waiting) - MOST_OPEN)]:
            del self.by_number[least.number]

    def take(self, change: LessonChange, at: datetime) -> None:
        """Take one change in."""
        if isinstance(change, NotSure):
            self.heard(change.lesson, change.text, change.language, at, change.topics)
            return
        if isinstance(change, PhrasesFiled):
            self.unfiled = [filing for filing in self.unfiled if filing.number > change.through]
            return
        lesson = self.by_number.get(change.lesson)
        if lesson is None:
            return
        match change:
            case Meant(topic=None):
                lesson.none += 1
            case Meant(topic=str() as topic):
                lesson.chosen[topic] = lesson.chosen.get(topic, 0) + 1
            case PhraseTaught():
                lesson.decided, lesson.topic = "taught", change.topic
                self._file(True, change.text, change.language, change.topic)
            case PhraseRefused():
                lesson.decided = "refused"
            case PhraseTakenBack():
                if lesson.decided == "taught" and lesson.topic is not None:
                    self._file(False, lesson.text, lesson.language, lesson.topic)
                lesson.decided = lesson.topic = None

    def _file(self, gain: bool, text: str, language: str, topic: str) -> None:
        self.filings += 1
        if text:
            self.unfiled.append(Filing(self.filings, gain, text, language, topic))


def as_phrase(text: str) -> str:
    """A message as a line of a phrase file: without what means something there."""
    return one_line(text.translate(_BRACES)).lstrip("# ")


def _words(text: str) -> list[str]:
    return ["#" if word[0].isdigit() else word for word in tokens(text) if is_word(word)]


def _alike(one: list[str], other: list[str]) -> bool:
    if not one or len(one) != len(other):
        return False
    return fuzz.ratio(" ".join(one), " ".join(other), score_cutoff=ALIKE) > 0
