"""Which language a message is in: by the small words of each, then by the phrases that it is near to."""

from __future__ import annotations

from collections.abc import Sequence

from intents.lexicon import LANGUAGES, lexicon
from intents.types import Language

_CLEAR = 1.0
"""By how much one language must lead to override the person's setting; one small word counts 1."""
_LEADS = 0.5
"""By how much it must lead where nobody's setting says otherwise."""


def small_words(words: Sequence[str]) -> dict[Language, float]:
    """How much of each language the small words of a message hold, and its kitchen words a little."""
    scores = dict.fromkeys(LANGUAGES, 0.0)
    for language in LANGUAGES:
        words_of_it = lexicon(language)
        small = words_of_it.lists["detect.words"]
        scores[language] = sum(word in small for word in words) + 0.3 * sum(
            word in words_of_it.concepts for word in words
        )
    return scores


def clearly(words: Sequence[str]) -> Language | None:
    """The language that leads by a small word or a few kitchen words; None where neither does."""
    scores = small_words(words)
    first, second = sorted(LANGUAGES, key=lambda language: -scores[language])[:2]
    return first if scores[first] - scores[second] > _LEADS else None


def detect(words: Sequence[str], raw: str, hint: Language | None, nearest: Language) -> Language:
    """The language of ``words``. ``hint`` (or else the nearest phrase's language) decides where they leave it open.

    A message that mixes both counts as the one whose small words hold it together.
    """
    scores = small_words(words)
    for language in LANGUAGES:
        marks = lexicon(language).lists["detect.letters"]
        scores[language] += 2 * any(letter in raw for letter in marks.words())
    first, second = sorted(LANGUAGES, key=lambda language: -scores[language])[:2]
    fallback = hint or nearest
    lead = scores[first] - scores[second]
    if lead >= _CLEAR or (hint is None and lead > _LEADS):
        return first
    return fallback
