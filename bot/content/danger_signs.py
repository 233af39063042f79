"""Which dangerous act a message speaks of, by the ideas that stand in it together.

Rules rather than a model, for a trainer can read why a message was warned of and mend it: a danger has signs, a sign
is a few ideas, an idea is the words by which it is known. Words of all languages count in every message, for crews mix
them. One slip in a longer word is forgiven.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from operator import contains

from rapidfuzz.distance import OSA

from intents.normalise import is_word
from intents.prepare import spelt_out

SLIP_FROM = 6
"""Letters of a word from which one slip is forgiven: in shorter words it makes another word ("hose", "nose")."""

ANY_ENDING = "*"
NOTHING: frozenset[str] = frozenset()


Index = Mapping[tuple[str, ...], Sequence[tuple[tuple[str, ...], str]]]
"""Ways to say something and what each is called, by the words that they begin with."""


@dataclass(frozen=True, slots=True)
class Sign:
    """By what one danger is known: any of ``signs`` (each a set of ideas), and none of ``unless``."""

    danger: str
    signs: tuple[frozenset[str], ...]
    unless: frozenset[str] = frozenset()


class DangerSigns:
    """Finds dangerous acts in messages."""

    def __init__(
        self,
        signs: Sequence[Sign],
        ideas: Iterable[Mapping[str, Sequence[str]]],
        phrases: Iterable[Mapping[str, Sequence[str]]] = (),
    ) -> None:
        """``ideas`` has the words of each idea, a mapping a language, and ``phrases`` what is said of each danger.

        A ``*`` at the end of an idea's words stands for any ending.
        """
        self._signs = tuple(signs)
        self._known: set[str] = set()
        self._endings: set[str] = set()
        self._ideas = self._indexed(ideas)
        self._phrases = self._indexed(phrases)
        self._meant = lru_cache(maxsize=4096)(self._meanings)

    def danger_in(self, text: str) -> str | None:
        """The danger that a message speaks of, the gravest first; None where there is none."""
        words = self._words(text)
        said = frozenset(self._found(words, self._phrases))
        if said:
            return next((sign.danger for sign in self._signs if sign.danger in said), None)
        ideas = frozenset(self._found(words, self._ideas))
        if not ideas:
            return None
        for sign in self._signs:
            if not ideas & sign.unless and any(wanted <= ideas for wanted in sign.signs):
                return sign.danger
        return None

    def _indexed(self, ways: Iterable[Mapping[str, Sequence[str]]]) -> Index:
        """Every way to say something, by its first two words: by one alone too many begin."""
        index: dict[tuple[str, ...], list[tuple[tuple[str, ...], str]]] = {}
        for language in ways:
            for name, texts in language.items():
                for text in texts:
                    words = words_of(text)
                    if words:
                        self._known.update(words)
                        self._endings.update(word for word in words if word.endswith(ANY_ENDING))
                        index.setdefault(words[:2], []).append((words, name))
        return index

    def _words(self, text: str) -> list[frozenset[str]]:
        return [self._meant(word) for word in spelt_out(text) if is_word(word)]

    def _meanings(self, word: str) -> frozenset[str]:
        """The words of the ideas that a written word may be: itself, or those that it misses by one slip."""
        begun = {stem for stem in self._endings if word.startswith(stem.removesuffix(ANY_ENDING))}
        if word in self._known or begun:
            return frozenset({word, *begun})
        if len(word) < SLIP_FROM - 1:
            return frozenset()
        return frozenset(
            known
            for known in self._known
            if len(known) >= SLIP_FROM and known[0] == word[0] and OSA.distance(known, word, score_cutoff=1) <= 1
        )

    def _found(self, words: Sequence[frozenset[str]], index: Index) -> Iterator[str]:
        for at, meanings in enumerate(words):
            following = words[at + 1] if at + 1 < len(words) else NOTHING
            for meaning in meanings:
                for begins in ((meaning,), *((meaning, next_one) for next_one in following)):
                    for way, name in index.get(begins, ()):
                        end = at + len(way)
                        if end <= len(words) and all(map(contains, words[at:end], way)):
                            yield name


def words_of(text: str) -> tuple[str, ...]:
    """The words of an idea or a phrase as messages are read; the last may stand for any ending."""
    words = [word for word in spelt_out(text.removesuffix(ANY_ENDING)) if is_word(word)]
    if words and text.endswith(ANY_ENDING):
        words[-1] += ANY_ENDING
    return tuple(words)
