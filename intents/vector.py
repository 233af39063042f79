"""Messages as sparse vectors: words, word pairs and letter groups, weighted by how rare they are.

Unseen features count in a vector's length, so that a message full of unknown words comes out short
in every direction that is known.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float32]
Ints = npt.NDArray[np.int32]

GROUPS = range(2, 6)
"""Lengths of letter groups; 2 to 5 did best on CLINC150 (measured there, on its validation part)."""


def grams(words: Sequence[str]) -> list[str]:
    """The features of a message: each word, each pair of neighbours, each group of letters in a word.

    A word in braces (a placeholder) has no letters of its own.
    """
    found = [f"{word}\t" for word in words]
    found += [f"{left}\t{right}" for left, right in zip(["^", *words], [*words, "$"], strict=True)]
    for word in words:
        if word[0] == "{":
            continue
        padded = f" {word} "
        size = len(padded)
        for length in GROUPS:
            found += [padded[at : at + length] for at in range(size - length + 1)]
    return found


@dataclass(frozen=True, slots=True)
class Sparse:
    """Rows of a sparse matrix, one after the other: row ``i`` is ``starts[i]:starts[i + 1]``."""

    starts: Ints
    columns: Ints
    values: Floats

    def row(self, index: int) -> tuple[Ints, Floats]:
        """The columns and values of one row."""
        part = slice(self.starts[index], self.starts[index + 1])
        return self.columns[part], self.values[part]


@dataclass(frozen=True, slots=True)
class Vectoriser:
    """Turns words into weights, as learnt from a list of messages."""

    columns: Mapping[str, int]
    weights: Floats
    unseen: float
    """The weight of a feature that was never seen."""

    @classmethod
    def fit(cls, messages: Iterable[Sequence[str]], rarest: int = 2) -> Vectoriser:
        """Learn features and how rare they are; letter groups and pairs seen in fewer than ``rarest`` messages are left out."""
        seen: Counter[str] = Counter()
        count = 0
        for words in messages:
            count += 1
            seen.update(set(grams(words)))
        kept = sorted(gram for gram, times in seen.items() if times >= rarest or gram.endswith("\t"))
        weights = np.array([math.log((1 + count) / (1 + seen[gram])) + 1 for gram in kept], dtype=np.float32)
        return cls({gram: at for at, gram in enumerate(kept)}, weights, math.log(1 + count) + 1)

    def vector(self, words: Sequence[str]) -> tuple[Ints, Floats]:
        """The columns and weights of one message; its length is at most 1."""
        counts = Counter(grams(words))
        known: list[int] = []
        times: list[int] = []
        unseen = 0.0
        for gram, count in counts.items():
            column = self.columns.get(gram)
            if column is None:
                unseen += 1
            else:
                known.append(column)
                times.append(count)
        columns = np.array(known, dtype=np.int32)
        values = self.weights[columns] * (1 + np.log(np.array(times, dtype=np.float32)))
        length = math.sqrt(float(values @ values) + unseen * self.unseen**2)
        return columns, values / np.float32(length or 1)

    def matrix(self, messages: Iterable[Sequence[str]]) -> Sparse:
        """The vectors of many messages."""
        rows = [self.vector(words) for words in messages]
        starts = np.cumsum([0, *(len(columns) for columns, _ in rows)]).astype(np.int32)
        return Sparse(
            starts,
            np.concatenate([columns for columns, _ in rows]) if rows else np.zeros(0, np.int32),
            np.concatenate([values for _, values in rows]) if rows else np.zeros(0, np.float32),
        )
