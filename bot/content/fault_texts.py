"""The words of one fault in one language, from its ``en.toml`` or ``es.toml``, and what they must be."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from bot.content.fields import Fault, Table, text
from bot.content.findings import ContentError, Finding, instead
from bot.content.guide_texts import GUIDE_PLACEHOLDERS
from bot.content.languages import OTHERS
from bot.content.numbers import check_units, numbers_in, unsourced
from bot.content.readability import EASE, LONGEST_SENTENCE, LOWEST_EASE, sentences, words
from bot.content.templates import checked, template
from bot.content.toml_lines import Document, KeyPath, read_toml
from bot.core.diagnosis import FaultShape
from intents.types import Language

CAUTIONS = (1, 4)
"""How many cautions a fault may have: more is not remembered when it is read aloud."""

SENTENCES_A_CHECK = 2
"""A check is one question, said in one breath."""

PARTS = ("name", "check", "fix")
"""What there are words for in each cause: its name for service, the question, and what to do on a yes."""

Place = tuple[str, KeyPath, str]
"""A text's id within its fault, its place in the file, and the words."""


@dataclass(frozen=True)
class FaultText:
    """A fault's words, and the document they stand in."""

    document: Document
    title: str
    none_found: str
    cautions: tuple[str, ...]
    causes: Mapping[str, Mapping[str, str]]

    def placed(self) -> Iterator[Place]:
        """Every text, in the order of the file."""
        yield "title", ("title",), self.title
        for n, caution in enumerate(self.cautions):
            yield f"caution.{n + 1}", ("cautions", n), caution
        yield "none_found", ("none_found",), self.none_found
        for cause, said in self.causes.items():
            for part, written in said.items():
                yield f"{part}.{cause}", ("causes", cause, part), written

    def texts(self, topic: str) -> dict[str, str]:
        """Every text by its id in the catalogue."""
        return {f"{topic}/{name}": said for name, _, said in self.placed()}


def read_fault_text(path: Path) -> FaultText:
    """Read one language of a fault. Raises ``ContentError`` with every fault of the file."""
    document = read_toml(path)
    findings: list[Finding] = []
    table = Table(document, findings)
    title = table.need("title", _words, "")
    cautions = table.items("cautions", _words)
    none_found = table.need("none_found", _words, "")
    causes: dict[str, dict[str, str]] = {}
    listed = table.table("causes")
    if listed is None:
        table.fault("causes", "there are no causes", "add [causes.<id>] for each cause of about.toml")
    else:
        for cause in listed.data:
            said = listed.table(cause)
            if said is not None:
                causes[cause] = {part: said.need(part, _words, "") for part in PARTS}
                said.finish()
    table.finish()
    if findings:
        raise ContentError(findings)
    return FaultText(document, title, none_found, cautions, causes)


def check_texts(shape: FaultShape, told: Mapping[Language, FaultText], sources: Sequence[str]) -> Iterator[Finding]:
    """Every fault of words whose files have the right format."""
    for language, fault in told.items():
        yield from _causes(shape, fault)
        yield from _reading(language, fault)
        yield from _figures(fault, sources)
    for language in OTHERS:
        other = told[language]
        yield from same_words(told["en"].document, told["en"].placed(), other.document, other.placed())


def same_words(
    english: Document, theirs: Iterator[Place], spanish: Document, ours: Iterator[Place]
) -> Iterator[Finding]:
    """Where the two languages differ in what there are words for, in a number, or in a placeholder."""
    in_english = {name: (path, said) for name, path, said in theirs}
    in_spanish = {name: (path, said) for name, path, said in ours}
    for file, missing in ((spanish, in_english.keys() - in_spanish), (english, in_spanish.keys() - in_english)):
        for name in sorted(missing):
            yield Finding(file.file, 1, f'"{name}" stands in the other language only', "write it in both")
    for name in sorted(in_english.keys() & in_spanish):
        path, said = in_spanish[name]
        other = in_english[name][1]
        if sorted(numbers_in(said)) != sorted(numbers_in(other)):
            yield _at(spanish, path, "the numbers are not those of the English text", "make them the same")
        if template(said).names != template(other).names:
            yield _at(spanish, path, "the placeholders are not those of the English text", "make them the same")


def _causes(shape: FaultShape, fault: FaultText) -> Iterator[Finding]:
    low, high = CAUTIONS
    if not low <= len(fault.cautions) <= high:
        what = f"there are {len(fault.cautions)} cautions"
        yield _at(fault.document, ("cautions",), what, f"write {low} to {high}")
    known = [cause.id for cause in shape.causes]
    for cause in known:
        if cause not in fault.causes:
            what = f'there are no words for the cause "{cause}"'
            yield _at(fault.document, ("causes",), what, f"add [causes.{cause}]")
    for cause, said in fault.causes.items():
        if cause not in known:
            todo = instead(cause, known, "add it to about.toml, or take it out")
            yield _at(fault.document, ("causes", cause), f'unknown cause "{cause}"', todo)
        if "?" not in said["check"]:
            todo = "write it as a question that yes or no answers"
            yield _at(fault.document, ("causes", cause, "check"), "the check is no question", todo)


def _reading(language: Language, fault: FaultText) -> Iterator[Finding]:
    for name, path, said in fault.placed():
        spoken = sentences(said)
        for sentence in spoken:
            if len(words(sentence)) > LONGEST_SENTENCE:
                what = f"a sentence of {len(words(sentence))} words"
                yield _at(fault.document, path, what, f"make it two; {LONGEST_SENTENCE} words are the most")
        if name.startswith("check.") and len(spoken) > SENTENCES_A_CHECK:
            yield _at(fault.document, path, f"a check of {len(spoken)} sentences", "make it shorter")
    if language not in EASE:
        return
    ease = EASE[language](said for _, _, said in fault.placed())
    if ease < LOWEST_EASE:
        what = f"its reading ease is {ease:.0f}, below {LOWEST_EASE:.0f}"
        yield _at(fault.document, ("title",), what, "use shorter words and sentences")


def _figures(fault: FaultText, sources: Sequence[str]) -> Iterator[Finding]:
    for _, path, said in fault.placed():
        for number in unsourced(said, sources):
            todo = "name it in [sources] of about.toml"
            yield _at(fault.document, path, f"the number {number} has no source", todo)
        try:
            check_units(said)
        except Fault as wrong:
            yield _at(fault.document, path, wrong.what, wrong.todo)


def _words(value: Any) -> str:
    return checked(text(value), GUIDE_PLACEHOLDERS)


def _at(document: Document, path: KeyPath, what: str, todo: str) -> Finding:
    return Finding(document.file, document.line(*path), what, todo)
