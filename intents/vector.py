"""Messages as sparse vectors: words, their pairs, letter groups, ideas and their pairs, weighted by how rare they are.

Each kind of feature is scaled to one length of its own before they are joined. Unseen features count in that
length, so that a message full of unknown words comes out short in every direction that is known.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float32]
Ints = npt.NDArray[np.int32]
Places = npt.NDArray[np.intp]
"""Numbers to look things up by: numpy turns any smaller kind into these, at every look."""

GROUPS = range(2, 6)
"""Lengths of letter groups; 2 to 5 did best on CLINC150 (its validation part)."""
REACH = 4
"""A word is also paired with the words up to so many places on: "not ... yet", "when ... changed"."""
SHARES = (1.0, 0.7, 0.8, 1.0, 0.8, 0.6)
"""How much words, neighbours, pairs further apart, letter groups, ideas and pairs of ideas weigh. Chosen on that data
and by cross-validation on the phrases with near-identical ones kept together: the further pairs and the pairs of ideas
took it from .770 to .797."""
LONGEST = 60
"""Words of a message that are read: a longer one is a story, and its beginning and end say what it is about."""


@dataclass(frozen=True, slots=True)
class Reading:
    """A message as the vectoriser takes it: its words, and the ideas they stand for."""

    words: Sequence[str]
    ideas: Sequence[str] = ()


def _kinds(reading: Reading) -> tuple[list[str], ...]:
    words = list(reading.words)
    if len(words) > LONGEST:
        words = [*words[: LONGEST // 2], *words[-LONGEST // 2 :]]
    framed = ["^", *words, "$"]
    pairs = [f"{left}\t{right}" for left, right in pairwise(framed)]
    further = [f"{left}\t\t{right}" for at, left in enumerate(framed) for right in framed[at + 2 : at + REACH + 1]]
    groups: list[str] = []
    for word in words:
        if word[0] == "{":
            continue
        padded = f" {word} "
        size = len(padded)
        for length in GROUPS:
            groups += [padded[at : at + length] for at in range(size - length + 1)]
    ideas = [f"~{idea}" for idea in reading.ideas]
    joint = [left + right for left, right in combinations(sorted(set(ideas)), 2)]
    return [f"{word}\t" for word in words], pairs, further, groups, ideas, joint


@dataclass(frozen=True, slots=True)
class Sparse:
    """Rows of a sparse matrix, one after the other: row ``i`` is ``starts[i]:starts[i + 1]``."""

    starts: Ints
    columns: Places
    values: Floats

    def __len__(self) -> int:
        return len(self.starts) - 1


@dataclass(frozen=True, slots=True)
class Vectoriser:
    """Turns readings into weights, as learnt from a list of messages."""

    columns: Mapping[str, int]
    weights: Floats
    unseen: float
    """The weight of a feature that was never seen."""

    @classmethod
    def fit(cls, readings: Iterable[Reading]) -> Vectoriser:
        """Learn the features and how rare each is. Letter groups, further pairs and pairs of ideas of one message alone
        are left out.
        """
        seen: Counter[str] = Counter()
        rare_too: set[str] = set()
        total = 0
        for reading in readings:
            total += 1
            kinds = _kinds(reading)
            words, pairs, _, _, ideas, _ = kinds
            rare_too.update(words, pairs, ideas)
            seen.update({gram for kind in kinds for gram in kind})
        kept = sorted(gram for gram, times in seen.items() if times > 1 or gram in rare_too)
        weights = np.array([math.log((1 + total) / (1 + seen[gram])) + 1 for gram in kept], dtype=np.float32)
        return cls({gram: at for at, gram in enumerate(kept)}, weights, math.log(1 + total) + 1)

    def vector(self, reading: Reading) -> tuple[Ints, Floats]:
        """The columns and weights of one message; the whole is at most of length 1."""
        columns: list[int] = []
        parts: list[Floats] = []
        whole = 0.0
        get = self.columns.get
        for share, grams in zip(SHARES, _kinds(reading), strict=True):
            if not grams:
                continue
            whole += share * share
            counts = Counter(grams)
            seen = [(column, n) for gram, n in counts.items() if (column := get(gram)) is not None]
            unseen = len(counts) - len(seen)
            if not seen:
                continue
            known = [column for column, _ in seen]
            values = self.weights[known]
            if len(counts) < len(grams):
                values *= 1 + np.log(np.array([n for _, n in seen], dtype=np.float32))
            length = math.sqrt(float(values @ values) + unseen * self.unseen**2)
            columns += known
            parts.append(values * np.float32(share / length))
        if not parts:
            return np.zeros(0, np.int32), np.zeros(0, np.float32)
        return np.array(columns, dtype=np.int32), np.concatenate(parts) / np.float32(math.sqrt(whole))


def stack(rows: Sequence[tuple[Ints, Floats]]) -> Sparse:
    """Vectors, one a row."""
    starts = np.cumsum([0, *(len(columns) for columns, _ in rows)]).astype(np.int32)
    none = (np.zeros(0, np.int32), np.zeros(0, np.float32))
    return Sparse(
        starts,
        np.concatenate([none[0], *(columns for columns, _ in rows)]).astype(np.intp),
        np.concatenate([none[1], *(values for _, values in rows)]),
    )


def mix(raw: tuple[Ints, Floats], repaired: tuple[Ints, Floats], share: float) -> tuple[Ints, Floats]:
    """A message as written and as repaired, the latter with ``share`` of the weight."""
    columns, back = np.unique(np.concatenate([raw[0], repaired[0]]), return_inverse=True)
    values = np.bincount(
        back, weights=np.concatenate([raw[1] * (1 - share), repaired[1] * share]), minlength=len(columns)
    )
    return columns.astype(np.int32), values.astype(np.float32)
