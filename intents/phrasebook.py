"""Phrase files: ``FOLDER/<language>/<topic>.txt``, one phrase a line.

A ``#`` begins a comment line. ``{fryer}``, ``{clock}``, ``{minutes}``, ``{amount}`` and ``{note}`` stand for what a
message may fill in. Faults are gathered, never raised one at a time.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from intents.lexicon import LANGUAGES
from intents.normalise import tokens
from intents.topics import topics
from intents.types import Language

BUILT_IN = Path(__file__).with_name("phrases")
PLACEHOLDERS = ("fryer", "clock", "minutes", "amount", "note")

_BRACES = re.compile(r"\{([^{}]*)\}|[{}]")


@dataclass(frozen=True, slots=True)
class Phrase:
    """One line of a phrase file."""

    text: str
    topic: str
    language: Language
    file: Path
    line: int

    @property
    def where(self) -> str:
        """``FILE:LINE``."""
        return f"{self.file}:{self.line}"


@dataclass(frozen=True, slots=True)
class Fault:
    """Something wrong in a phrase file."""

    file: Path
    line: int
    what: str
    """What is wrong; what to do."""

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: {self.what}"


@dataclass(frozen=True, slots=True)
class Phrasebook:
    """The sound phrases of some folders, and the faults of the others."""

    phrases: tuple[Phrase, ...]
    faults: tuple[Fault, ...]


def read(folders: Sequence[Path]) -> Phrasebook:
    """Read every phrase file of ``folders``, in a fixed order. A line with a fault is left out of the phrases."""
    phrases: list[Phrase] = []
    faults: list[Fault] = []
    seen: dict[tuple[str, ...], Phrase] = {}
    for folder in folders:
        for file in sorted(folder.rglob("*.txt")):
            _read_file(file, phrases, faults, seen)
        if not folder.is_dir():
            faults.append(Fault(folder, 0, "no such folder; name a folder that holds en/ and es/"))
    return Phrasebook(tuple(phrases), tuple(faults))


def _read_file(file: Path, phrases: list[Phrase], faults: list[Fault], seen: dict[tuple[str, ...], Phrase]) -> None:
    topic = file.name.removesuffix(".txt")
    if file.parent.name not in LANGUAGES:
        folders = " or ".join(f"{language}/" for language in LANGUAGES)
        faults.append(Fault(file, 1, f"{file.parent.name!r} is no language; move the file into {folders}"))
        return
    if topic not in topics():
        faults.append(Fault(file, 1, f"{topic!r} is no topic; name the file after one in topics.toml"))
        return
    language = file.parent.name
    for number, raw in enumerate(file.read_bytes().splitlines(), start=1):
        try:
            text = raw.decode("utf-8-sig").strip()
        except UnicodeDecodeError:
            faults.append(Fault(file, number, "not UTF-8; save the file again as UTF-8"))
            continue
        if not text or text.startswith("#"):
            continue
        phrase = Phrase(text, topic, language, file, number)
        fault = _fault_of(phrase, seen)
        if fault:
            faults.append(Fault(file, number, fault))
        else:
            phrases.append(phrase)


def stray_brace(text: str) -> str | None:
    """What stands in braces in ``text`` and is no placeholder, or a brace alone; None where there is none."""
    return next((match[0] for match in _BRACES.finditer(text) if match[1] not in PLACEHOLDERS), None)


def _fault_of(phrase: Phrase, seen: dict[tuple[str, ...], Phrase]) -> str | None:
    stray = stray_brace(phrase.text)
    if stray is not None:
        known = ", ".join(f"{{{name}}}" for name in PLACEHOLDERS)
        return f"{stray!r} is no placeholder; write one of {known}"
    key = tuple(tokens(phrase.text))
    if not key:
        return "nothing to read; write at least one word"
    first = seen.setdefault(key, phrase)
    if first is phrase or (first.topic == phrase.topic and first.language != phrase.language):
        return None
    if first.topic == phrase.topic:
        return f"the same phrase stands at {first.where}; delete one"
    return f"the same phrase means {first.topic} at {first.where}; keep it in one topic"
