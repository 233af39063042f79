"""What the recogniser is told before it listens: emergencies, the trade's words, a kitchen's own names.

The words are data that a trainer edits, in ``bot/content/voice``.
"""

from __future__ import annotations

from collections.abc import Sequence

from bot.content.voice_words import VoiceWords, plain_words
from bot.core.kitchen import Kitchen

MOST_NAMES = 24
"""Names of a kitchen that are told; more would drown out the rest."""
LONGEST_NAME = 40


def names_of(kitchen: Kitchen) -> tuple[str, ...]:
    """What only this kitchen says: its fryers' names and the people's."""
    fryers = [name for fryer in kitchen.fryers for name in fryer.names]
    people = [person.name for person in kitchen.people]
    return tuple(dict.fromkeys([*fryers, *people]))


def told(words: VoiceWords, names: Sequence[str] = ()) -> str:
    """The text that a look is biased with. The last words weigh most, so names come first."""
    own = [name[:LONGEST_NAME] for name in names if name.strip()][:MOST_NAMES]
    first = [", ".join(own) + "."] if own else []
    return " ".join([*first, *words.emergencies, *words.likely])


def echoes(text: str, bias: str) -> bool:
    """Whether ``text`` may be nothing but what the recogniser was told, repeated into noise."""
    said, given = plain_words(text), plain_words(bias)
    return bool(said) and (_runs_in(said, given) or (len(said) > 1 and set(said) <= set(given)))


def _runs_in(said: Sequence[str], given: Sequence[str]) -> bool:
    return any(tuple(given[at : at + len(said)]) == tuple(said) for at in range(len(given) - len(said) + 1))
