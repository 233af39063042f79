"""Readings and counts: "22 %", "one seventy four celsius", "quince tandas"."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from intents.lexicon import both
from intents.slots.numbers import Number, is_article, number_at
from intents.slots.spans import Span, free
from intents.types import Unit

MASK = "{amount}"
SUPPLIES = ("seals", "oil_jugs", "filter_pads")
_SMALLEST_BARE = 8
"""A smaller number with no unit says too little to be a reading."""


_LARGEST_PERCENT = 100


@dataclass(frozen=True, slots=True)
class Amount(Span):
    """A number with what it counts; ``bare`` where nothing says what."""

    value: float = 0.0
    unit: Unit | None = None
    kind: str = "bare"
    """ "percent", "degrees", "count" (of what was cooked), "stock" (of a supply) or "bare"."""


def amounts(words: Sequence[str], taken: Sequence[Span]) -> Iterator[Amount]:
    """Every number that no other span has taken and that reads as an amount."""
    at = 0
    while at < len(words):
        found = _amount_at(words, at)
        if found and free(taken, found.start, found.end):
            yield found
            at = found.end
        else:
            at += 1


def _amount_at(words: Sequence[str], start: int) -> Amount | None:
    number = Number(start, start + 1, 0.0, True) if words[start] == MASK else number_at(words, start)
    if number is None:
        return None
    end = number.end
    degrees = both("amount.degrees").first_at(words, end) if end < len(words) else None
    unit_at = degrees.end if degrees else end
    for name, unit in (("fahrenheit", "F"), ("celsius", "C")):
        match = both(f"amount.{name}").first_at(words, unit_at) if unit_at < len(words) else None
        if match:
            return Amount(start, match.end, MASK, number.value, "F" if unit == "F" else "C", "degrees")
    if degrees:
        return Amount(start, degrees.end, MASK, number.value, None, "degrees")
    percent = both("amount.percent").first_at(words, end) if end < len(words) else None
    if percent:
        return Amount(start, percent.end, MASK, number.value, "percent", "percent")
    counted = both("amount.counted").first_at(words, end) if end < len(words) else None
    if counted and not is_article(words[start]):
        return Amount(start, end, MASK, number.value, None, "count")
    if not is_article(words[start]) and _is_supply(words, end):
        return Amount(start, end, MASK, number.value, None, "stock")
    if words[start] == MASK:
        return Amount(start, end, MASK)
    if number.value > _LARGEST_PERCENT:
        return Amount(start, end, MASK, number.value, None, "degrees")
    if number.value >= _SMALLEST_BARE and not (end < len(words) and both("fryer.counted").first_at(words, end)):
        return Amount(start, end, MASK, number.value, None, "bare")
    return None


def _is_supply(words: Sequence[str], at: int) -> bool:
    """Whether what follows a number is something that is kept on the shelf."""
    return at < len(words) and any(both(f"items.{item}").first_at(words, at) for item in SUPPLIES)
