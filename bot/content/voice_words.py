"""What a speech recogniser is told and what it is known to mishear, from ``voice/<language>.toml``."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from bot.content import places
from bot.content.fields import Table, text
from bot.content.findings import ContentError, Finding, collected
from bot.content.languages import LANGUAGES
from bot.content.toml_lines import read_toml
from intents.normalise import is_word, tokens

VOICE = places.CONTENT / "voice"
EMERGENCIES = 3
"""Fire, burns and gas: each has to be among what the recogniser is told."""


@dataclass(frozen=True, slots=True)
class VoiceWords:
    """One language's words for listening."""

    emergencies: tuple[str, ...]
    """Sentences of fire, burns and gas; the recogniser is told them always."""
    likely: tuple[str, ...]
    """Sentences and words of the trade."""
    invented: frozenset[tuple[str, ...]]
    """Texts, as plain words, that are written where nobody spoke."""
    sounds_like: Mapping[str, str]
    """Words that are heard, in lower case, and those that were said."""

    no_emergency: Mapping[str, str]
    """The same for words that would raise a false alarm, and that nobody says of a real fire."""

    def put_right(self, heard: str) -> str:
        """The text with what is known to be misheard put right; the rest stays as it is written."""
        return _replaced(heard, self.sounds_like)

    def put_calm(self, heard: str) -> str:
        """The text without what is known to be misheard as an emergency's words."""
        return _replaced(heard, self.no_emergency)


@cache
def voice_words(folder: Path = VOICE) -> Mapping[str, VoiceWords]:
    """The words of every language that the helper speaks. Raises ``ContentError`` with every fault."""
    findings: list[Finding] = []
    words: dict[str, VoiceWords] = {}
    for language in LANGUAGES:
        with collected(findings):
            words[language] = _read(folder / f"{language}.toml")
    if findings:
        raise ContentError(findings)
    return words


def _read(path: Path) -> VoiceWords:
    document = read_toml(path)
    findings: list[Finding] = []
    table = Table(document, findings)
    emergencies = table.items("emergencies", text)
    if len(emergencies) < EMERGENCIES:
        table.fault("emergencies", "fire, burns and gas are not all there", "write a short call for help of each")
    likely = table.items("likely", text)
    invented = frozenset(plain_words(said) for said in table.items("invented", text))
    sounds_like = _pairs(table.table("sounds_like"))
    no_emergency = _pairs(table.table("no_emergency"))
    table.finish()
    if findings:
        raise ContentError(findings)
    return VoiceWords(emergencies, likely, invented, sounds_like, no_emergency)


def _pairs(pairs: Table | None) -> dict[str, str]:
    found: dict[str, str] = {}
    if pairs is not None:
        for heard in pairs.data:
            meant = pairs.take(heard, text, "")
            if plain_words(heard) == plain_words(meant):
                pairs.fault(heard, f'"{heard}" is what it is to become', "take the line out, accents don't count")
            found[" ".join(heard.casefold().split())] = meant
    return found


def _replaced(heard: str, pairs: Mapping[str, str]) -> str:
    def meant(found: re.Match[str]) -> str:
        words = pairs.get(" ".join(found[0].casefold().split()), found[0])
        return words.capitalize() if found[0][0].isupper() else words

    return _pattern(tuple(pairs)).sub(meant, heard)


@cache
def _pattern(heard: tuple[str, ...]) -> re.Pattern[str]:
    """Finds any of these words; of two that begin alike the longer one."""
    ways = [r"\s+".join(map(re.escape, words.split())) for words in sorted(heard, key=len, reverse=True)]
    return re.compile(rf"(?<!\w)(?:{'|'.join(ways)})(?!\w)" if ways else r"(?!)", re.IGNORECASE)


def plain_words(said: str) -> tuple[str, ...]:
    """The words of a text, in lower case, without accents and marks."""
    return tuple(token for token in tokens(said) if is_word(token))
