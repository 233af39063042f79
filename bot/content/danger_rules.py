"""The signs of dangers and the words of their ideas, from ``signs.toml`` and ``ideas.<language>.toml``."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from bot.content.danger_signs import ANY_ENDING, Sign, words_of
from bot.content.fields import Fault, Table, text
from bot.content.findings import ContentError, Finding, collected, instead
from bot.content.toml_lines import Document, read_toml
from bot.core.library import DangerShape

Ideas = Mapping[str, tuple[str, ...]]


@dataclass(frozen=True)
class Rules:
    """The signs of all dangers, the gravest first, the ideas by language, and what is offered beside each warning."""

    signs: tuple[Sign, ...] = ()
    ideas: Mapping[str, Ideas] = field(default_factory=dict)
    shapes: Mapping[str, DangerShape] = field(default_factory=dict)


def read_signs(folder: Path, dangers: Collection[str]) -> tuple[Document, Rules]:
    """Every danger's signs and offers, the gravest first. Raises ``ContentError``: also where a danger has none."""
    document = read_toml(folder / "signs.toml")
    findings: list[Finding] = []
    top = Table(document, findings)
    signs: list[Sign] = []
    shapes: dict[str, DangerShape] = {}
    for name in document.data:
        table = top.table(name)
        if table is None:
            continue
        if name not in dangers:
            table.fault("", f'there is no danger "{name}"', instead(name, dangers, "write its warning first"))
        sets = table.items("signs", _ideas)
        if not sets:
            table.fault("signs", f'the danger "{name}" has no signs', "write at least one list of ideas")
        signs.append(Sign(name, tuple(map(frozenset, sets)), frozenset(table.items("unless", text))))
        shapes[name] = DangerShape(table.items("offers", text))
        table.finish()
    findings.extend(
        Finding(document.file, 1, f'the danger "{name}" has no signs', "say by what it is known")
        for name in sorted(set(dangers) - set(document.data))
    )
    if findings:
        raise ContentError(findings)
    return document, Rules(tuple(signs), shapes=shapes)


def read_ideas(path: Path) -> tuple[Document, Ideas]:
    """The words of each idea in one language. Raises ``ContentError``."""
    document = read_toml(path)
    findings: list[Finding] = []
    table = Table(document, findings)
    ideas = {name: table.items(name, _way) for name in document.data}
    for name, ways in ideas.items():
        if not ways:
            table.fault(name, f'the idea "{name}" has no words', "write how people say it")
    if findings:
        raise ContentError(findings)
    return document, ideas


def load_rules(folder: Path, languages: Collection[str], dangers: Collection[str]) -> Rules:
    """The signs, and each language's ideas. Raises ``ContentError`` with every fault of all the files."""
    findings: list[Finding] = []
    books: dict[str, tuple[Document, Ideas]] = {}
    read: tuple[Document, Rules] | None = None
    with collected(findings):
        read = read_signs(folder, dangers)
    for language in languages:
        with collected(findings):
            books[language] = read_ideas(folder / f"ideas.{language}.toml")
    if read is not None and not findings:
        findings.extend(_unmatched(read[0], read[1].signs, books))
    if findings or read is None:
        raise ContentError(findings)
    return replace(read[1], ideas={language: ideas for language, (_, ideas) in books.items()})


def _unmatched(
    document: Document, signs: tuple[Sign, ...], books: Mapping[str, tuple[Document, Ideas]]
) -> Iterator[Finding]:
    """Ideas that a sign names and a language lacks, and ideas that no sign names."""
    used = {idea: sign.danger for sign in signs for idea in sign.unless.union(*sign.signs)}
    for book, ideas in books.values():
        for idea in sorted(used.keys() - ideas.keys()):
            line = document.line(used[idea])
            yield Finding(document.file, line, f'the idea "{idea}" has no words in {book.file}', "write them there")
        for idea in sorted(ideas.keys() - used.keys()):
            todo = instead(idea, used.keys() - ideas.keys(), "use it in signs.toml, or take it out")
            yield Finding(book.file, book.line(idea), f'no sign holds the idea "{idea}"', todo)


def _ideas(value: Any) -> tuple[str, ...]:
    if not isinstance(value, list) or not value:
        raise Fault("a sign is a list of ideas", 'write [["idea", "idea"]]')
    return tuple(text(idea) for idea in value)


def _way(value: Any) -> str:
    said = text(value)
    if not words_of(said):
        raise Fault("there is no word in this text", "write how people say it")
    if ANY_ENDING in said.removesuffix(ANY_ENDING):
        raise Fault("a * stands only at the end", "write the beginning of the last word, and * for any ending")
    return said
