"""Which duties and guides a message speaks of, by the rules of ``lexicon/duties.toml`` and ``lexicon/guides.toml``."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from intents.lexicon import FOLDER, both


@dataclass(frozen=True, slots=True)
class _Line:
    needs: frozenset[str]
    never: frozenset[str]

    def fits(self, ideas: frozenset[str]) -> bool:
        return self.needs <= ideas and not self.never & ideas


@cache
def _rules(name: str) -> tuple[tuple[str, tuple[_Line, ...]], ...]:
    data = tomllib.loads((FOLDER / f"{name}.toml").read_text(encoding="utf-8"))
    return tuple((one["id"], tuple(map(_line, one["lines"]))) for one in data[name])


def _line(text: str) -> _Line:
    parts = text.split()
    return _Line(
        frozenset(part for part in parts if not part.startswith("!")),
        frozenset(part[1:] for part in parts if part.startswith("!")),
    )


def ideas_of(words: Sequence[str]) -> frozenset[str]:
    """The ideas of the lexicons that stand in ``words``."""
    return frozenset(match.name for match in both("concepts").find(words))


def duty_of(words: Sequence[str]) -> str | None:
    """The duty that ``words`` speak of, or None."""
    return _first("duties", words)


def guide_of(words: Sequence[str]) -> str | None:
    """The guide that ``words`` point to, or None."""
    return _first("guides", words)


def _first(name: str, words: Sequence[str]) -> str | None:
    ideas = ideas_of(words)
    return next((found for found, lines in _rules(name) if any(line.fits(ideas) for line in lines)), None)


def duties_of(words: Sequence[str]) -> tuple[str, ...]:
    """Every duty of a message that joins several with "and" or a comma, in the order in which they come."""
    parts: list[list[str]] = [[]]
    for word in words:
        if word in both("fryer.links") or word in (",", ";"):
            parts.append([])
        else:
            parts[-1].append(word)
    if len(parts) == 1:
        only = duty_of(words)
        return (only,) if only else ()
    found = list(dict.fromkeys(duty for part in parts if (duty := duty_of(part))))
    whole = duty_of(words)
    if len(found) < 2:
        return (whole,) if whole else ()
    return tuple(found)
