"""Misspelt words put right: first by how they sound, then by how few letters are wrong (rapidfuzz)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from rapidfuzz import process
from rapidfuzz.distance import OSA

SHORTEST = 3
"""A shorter unknown word could be anything."""
LONG = 6
"""From this length on, two wrong letters still leave enough of a word."""
SURE = 4
"""A word that stands in so many messages is hardly a slip, unless two letters are swapped."""
SURE_SIZE = 5
FAR_COMMONER = 6
"""A word that is known but rare is taken for a slip of one that is so many times as common."""
LISTED = 3
"""What standing in the vocabulary counts, in messages."""
MOST_REMEMBERED = 5000


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
    """Repairs single words that it does not know, or that look like a slip for a far commoner word."""

    counts: Mapping[str, int]
    """In how many messages each word stands."""
    vocabulary: frozenset[str] = frozenset()
    """Words that are right as they are, besides."""
    rules: Sequence[tuple[str, str]] = ()
    _by_size: dict[int, list[str]] = field(default_factory=dict)
    _by_sound: dict[str, str] = field(default_factory=dict)
    _done: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for word in sorted({*self.counts, *self.vocabulary}, key=lambda word: (-self._count(word), word)):
            if word.isalpha() and len(word) >= SHORTEST:
                self._by_size.setdefault(len(word), []).append(word)
                if self.rules:
                    self._by_sound.setdefault(sound(word, self.rules), word)

    def _count(self, word: str) -> int:
        return self.counts.get(word, 0) + LISTED * (word in self.vocabulary)

    def repair(self, word: str) -> str:
        """The known word that ``word`` most likely stands for, or ``word`` itself."""
        if word in self.vocabulary or len(word) < SHORTEST or not word.isalpha():
            return word
        done = self._done.get(word)
        if done is None:
            done = self._meant_by(word)
            if len(self._done) < MOST_REMEMBERED:
                self._done[word] = done
        return done

    def _meant_by(self, word: str) -> str:
        count = self._count(word)
        near = self._nearest(word, count)
        alike = self._by_sound.get(sound(word, self.rules)) if self.rules else None
        if alike is None or alike == word or self._count(alike) < FAR_COMMONER * count:
            return near
        closer = near != word and near[0] == word[0] and self._count(near) > self._count(alike)
        return near if closer else alike

    def _nearest(self, word: str, count: int) -> str:
        """The best of the words that are one or two letters away, or ``word``.

        A word that is known itself gives way only to a far commoner one, at one letter, and a short or not so
        rare one only where two letters are swapped.
        """
        allowed = 1 if count or len(word) < LONG else 2
        only_swapped = len(word) <= SHORTEST or count >= SURE or (count > 0 and len(word) < SURE_SIZE)
        best, best_rank = word, 0.0
        for size in range(len(word) - allowed, len(word) + allowed + 1):
            if only_swapped and size != len(word):
                continue
            for other, distance, _ in process.extract(
                word, self._by_size.get(size, ()), scorer=OSA.distance, score_cutoff=allowed, limit=8
            ):
                if other == word or self._count(other) < FAR_COMMONER * count:
                    continue
                if only_swapped and sorted(other) != sorted(word):
                    continue
                rank = _rank(word, other, distance, self._count(other))
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
