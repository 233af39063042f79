"""What one kitchen adds of its own: phrases that act at once, without a fit, and the names of its own duties.

A message is a kitchen's own phrase only where it says the same words (numbers, times and fryers may be others); a
slip in a long word is let pass. Anything looser is left to the next fit, which learns from these phrases too.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Literal

from rapidfuzz.distance import OSA

from intents.language import clearly
from intents.lexicon import FOLDER, LANGUAGES, WordList, both
from intents.normalise import is_word, tokens
from intents.phrasebook import Fault, Phrase, Phrasebook, read
from intents.slots.fryers import MASK as FRYER
from intents.types import Language

EXACTLY, NEARLY = 0.9, 0.85
"""How sure an own phrase makes: enough to act on, never as sure as what was measured on thousands of phrases."""
LONGEST = 160
"""Characters of an own phrase; a longer message tells a story, and is said only once."""
SLIP_FROM = 5
"""Letters from which on one wrong letter still leaves the word."""

ABOUT_DUTIES = frozenset({"log.done", "log.undo", "ask.due", "ask.last_done", "remind.snooze", "duty.move"})
"""Topics that a kitchen's own duty can be spoken of under; of any other, nothing is known of it."""

Why = Literal["empty", "long", "placeholder", "emergency", "near_emergency", "taken", "too_near", "unknown_topic"]


@dataclass(frozen=True, slots=True)
class Objection:
    """Why a phrase must not be taught."""

    why: Why
    topic: str | None = None
    """The topic that it belongs to already, or the emergency that it is too near to."""
    phrase: Phrase | None = None
    """The phrase that it gets into the way of."""


@dataclass(frozen=True, slots=True)
class Found:
    """An own phrase that a message says."""

    phrase: Phrase
    exactly: bool


Key = tuple[str, ...]
Keys = Callable[[str], tuple[Key, Key]]
"""The words of a text as written and as repaired, with placeholders for what may differ."""


@dataclass(frozen=True, slots=True)
class OwnPhrases:
    """A kitchen's own phrases, ready to be found in messages. Two that say the same of two topics are of neither."""

    phrases: tuple[Phrase, ...] = ()
    exact: Mapping[Key, Phrase | None] = field(default_factory=dict)
    by_length: Mapping[int, tuple[tuple[Key, Phrase], ...]] = field(default_factory=dict)

    @classmethod
    def of(cls, phrases: Iterable[Phrase], keys: Keys) -> OwnPhrases:
        """Ready to be found; ``keys`` reads a text as messages are read."""
        kept = tuple(phrases)
        exact: dict[Key, Phrase | None] = {}
        by_length: dict[int, list[tuple[Key, Phrase]]] = {}
        for phrase in kept:
            written, repaired = map(_bare, keys(phrase.text))
            if not repaired:
                continue
            for key in {written, repaired}:
                other = exact.setdefault(key, phrase)
                if other is not None and other.topic != phrase.topic:
                    exact[key] = None
            by_length.setdefault(len(repaired), []).append((repaired, phrase))
        return cls(kept, exact, {length: tuple(found) for length, found in by_length.items()})

    def find(self, written: Sequence[str], repaired: Sequence[str], known: Callable[[str], bool]) -> Found | None:
        """The phrase that these words say, or None. A word that is ``known`` is no slip for another."""
        if not self.phrases:
            return None
        written, repaired = _bare(written), _bare(repaired)
        for words in (written, repaired):
            phrase = self.exact.get(words)
            if phrase is not None:
                return Found(phrase, True)
        near = [
            phrase
            for key, phrase in self.by_length.get(len(repaired), ())
            if self.exact.get(key) is not None
            and all(_same(mine, theirs, known) for mine, theirs in zip(repaired, key, strict=True))
        ]
        return Found(near[0], False) if near and len({phrase.topic for phrase in near}) == 1 else None


def _bare(words: Sequence[str]) -> Key:
    """``words`` without the article before a fryer: "the falafel one" has it, "fryer 2" has not."""
    small = (both("fryer.articles"), both("fryer.determiners"))
    pairs = zip(words, [*words[1:], ""], strict=False)
    return tuple(word for word, after in pairs if after != FRYER or not any(word in them for them in small))


def _same(said: str, meant: str, known: Callable[[str], bool]) -> bool:
    if said == meant:
        return True
    if min(len(said), len(meant)) < SLIP_FROM or not (said.isalpha() and meant.isalpha()) or known(said):
        return False
    return OSA.distance(said, meant, score_cutoff=1) <= 1


@cache
def _stand_ins() -> dict[Language, tuple[tuple[str, tuple[str, ...]], ...]]:
    """The duties that everybody knows and that may stand for another, with their words."""
    data = tomllib.loads((FOLDER / "stand_ins.toml").read_text(encoding="utf-8"))["stand_ins"]
    return {
        lang: tuple((entry["duty"], tuple(entry.get(lang, entry["en"]).split())) for entry in data)
        for lang in LANGUAGES
    }


@dataclass(frozen=True, slots=True)
class OwnDuties:
    """A kitchen's own duties, by the words for them.

    To the engine such a duty is a stranger. So that it sees what is said *of* it (done, not done, put off, when
    last), the words of a duty that everybody knows stand in its place while the message is looked at.
    """

    names: WordList = field(default_factory=WordList)

    @classmethod
    def of(cls, duties: Mapping[str, Iterable[str]]) -> OwnDuties:
        """``duties``: id -> titles and words."""
        names = WordList()
        for duty, given in duties.items():
            for name in given:
                words = [word for word in tokens(name) if is_word(word)]
                if words:
                    names.add(" ".join(words), duty)
        return cls(names)

    def replaced(self, words: Sequence[str], named: Iterable[str]) -> tuple[list[str], dict[str, str]]:
        """``words`` with stand-ins, and the own duty of each; the duties ``named`` may not stand in."""
        own: dict[str, str] = {}
        if not self.names.longest:
            return list(words), own
        language: Language = clearly(words) or "en"
        free = [(duty, instead) for duty, instead in _stand_ins()[language] if duty not in set(named)]
        out: list[str] = []
        at = 0
        while at < len(words):
            match = self.names.first_at(words, at)
            stand_in = next((f for f in free if match and own.get(f[0], match.name) == match.name), None)
            if match is None or stand_in is None:
                out.append(words[at])
                at += 1
                continue
            own[stand_in[0]] = match.name
            out += stand_in[1]
            at = match.end
        return out, own


def read_own(folder: Path | None) -> Phrasebook:
    """The phrases of a kitchen's own folder, and what is wrong with the others; nothing where there is no folder."""
    if folder is None or not folder.is_dir():
        return Phrasebook((), ())
    found = read((folder,))
    sound: list[Phrase] = []
    faults = list(found.faults)
    for phrase in found.phrases:
        if len(phrase.text) > LONGEST:
            faults.append(Fault(phrase.file, phrase.line, f"longer than {LONGEST} characters; say it shorter"))
        elif not any(is_word(word) for word in tokens(phrase.text)):
            faults.append(Fault(phrase.file, phrase.line, "nothing to read; write at least one word"))
        else:
            sound.append(phrase)
    return Phrasebook(tuple(sound), tuple(faults))
