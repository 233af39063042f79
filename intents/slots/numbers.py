"""Numbers in digits and in the words of every language, side by side."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from intents.lexicon import LANGUAGES, both, lexicon

_DIGITS = re.compile(r"\d+(?:\.\d+)?")


@dataclass(frozen=True, slots=True)
class Number:
    """A number that stands at ``words[start:end]``."""

    start: int
    end: int
    value: float
    in_digits: bool


@cache
def number_words() -> dict[str, int]:
    """Every number word and its value."""
    return {word: value for language in LANGUAGES for word, value in lexicon(language).numbers.items()}


@cache
def _articles() -> frozenset[str]:
    return frozenset(both("number_parts.article").words())


def number_at(words: Sequence[str], start: int) -> Number | None:
    """The longest number that begins at ``start``: "22", "20.5", "three fifty", "ciento setenta", "20 y medio"."""
    if start >= len(words):
        return None
    first = words[start]
    if _DIGITS.fullmatch(first):
        value, end, digits = float(first), start + 1, True
    elif first in number_words():
        value, end = _spelt(words, start)
        digits = False
    else:
        return None
    half = both("number_parts.half").first_at(words, end) if end < len(words) else None
    if half:
        return Number(start, half.end, value + 0.5, digits)
    point = both("number_parts.point").first_at(words, end) if end < len(words) else None
    if point and (decimal := number_at(words, point.end)) and decimal.value < 100:
        text = f"{decimal.value:g}"
        return Number(start, decimal.end, value + float(f"0.{text}"), digits)
    return Number(start, end, value, digits)


def _spelt(words: Sequence[str], start: int) -> tuple[float, int]:
    known = number_words()
    links = both("number_parts.link")
    value, end = known[words[start]], start + 1
    while end < len(words):
        after_link = end + 1 if words[end] in links else end
        following = known.get(words[after_link]) if after_link < len(words) else None
        joined = None if following is None else _join(value, following, linked=after_link != end)
        if joined is None:
            break
        value, end = joined, after_link + 1
    return float(value), end


def _join(value: int, following: int, linked: bool) -> int | None:
    """Two number words as one number, or None where they are two numbers."""
    if following == 100 and 0 < value < 10 and not linked:
        return value * 100
    if value >= 100 and value % 100 == 0 and 0 < following < 100:
        return value + following
    if value % 100 >= 20 and value % 10 == 0 and 0 < following < 10:
        return value + following
    if 0 < value < 10 and 10 <= following < 100 and not linked:
        return value * 100 + following
    return None


def is_article(word: str) -> bool:
    """Whether a number word is rather an article ("a", "una")."""
    return word in _articles()
