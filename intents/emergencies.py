"""Emergencies, before all else: by patterns of their own, kept in ``lexicon/emergencies.toml``.

What ``negated`` says is not there is struck out of a message. Then any pattern of ``surely`` raises its emergency at
once. A ``calm_frame`` makes the message a calm question as a whole. Of any other, what matches ``calm`` is struck out
("fire up", "burnt taste"), and any pattern of ``alarm`` that is left raises its emergency.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from intents.lexicon import FOLDER
from intents.normalise import is_word


@dataclass(frozen=True, slots=True)
class Alarm:
    """An emergency, and the pattern that raised it."""

    topic: str
    pattern: str
    sure: bool = True
    """Whether the words leave no doubt; otherwise a clearly calm reading of the whole message may overrule it."""


@dataclass(frozen=True, slots=True)
class _Any:
    """Many patterns: one expression to find whether any matches, and each alone to tell which.

    The latter are made ready only once one of them did, for that takes longer than reading a hundred messages.
    """

    whole: re.Pattern[str]
    each: tuple[str, ...]

    def fired(self, text: str) -> str | None:
        """The first pattern that matches."""
        if not self.whole.search(text):
            return None
        return next(pattern for pattern in self.each if _compiled(pattern).search(text))


_compiled = cache(re.compile)


@dataclass(frozen=True, slots=True)
class _Kind:
    topic: str
    surely: _Any
    alarm: _Any


@dataclass(frozen=True, slots=True)
class _Rules:
    negated: re.Pattern[str]
    calm: re.Pattern[str]
    calm_frame: re.Pattern[str]
    kinds: tuple[_Kind, ...]


@cache
def _rules() -> _Rules:
    data = tomllib.loads((FOLDER / "emergencies.toml").read_text(encoding="utf-8"))
    groups: dict[str, str] = data.get("groups", {})

    def pattern(texts: Sequence[str]) -> str:
        return rf"(?<!\w)(?:{'|'.join(_filled(text, groups) for text in texts)})(?!\w)"

    def joined(texts: Sequence[str]) -> re.Pattern[str]:
        return re.compile(pattern(texts))

    def any_of(texts: Sequence[str]) -> _Any:
        return _Any(joined(texts), tuple(pattern([text]) for text in texts))

    kinds = tuple(_Kind(kind["topic"], any_of(kind["surely"]), any_of(kind["alarm"])) for kind in data["kinds"])
    return _Rules(joined(data["negated"]), joined(data["calm"]), joined(data["calm_frame"]), kinds)


def _filled(text: str, groups: dict[str, str]) -> str:
    return re.sub(r"<(\w+)>", lambda match: f"(?:{groups[match[1]]})", text)


def _text(words: Sequence[str]) -> str:
    return " ".join(word for word in words if is_word(word) or word[0] == "{")


def is_calm(words: Sequence[str]) -> bool:
    """Whether the message as a whole is a calm question about what only could happen."""
    return bool(_rules().calm_frame.search(_text(words)))


def sounds_calm(words: Sequence[str]) -> bool:
    """Whether the message uses an emergency's word for something harmless ("fire up"), or says that there is none."""
    rules, text = _rules(), _text(words)
    return bool(rules.calm.search(text) or rules.negated.search(text))


def alarm_in(words: Sequence[str], repaired: Sequence[str] = ()) -> Alarm | None:
    """The emergency that the words speak of, as repaired or else as written; None where there is none.

    A message that is calm once its spelling is put right stays calm; so does one whose harmless words ("fire marshal")
    a repair has taken for others.
    """
    alarm = _alarm(_text(repaired or words))
    if not repaired or list(repaired) == list(words):
        return alarm
    if alarm:
        doubtful = not alarm.sure and sounds_calm(words) and _alarm(_text(words)) is None
        return None if doubtful else alarm
    return None if is_calm(repaired) else _alarm(_text(words))


def _alarm(text: str) -> Alarm | None:
    rules = _rules()
    text = rules.negated.sub(" ~ ", text)
    for kind in rules.kinds:
        pattern = kind.surely.fired(text)
        if pattern:
            return Alarm(kind.topic, pattern)
    if not any(kind.alarm.whole.search(text) for kind in rules.kinds) or rules.calm_frame.search(text):
        return None
    struck = rules.calm.sub(" ~ ", text)
    for kind in rules.kinds:
        pattern = kind.alarm.fired(struck)
        if pattern:
            return Alarm(kind.topic, pattern, sure=False)
    return None
