"""The text of a note, as it was written: "note for the morning crew: basket handle on 1 is loose"."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from intents.lexicon import Match, both
from intents.normalise import is_word, plain, tokens

_LATEST_START = 4
"""Words that may come before the words that introduce a note ("um okay so leave a note ...")."""
_PIECE = re.compile(r"\S+")
_TRIM = " \t:;,.-–—\"'“”«»"


@dataclass(frozen=True, slots=True)
class Note:
    """Where the words of a note begin among the words of its message."""

    start: int


def note_in(words: Sequence[str]) -> Note | None:
    """The note that ``words`` hold, or None where nothing introduces one or nothing follows."""
    for at in range(min(_LATEST_START, len(words))):
        lead = both("note.leads").first_at(words, at)
        if lead:
            start = _past_marks(words, lead)
            return Note(start) if start < len(words) else None
    return None


def _past_marks(words: Sequence[str], lead: Match) -> int:
    """After the introduction, and after a colon or dash that follows it closely."""
    for at in range(lead.end, min(lead.end + 5, len(words))):
        if words[at] in (":", "-", "–", "—"):
            return at + 1
    start = lead.end
    while start < len(words) and not is_word(words[start]):
        start += 1
    return start


def note_text(text: str, words_after: int) -> str | None:
    """The end of ``text`` as written that holds its last ``words_after`` tokens."""
    for piece in _PIECE.finditer(text):
        rest = text[piece.start() :]
        if len(tokens(plain(rest))) <= words_after:
            return rest.strip(_TRIM) or None
    return None
