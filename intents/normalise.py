"""Plain text from whatever a phone sends: one case, no accents, no decoration, words apart.

Nothing here knows a language; spellings that belong to one ("q" for "que") are the lexicon's business.
"""

from __future__ import annotations

import re
import unicodedata

LONGEST = 20_000
"""Characters that are looked at: a chat message holds 4,096, so this only bounds what a pasted file can cost."""

_APOSTROPHES = re.compile(r"(?<=\w)['’‘ʼ`´](?=\w)")
_ELONGATED = re.compile(r"([a-z])\1{2,}")
_DECIMAL_COMMA = re.compile(r"(?<=\d),(?=\d{1,2}(?!\d))")
_THOUSANDS = re.compile(r"(?<=\d),(?=\d{3}(?!\d))")
_NUMBER_THEN_UNIT = re.compile(r"(?<![\w.])(\d+(?:\.\d+)?)(?=[a-z])")
_TOKEN = re.compile(r"\d+(?::\d\d)+|\d+(?:\.\d+)?|[^\W\d_]+(?:\d+[^\W_]*)?|\{[a-z]+\}|[%°?!:;,.]|[^\w\s]")
_WORD = re.compile(r"\w")
_CONTROLS = re.compile(r"[\x00-\x1f\x7f]")


def plain(text: str) -> str:
    """``text`` in lower case, without accents, apostrophes inside words, drawn-out letters or odd spaces.

    Any string is accepted, lone surrogates and control characters included; the first ``LONGEST`` characters
    are read.
    """
    folded = unicodedata.normalize("NFKD", text[:LONGEST].casefold())
    # Most messages have only ASCII letters left by now, of which none needs a look at what it is.
    kept = _CONTROLS.sub(" ", folded) if folded.isascii() else _without_marks(folded)
    kept = _APOSTROPHES.sub("", kept)
    kept = _THOUSANDS.sub("", kept)
    kept = _DECIMAL_COMMA.sub(".", kept)
    kept = _NUMBER_THEN_UNIT.sub(r"\1 ", kept)
    return _ELONGATED.sub(r"\1", " ".join(kept.split()))


def _without_marks(folded: str) -> str:
    return "".join(
        " " if unicodedata.category(mark)[0] in "ZC" else mark for mark in folded if unicodedata.category(mark) != "Mn"
    )


def tokens(text: str) -> list[str]:
    """The words, numbers, clock times, placeholders and marks of ``plain(text)``, in order."""
    return _TOKEN.findall(plain(text))


def is_word(token: str) -> bool:
    """Whether a token is a word or number, as against a mark or an emoji."""
    return bool(_WORD.match(token))
