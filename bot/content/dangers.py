"""Dangerous acts that people announce or ask about: what to say at once, and phrases by which they are known."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from bot.content import places
from bot.content.danger_rules import Ideas, Rules, load_rules
from bot.content.danger_signs import DangerSigns, Sign
from bot.content.fields import Table, text
from bot.content.findings import ContentError, Finding, collected, instead
from bot.content.languages import LANGUAGES, OTHERS
from bot.content.readability import LONGEST_SENTENCE, sentences, words
from bot.content.templates import GIVEN, checked, template
from bot.content.toml_lines import Document, read_toml
from bot.core.library import DangerShape, GuideShape
from intents.types import Language


@dataclass(frozen=True)
class Dangers:
    """The phrases of each danger by language, the warnings by language and id, and the signs by which they are known.

    The id of a warning is "danger.<name>/warning".
    """

    phrases: Mapping[Language, Mapping[str, tuple[str, ...]]]
    texts: Mapping[Language, Mapping[str, str]]
    signs: tuple[Sign, ...] = ()
    ideas: Mapping[str, Ideas] = field(default_factory=dict)
    shapes: Mapping[str, DangerShape] = field(default_factory=dict)

    def finder(self) -> DangerSigns:
        """Finds these dangers in messages."""
        return DangerSigns(self.signs, self.ideas.values(), self.phrases.values())


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
        for language in OTHERS:
            findings.extend(_differences(books["en"], books[language]))
    rules = Rules()
    if "en" in books:
        with collected(findings):
            rules = load_rules(folder, LANGUAGES, books["en"].warnings)
    if findings:
        raise ContentError(findings)
    return Dangers(
        {language: book.phrases for language, book in books.items()},
        {
            language: {f"danger.{name}/warning": said for name, said in book.warnings.items()}
            for language, book in books.items()
        },
        rules.signs,
        rules.ideas,
        rules.shapes,
    )


def lost_offers(
    dangers: Mapping[str, DangerShape],
    topics: Collection[str],
    guides: Mapping[str, GuideShape],
    folder: Path = places.DANGERS,
) -> Iterator[Finding]:
    """Topics that a danger offers and that nothing answers."""
    document = read_toml(folder / "signs.toml") if dangers else None
    for name, shape in dangers.items():
        for topic in shape.offers:
            if document is not None and (topic not in topics or (topic.startswith("guide.") and topic not in guides)):
                todo = instead(topic, topics, "offer a topic of topics.toml")
                yield Finding(document.file, document.line(name, "offers"), f'there is no answer to "{topic}"', todo)


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
