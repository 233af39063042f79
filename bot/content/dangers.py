"""Dangerous acts that people announce or ask about: what to say at once, and phrases by which they are known."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, get_args

from bot.content import places
from bot.content.fields import Table, text
from bot.content.findings import ContentError, Finding, collected
from bot.content.readability import LONGEST_SENTENCE, sentences, words
from bot.content.templates import GIVEN, checked, template
from bot.content.toml_lines import Document, read_toml
from intents.types import Language

LANGUAGES: tuple[Language, ...] = get_args(Language)


@dataclass(frozen=True)
class Dangers:
    """The phrases of each danger by language, and the warnings by language and id ("danger.<name>/warning")."""

    phrases: Mapping[Language, Mapping[str, tuple[str, ...]]]
    texts: Mapping[Language, Mapping[str, str]]


@dataclass(frozen=True)
class _Book:
    document: Document
    warnings: dict[str, str]
    phrases: dict[str, tuple[str, ...]]


def load_dangers(folder: Path = places.DANGERS) -> Dangers:
    """Read the dangers. Raises ``ContentError`` with every fault."""
    findings: list[Finding] = []
    books: dict[Language, _Book] = {}
    for language in LANGUAGES:
        with collected(findings):
            books[language] = _book(folder / f"{language}.toml")
    if not findings:
        findings.extend(_differences(books["en"], books["es"]))
    if findings:
        raise ContentError(findings)
    return Dangers(
        {language: book.phrases for language, book in books.items()},
        {
            language: {f"danger.{name}/warning": said for name, said in book.warnings.items()}
            for language, book in books.items()
        },
    )


def _book(path: Path) -> _Book:
    document = read_toml(path)
    findings: list[Finding] = []
    top = Table(document, findings)
    book = _Book(document, {}, {})
    for name in document.data:
        table = top.table(name)
        if table is None:
            continue
        book.warnings[name] = table.need("warning", _warning, "")
        book.phrases[name] = table.items("phrases", text)
        if not book.phrases[name]:
            table.fault("phrases", "there are no phrases", "write how people say it")
        for sentence in sentences(book.warnings[name]):
            if len(words(sentence)) > LONGEST_SENTENCE:
                what = f"a sentence of {len(words(sentence))} words"
                table.fault("warning", what, f"make it two; {LONGEST_SENTENCE} words are the most")
        table.finish()
    if findings:
        raise ContentError(findings)
    return book


def _differences(english: _Book, spanish: _Book) -> Iterator[Finding]:
    for name in sorted(english.warnings.keys() ^ spanish.warnings.keys()):
        lacking = spanish if name in english.warnings else english
        yield Finding(lacking.document.file, 1, f'the danger "{name}" is missing here', "write it in both languages")
    for name in english.warnings.keys() & spanish.warnings.keys():
        if template(english.warnings[name]).names != template(spanish.warnings[name]).names:
            what = "the placeholders are not those of the English text"
            line = spanish.document.line(name, "warning")
            yield Finding(spanish.document.file, line, what, "make them the same")


def _warning(value: Any) -> str:
    return checked(text(value), GIVEN)
