"""Misspelt words put right: first by how they sound, then by how few letters are wrong (rapidfuzz)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from rapidfuzz import process
from rapidfuzz.distance import OSA

SHORTEST = 3
"""A shorter unknown word could be anything."""


def sound(word: str, rules: Sequence[tuple[str, str]]) -> str:
    """``word`` as it is pronounced, by a lexicon's sound rules."""
    marked = f"^{word}$"
    for written, spoken in rules:
        if written.startswith("^"):
            if marked.startswith(written):
                marked = f"^{spoken}{marked[len(written) :]}"
        else:
            marked = marked.replace(written, spoken)
    heard = marked[1:-1]
    return "".join(letter for at, letter in enumerate(heard) if at == 0 or letter != heard[at - 1])


@dataclass(slots=True)
class Repairer:
    """Repairs single words that it does not know."""

    counts: Mapping[str, int]
    """How often each known word stands in the phrases; 1 for words that only the lexicon has."""
    rules: Sequence[tuple[str, str]] = ()
    _by_size: dict[int, list[str]] = field(default_factory=dict)
    _by_sound: dict[str, str] = field(default_factory=dict)
    _done: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for word in sorted(self.counts, key=lambda word: (-self.counts[word], word)):
            if word.isalpha() and len(word) >= SHORTEST:
                self._by_size.setdefault(len(word), []).append(word)
                if self.rules:
                    self._by_sound.setdefault(sound(word, self.rules), word)

    def repair(self, word: str) -> str:
        """The known word that ``word`` most likely stands for, or ``word`` itself."""
        if word in self.counts or not word.isalpha() or len(word) < SHORTEST:
            return word
        done = self._done.get(word)
        if done is None:
            done = self._nearest(word)
            if len(self._done) < 5000:
                self._done[word] = done
        return done

    def _nearest(self, word: str) -> str:
        if self.rules:
            alike = self._by_sound.get(sound(word, self.rules))
            if alike is not None:
                return alike
        allowed = 1 if len(word) < 6 else 2
        best, best_rank = word, 0.0
        for size in range(len(word) - allowed, len(word) + allowed + 1):
            for other, distance, _ in process.extract(
                word, self._by_size.get(size, ()), scorer=OSA.distance, score_cutoff=allowed, limit=8
            ):
                rank = _rank(word, other, distance, self.counts[other])
                if rank > best_rank:
                    best, best_rank = other, rank
        return best


def _rank(word: str, other: str, distance: float, count: int) -> float:
    """How likely ``other`` was meant: few wrong letters, then the same first letter, then a common word."""
    same_start = word[0] == other[0]
    if distance == 2 and not same_start:
        return 0.0
    same_letters = sorted(word) == sorted(other)
    return 10 - 4 * distance + 1.5 * same_start + 1.5 * same_letters + min(count, 60) / 40


def counted(messages: Iterable[Sequence[str]]) -> dict[str, int]:
    """How many messages each word stands in."""
    counts: dict[str, int] = {}
    for words in messages:
        for word in set(words):
            counts[word] = counts.get(word, 0) + 1
    return counts
