"""Which dangerous act a message speaks of, by the ideas that stand in it together.

Rules rather than a model, for a trainer can read why a message was warned of and mend it: a danger has signs, a sign
is a few ideas, an idea is the words by which it is known. Words of all languages count in every message, for crews mix
them. One slip in a longer word is forgiven.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from rapidfuzz.distance import OSA

from intents.normalise import is_word
from intents.prepare import spelt_out

SLIP_FROM = 6
"""Letters of a word from which one slip is forgiven: in shorter words it makes another word ("hose", "nose")."""


@dataclass(frozen=True, slots=True)
class Sign:
    """By what one danger is known: any of ``signs`` (each a set of ideas), and none of ``unless``."""

    danger: str
    signs: tuple[frozenset[str], ...]
    unless: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class _Shown:
    """One way to say an idea: words side by side; the last may be the beginning of a word."""

    idea: str
    words: tuple[str, ...]
    any_ending: bool

    def starts_at(self, words: Sequence[str], at: int) -> bool:
        if at + len(self.words) > len(words):
            return False
        *first, last = self.words
        said = words[at : at + len(self.words)]
        if any(not _same(wanted, word) for wanted, word in zip(first, said, strict=False)):
            return False
        return said[-1].startswith(last) if self.any_ending else _same(last, said[-1])


def _same(wanted: str, word: str) -> bool:
    if wanted == word:
        return True
    if len(wanted) < SLIP_FROM or len(word) < SLIP_FROM - 1 or wanted[0] != word[0]:
        return False
    return OSA.distance(wanted, word, score_cutoff=1) <= 1


class DangerSigns:
    """Finds dangerous acts in messages."""

    def __init__(self, signs: Sequence[Sign], ideas: Iterable[Mapping[str, Sequence[str]]]) -> None:
        """``ideas`` holds one language's ideas each, with their words; a ``*`` at the end stands for any ending."""
        self._signs = tuple(signs)
        self._shown: list[_Shown] = []
        for language in ideas:
            for idea, ways in language.items():
                for way in ways:
                    words = tuple(way.removesuffix("*").split())
                    self._shown.append(_Shown(idea, words, way.endswith("*")))

    def danger_in(self, text: str) -> str | None:
        """The danger that a message speaks of, the gravest first; None where there is none."""
        ideas = self.ideas_in(text)
        for sign in self._signs:
            if ideas & sign.unless:
                continue
            if any(wanted <= ideas for wanted in sign.signs):
                return sign.danger
        return None

    def ideas_in(self, text: str) -> frozenset[str]:
        """The ideas that a message holds."""
        words = [word for word in spelt_out(text) if is_word(word)]
        return frozenset(
            shown.idea for shown in self._shown if any(shown.starts_at(words, at) for at in range(len(words)))
        )
