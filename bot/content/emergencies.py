"""What is said in an emergency at once, and what a quarter of an hour later."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, get_args

from bot.content import places
from bot.content.fields import Table, text
from bot.content.findings import ContentError, Finding, collected
from bot.content.languages import LANGUAGES, OTHERS
from bot.content.numbers import numbers_in, unsourced
from bot.content.readability import LONGEST_SENTENCE, sentences, words
from bot.content.templates import GIVEN, checked, template
from bot.content.toml_lines import Document, read_toml
from bot.core.library import EmergencyShape
from bot.core.records import IncidentKind
from intents.types import Language

KINDS: tuple[IncidentKind, ...] = get_args(IncidentKind)
PARTS = ("lines", "after")

MOST_LINES = 5
"""Nobody reads more with a fire before them; contract of the product."""


@dataclass(frozen=True)
class Emergencies:
    """The number of lines by kind, and the texts by language and id ("emergency.fire/line.1")."""

    shapes: dict[IncidentKind, EmergencyShape]
    texts: dict[Language, dict[str, str]]


@dataclass(frozen=True)
class _Spoken:
    document: Document
    lines: dict[tuple[str, str], tuple[str, ...]]


def load_emergencies(folder: Path = places.EMERGENCIES) -> Emergencies:
    """Read the three emergencies. Raises ``ContentError`` with every fault."""
    findings: list[Finding] = []
    spoken: dict[Language, _Spoken] = {}
    sources: dict[str, tuple[str, ...]] = {}
    with collected(findings):
        sources = _sources(folder / "about.toml")
    for language in LANGUAGES:
        with collected(findings):
            spoken[language] = _spoken(folder / f"{language}.toml")
    if not findings:
        for told in spoken.values():
            findings.extend(_lines_faults(told, sources))
        for language in OTHERS:
            findings.extend(_difference(spoken["en"], spoken[language]))
    if findings:
        raise ContentError(findings)
    english = spoken["en"].lines
    return Emergencies(
        {kind: EmergencyShape(len(english[kind, "lines"]), len(english[kind, "after"])) for kind in KINDS},
        {language: dict(_texts(told)) for language, told in spoken.items()},
    )


def _texts(told: _Spoken) -> Iterator[tuple[str, str]]:
    for (kind, part), lines in told.lines.items():
        for n, line in enumerate(lines, 1):
            yield f"emergency.{kind}/{'line' if part == 'lines' else part}.{n}", line


def _sources(path: Path) -> dict[str, tuple[str, ...]]:
    document = read_toml(path)
    findings: list[Finding] = []
    top = Table(document, findings)
    named: dict[str, tuple[str, ...]] = {}
    for kind in KINDS:
        about = top.table(kind)
        sources = about.table("sources") if about is not None else None
        if about is None or sources is None:
            top.fault(kind, f"[{kind}.sources] is missing", "add it, with every number of the texts")
            continue
        for number in sources.data:
            sources.take(number, text, "")
        named[kind] = tuple(sources.data)
        about.finish()
    top.finish()
    if findings:
        raise ContentError(findings)
    return named


def _spoken(path: Path) -> _Spoken:
    document = read_toml(path)
    findings: list[Finding] = []
    top = Table(document, findings)
    lines: dict[tuple[str, str], tuple[str, ...]] = {}
    for kind in KINDS:
        table = top.table(kind)
        if table is None:
            top.fault(kind, f"[{kind}] is missing", "add it, with its lines and after")
            continue
        for part in PARTS:
            lines[kind, part] = table.items(part, _words)
            if part not in table:
                table.fault(part, f'"{part}" is missing', f"add {part} = [...]")
        table.finish()
        if not 1 <= len(lines[kind, "lines"]) <= MOST_LINES:
            table.fault("lines", f"there are {len(lines[kind, 'lines'])} lines", f"write 1 to {MOST_LINES}")
    top.finish()
    if findings:
        raise ContentError(findings)
    return _Spoken(document, lines)


def _lines_faults(told: _Spoken, sources: dict[str, tuple[str, ...]]) -> Iterator[Finding]:
    for (kind, part), lines in told.lines.items():
        for n, line in enumerate(lines):
            at = told.document.line(kind, part, n)
            for number in unsourced(line, sources[kind]):
                todo = f"name it in [{kind}.sources] of about.toml"
                yield Finding(told.document.file, at, f"the number {number} has no source", todo)
            for sentence in sentences(line):
                if len(words(sentence)) > LONGEST_SENTENCE:
                    what = f"a sentence of {len(words(sentence))} words"
                    yield Finding(told.document.file, at, what, f"make it two; {LONGEST_SENTENCE} words are the most")


def _difference(english: _Spoken, spanish: _Spoken) -> Iterator[Finding]:
    file = spanish.document.file
    for (kind, part), lines in spanish.lines.items():
        theirs = english.lines[kind, part]
        if len(lines) != len(theirs):
            what = f"{len(lines)} {part} here, {len(theirs)} in English"
            yield Finding(file, spanish.document.line(kind, part), what, "make them the same")
            continue
        for n, (ours, other) in enumerate(zip(lines, theirs, strict=True)):
            if sorted(numbers_in(ours)) != sorted(numbers_in(other)) or template(ours).names != template(other).names:
                what = "the numbers or placeholders are not those of the English text"
                yield Finding(file, spanish.document.line(kind, part, n), what, "make them the same")


def _words(value: Any) -> str:
    return checked(text(value), GIVEN)
