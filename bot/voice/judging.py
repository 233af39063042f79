"""Which of a recogniser's guesses was said, and whether anything was: rules over plain values.

A recogniser always writes something. Into noise it writes what it was told, what stood under its training's films, or
one phrase over and over. Among guesses that it finds about as likely, the one that makes sense in a kitchen was said.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import exp, log

from bot.content.voice_words import VoiceWords, plain_words

Sense = Callable[[str], float]
"""The chance (0 to 1) that a text means something that the helper knows."""

WEIGHT_OF_SENSE = 0.1
"""How far sense may outweigh sound: mean log-probability of tokens to log-chance of sense. Tuned on aggregates of the
benchmark's clips, 0.1 to 0.5 being alike."""
LEAST_SENSE = 0.05

HOPELESS = -1.1
"""Mean log-probability below which no word can be relied on."""
LOOPED = 2.4
"""How many times a text may shrink when compressed; beyond it the recogniser went round in a circle."""
LONG_ENOUGH_TO_LOOP = 60


@dataclass(frozen=True, slots=True)
class Candidate:
    """A text that may have been said."""

    text: str
    log_chance: float
    """Mean log-probability of its tokens."""


def ranked(candidates: Sequence[Candidate], sense: Sense) -> list[Candidate]:
    """The candidates, likeliest first, sound and sense taken together; of equal texts the likelier one."""
    best: dict[tuple[str, ...], Candidate] = {}
    for one in candidates:
        key = plain_words(one.text)
        if key and (key not in best or best[key].log_chance < one.log_chance):
            best[key] = one
    return sorted(best.values(), key=lambda one: -worth(one, sense))


def worth(one: Candidate, sense: Sense) -> float:
    """How likely a candidate was said, by sound and sense together; only differences mean anything."""
    return one.log_chance + WEIGHT_OF_SENSE * log(max(LEAST_SENSE, sense(one.text)))


def invented(one: Candidate, words: VoiceWords) -> bool:
    """Whether nobody said that: too unlikely, a loop, or what recognisers write into noise."""
    said = plain_words(one.text)
    return not said or one.log_chance < HOPELESS or said in words.invented or loops(one.text)


def loops(text: str) -> bool:
    """Whether the text goes round in a circle."""
    raw = text.encode()
    return len(raw) >= LONG_ENOUGH_TO_LOOP and len(raw) / len(zlib.compress(raw)) > LOOPED


def shares(log_chances: Sequence[float]) -> list[float]:
    """The chances of several guesses beside each other, which sum to 1."""
    most = max(log_chances)
    weights = [exp(one - most) for one in log_chances]
    return [weight / sum(weights) for weight in weights]


def alike(one: str, other: str) -> bool:
    """Whether two texts share at least half of their words."""
    mine, theirs = set(plain_words(one)), set(plain_words(other))
    return 2 * len(mine & theirs) >= max(len(mine), len(theirs))
