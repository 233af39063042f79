"""Words ready to be looked up: short spellings written out, whichever language they belong to."""

from __future__ import annotations

from functools import cache

from intents.language import clearly
from intents.lexicon import LANGUAGES, lexicon
from intents.normalise import tokens

LONGEST = 120
"""Words of a message that are read; of a longer one the beginning and the end."""


@cache
def _spellings() -> dict[str, tuple[str, ...]]:
    return {short: full for language in LANGUAGES for short, full in lexicon(language).spellings.items()}


@cache
def _unclear() -> frozenset[str]:
    return frozenset(short for language in LANGUAGES for short in lexicon(language).spellings_if_clear)


def spelt_out(text: str) -> list[str]:
    """The tokens of ``text``, marks included, with the lexicons' short spellings written out."""
    found = tokens(text)
    if len(found) > LONGEST:
        found = [*found[: LONGEST // 2], *found[-LONGEST // 2 :]]
    known = _spellings()
    if any(token in _unclear() for token in found):
        language = clearly(found)
        known = {**known, **lexicon(language).spellings_if_clear} if language else known
    words: list[str] = []
    for token in found:
        words += known.get(token, (token,))
    return words
