"""What was found where in a message, and the message with those places masked."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Span:
    """Something read from ``words[start:end]``; ``mask`` is the placeholder that stands for it in phrases."""

    start: int
    end: int
    mask: str


def free(spans: Iterable[Span], start: int, end: int) -> bool:
    """Whether nothing has been read from ``start:end`` yet."""
    return all(end <= span.start or span.end <= start for span in spans)


def masked(words: Sequence[str], spans: Iterable[Span]) -> list[str]:
    """``words`` with each span replaced by its placeholder."""
    result: list[str] = []
    at = 0
    for span in sorted(spans, key=lambda span: span.start):
        result += words[at : span.start]
        result.append(span.mask)
        at = span.end
    return [*result, *words[at:]]
