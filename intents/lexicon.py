"""The words of a language, read from ``lexicon/<language>.toml``; no language words stand in Python."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from intents.types import Language

FOLDER = Path(__file__).with_name("lexicon")
PHRASES = Path(__file__).with_name("phrases")


def _read_languages() -> tuple[Language, ...]:
    """The languages that have a lexicon and phrases, English first."""
    codes = {folder.name for folder in PHRASES.iterdir() if (FOLDER / f"{folder.name}.toml").is_file()}
    return tuple(sorted(codes, key=lambda code: (code != "en", code)))


LANGUAGES = _read_languages()
"""The languages that are understood."""


@dataclass(frozen=True, slots=True)
class Match:
    """An entry found in a list of words: ``words[start:end]``."""

    start: int
    end: int
    name: str


@dataclass(slots=True)
class WordList:
    """Entries of one or more words, each with a name; "*" ends a word that may go on, or stands alone for any word.

    The longest entry at a place wins.
    """

    exact: dict[tuple[str, ...], list[str]] = field(default_factory=dict)
    open_ended: dict[str, list[tuple[tuple[str, ...], str]]] = field(default_factory=dict)
    firsts: set[str] = field(default_factory=set)
    longest: int = 0

    @classmethod
    def of(cls, entries: Mapping[str, Iterable[str]]) -> WordList:
        """A list from name -> entries."""
        made = cls()
        for name, phrases in entries.items():
            for phrase in phrases:
                made.add(phrase, name)
        return made

    def add(self, phrase: str, name: str) -> None:
        """Add one entry."""
        words = tuple(phrase.split())
        self.longest = max(self.longest, len(words))
        if "*" in phrase:
            self.open_ended.setdefault(words[0][:2].rstrip("*"), []).append((words, name))
        else:
            self.firsts.add(words[0])
            names = self.exact.setdefault(words, [])
            if name not in names:
                names.append(name)

    def at(self, words: Sequence[str], start: int) -> Iterator[Match]:
        """Every entry that begins at ``start``, longest first; one match for each of its names."""
        first = words[start]
        begun = self.open_ended.get(first[:2], ())
        if not begun and first not in self.firsts:
            return
        wild = [
            (entry, name)
            for entry, name in begun
            if len(entry) <= len(words) - start
            and all(_fits(part, word) for part, word in zip(entry, words[start:], strict=False))
        ]
        for length in range(min(self.longest, len(words) - start), 0, -1):
            for name in self.exact.get(tuple(words[start : start + length]), ()):
                yield Match(start, start + length, name)
            for entry, name in wild:
                if len(entry) == length:
                    yield Match(start, start + length, name)

    def first_at(self, words: Sequence[str], start: int) -> Match | None:
        """The longest entry that begins at ``start``."""
        word = words[start]
        return next(self.at(words, start), None) if word in self.firsts or word[:2] in self.open_ended else None

    def find(self, words: Sequence[str]) -> Iterator[Match]:
        """Every entry anywhere, from left to right; they may overlap."""
        firsts, begun = self.firsts, self.open_ended
        if not begun and firsts.isdisjoint(words):
            return
        for start, word in enumerate(words):
            if word in firsts or word[:2] in begun:
                yield from self.at(words, start)

    def _may_begin(self, word: str) -> bool:
        """Whether an entry may begin with ``word``: most words begin none, and are then passed over at once."""
        return word in self.firsts or word[:2] in self.open_ended

    def ends_at(self, words: Sequence[str], end: int) -> Match | None:
        """The longest entry that ends just before ``end``."""
        for start in range(max(0, end - self.longest), end):
            for match in self.at(words, start) if self._may_begin(words[start]) else ():
                if match.end == end:
                    return match
        return None

    def __contains__(self, word: str) -> bool:
        if (word,) in self.exact:
            return True
        begun = self.open_ended.get(word[:2])
        return begun is not None and any(len(entry) == 1 and _fits(entry[0], word) for entry, _ in begun)

    def words(self) -> Iterator[str]:
        """Every single word that is written out in an entry."""
        for entry in self.exact:
            yield from entry


def _fits(part: str, word: str) -> bool:
    return word.startswith(part[:-1]) if part.endswith("*") else word == part


@dataclass(frozen=True, slots=True)
class Lexicon:
    """One language's lists. ``lists["clock.at"]`` is the list ``at`` of the table ``[clock]``."""

    language: Language
    spellings: Mapping[str, tuple[str, ...]]
    spellings_if_clear: Mapping[str, tuple[str, ...]]
    """Short spellings that are words of their own in another language."""
    sounds: tuple[tuple[str, str], ...]
    numbers: Mapping[str, int]
    ordinals: Mapping[str, int]
    foods: Mapping[str, tuple[str, ...]]
    lists: Mapping[str, WordList]
    concepts: WordList

    def known_words(self) -> set[str]:
        """Every word that the lexicon spells out."""
        known = {word for words in self.spellings.values() for word in words}
        known.update(self.numbers, self.ordinals)
        known.update(word for group in self.foods.values() for entry in group for word in entry.split())
        known.update(word for words in self.spellings_if_clear.values() for word in words)
        for words in (self.concepts, *self.lists.values()):
            known.update(words.words())
        return known


_TABLES_READ_APART = (
    "spellings", "spellings_if_clear", "sounds", "numbers", "ordinals", "foods", "concepts", "language",
)  # fmt: skip


@cache
def lexicon(language: Language) -> Lexicon:
    """The lexicon of a language, read once."""
    data: dict[str, Any] = tomllib.loads((FOLDER / f"{language}.toml").read_text(encoding="utf-8"))
    return Lexicon(
        language=language,
        spellings={short: tuple(full.split()) for short, full in data["spellings"].items()},
        spellings_if_clear={short: tuple(full.split()) for short, full in data["spellings_if_clear"].items()},
        sounds=tuple((rule["from"], rule["to"]) for rule in data.get("sounds", ())),
        numbers=data["numbers"],
        ordinals=data["ordinals"],
        foods={name: tuple(group) for name, group in data["foods"].items()},
        lists={
            f"{table}.{name}": WordList.of({name: entries})
            for table, lists in data.items()
            if table not in _TABLES_READ_APART
            for name, entries in lists.items()
        },
        concepts=WordList.of(data["concepts"]),
    )


@cache
def both(name: str) -> WordList:
    """A list (or ``concepts``) of every language together, since crews mix them in one message.

    Raises KeyError where no language has such a list.
    """
    merged = WordList()
    sources = [
        words.concepts if name == "concepts" else words.lists[name]
        for words in map(lexicon, LANGUAGES)
        if name == "concepts" or name in words.lists
    ]
    if not sources:
        raise KeyError(name)
    for source in sources:
        for entry, names in source.exact.items():
            for each in names:
                merged.add(" ".join(entry), each)
        for entries in source.open_ended.values():
            for open_entry, each in entries:
                merged.add(" ".join(open_entry), each)
    return merged
