"""Emergencies, before all else: by patterns of their own, kept in ``lexicon/emergencies.toml``.

The patterns of ``calm`` are struck out of a message first ("fire up", "burnt taste"); then any pattern of
``alarm`` that is left raises its emergency. ``calm_frame`` patterns turn a message into a calm question as a
whole, unless one of ``surely`` is there too.
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


@dataclass(frozen=True, slots=True)
class _Patterns:
    topic: str
    surely: tuple[re.Pattern[str], ...]
    alarm: tuple[re.Pattern[str], ...]


@dataclass(frozen=True, slots=True)
class _Rules:
    calm: tuple[re.Pattern[str], ...]
    calm_frame: tuple[re.Pattern[str], ...]
    kinds: tuple[_Patterns, ...]


@cache
def _rules() -> _Rules:
    data = tomllib.loads((FOLDER / "emergencies.toml").read_text(encoding="utf-8"))
    groups: dict[str, str] = data.get("groups", {})

    def patterns(texts: Sequence[str]) -> tuple[re.Pattern[str], ...]:
        return tuple(re.compile(rf"(?<!\w)(?:{_filled(text, groups)})(?!\w)") for text in texts)

    kinds = tuple(
        _Patterns(kind["topic"], patterns(kind["surely"]), patterns(kind["alarm"])) for kind in data["kinds"]
    )
    return _Rules(patterns(data["calm"]), patterns(data["calm_frame"]), kinds)


def _filled(text: str, groups: dict[str, str]) -> str:
    return re.sub(r"<(\w+)>", lambda match: f"(?:{groups[match[1]]})", text)


def _text(words: Sequence[str]) -> str:
    return " ".join(word for word in words if is_word(word) or word[0] == "{")


def is_calm(words: Sequence[str]) -> bool:
    """Whether the message asks or tells of something in calm that only sounds like an emergency."""
    text = _text(words)
    rules = _rules()
    if any(pattern.search(text) for kind in rules.kinds for pattern in kind.surely):
        return False
    return any(pattern.search(text) for pattern in (*rules.calm_frame, *rules.calm))


def alarm_in(words: Sequence[str]) -> Alarm | None:
    """The emergency that the words speak of, or None."""
    rules = _rules()
    text = _text(words)
    for kind in rules.kinds:
        for pattern in kind.surely:
            if pattern.search(text):
                return Alarm(kind.topic, pattern.pattern)
    if any(pattern.search(text) for pattern in rules.calm_frame):
        return None
    for pattern in rules.calm:
        text = pattern.sub(" ~ ", text)
    for kind in rules.kinds:
        for pattern in kind.alarm:
            if pattern.search(text):
                return Alarm(kind.topic, pattern.pattern)
    return None
