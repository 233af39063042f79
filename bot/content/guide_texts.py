"""The words of one guide in one language, from its ``en.toml`` or ``es.toml``."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, get_args

from bot.content.fields import Table, flag, one_of, text, whole
from bot.content.findings import ContentError, Finding
from bot.content.templates import GIVEN, checked
from bot.content.toml_lines import Document, KeyPath, read_toml
from bot.core.kitchen import Power

GUIDE_PLACEHOLDERS = GIVEN | {"fryer"}
"""What a guide's texts may leave to be filled: the kitchen's own figures, and the fryer it is read for."""

OPTIONS = 3
"""Options of each question of a knowledge check: as many as are kept in mind when they are read aloud."""

_POWERS: tuple[Power, ...] = get_args(Power)


@dataclass(frozen=True, slots=True)
class Step:
    """One step's words."""

    say: str
    see: str | None
    if_not: str | None
    power: Power | None
    picture: str | None
    cool: bool


@dataclass(frozen=True, slots=True)
class Question:
    """One question of the knowledge check; ``right`` is the number of the right option, from 1."""

    ask: str
    options: tuple[str, ...]
    right: int
    why: str


@dataclass(frozen=True)
class GuideText:
    """A guide's words, and the document they stand in."""

    document: Document
    title: str
    purpose: str
    takes: str | None
    not_when: tuple[str, ...]
    gear: tuple[str, ...]
    cautions: tuple[str, ...]
    steps: tuple[Step, ...]
    questions: tuple[Question, ...]

    def placed(self) -> Iterator[tuple[str, KeyPath, str]]:
        """Every text: its id within the guide, its place in the file, and the words."""
        yield "title", ("title",), self.title
        yield "purpose", ("purpose",), self.purpose
        if self.takes is not None:
            yield "takes", ("takes",), self.takes
        for name, key, items in (
            ("not_when", "not_when", self.not_when),
            ("gear", "gear", self.gear),
            ("caution", "cautions", self.cautions),
        ):
            for n, item in enumerate(items):
                yield f"{name}.{n + 1}", (key, n), item
        for n, step in enumerate(self.steps):
            yield f"step.{n + 1}", ("steps", n, "say"), step.say
            if step.see is not None:
                yield f"step.{n + 1}.see", ("steps", n, "see"), step.see
            if step.if_not is not None:
                yield f"step.{n + 1}.if_not", ("steps", n, "if_not"), step.if_not
        for n, question in enumerate(self.questions):
            yield f"check.{n + 1}.ask", ("questions", n, "ask"), question.ask
            for m, option in enumerate(question.options):
                yield f"check.{n + 1}.option.{m + 1}", ("questions", n, "options", m), option
            yield f"check.{n + 1}.why", ("questions", n, "why"), question.why

    def texts(self, topic: str) -> dict[str, str]:
        """Every text by its id in the catalogue."""
        return {f"{topic}/{name}": words for name, _, words in self.placed()}


def read_guide_text(path: Path) -> GuideText:
    """Read one language of a guide. Raises ``ContentError`` with every fault of the file."""
    document = read_toml(path)
    findings: list[Finding] = []
    table = Table(document, findings)
    words = GuideText(
        document,
        title=table.need("title", _words, ""),
        purpose=table.need("purpose", _words, ""),
        takes=table.take("takes", _words, None),
        not_when=table.items("not_when", _words),
        gear=table.items("gear", _words),
        cautions=table.items("cautions", _words),
        steps=tuple(_step(step) for step in table.tables("steps")),
        questions=tuple(_question(question) for question in table.tables("questions")),
    )
    table.finish()
    if findings:
        raise ContentError(findings)
    return words


def _step(table: Table) -> Step:
    step = Step(
        say=table.need("say", _words, ""),
        see=table.take("see", _words, None),
        if_not=table.take("if_not", _words, None),
        power=table.take("power", one_of("power", _POWERS), None),
        picture=table.take("picture", text, None),
        cool=table.take("cool", flag, False),
    )
    table.finish()
    return step


def _question(table: Table) -> Question:
    question = Question(
        ask=table.need("ask", _plain, ""),
        options=table.items("options", _plain),
        right=table.need("right", whole(1, OPTIONS), 1),
        why=table.need("why", _plain, ""),
    )
    if len(question.options) != OPTIONS:
        table.fault("options", f"there are {len(question.options)} options", f"write {OPTIONS}")
    table.finish()
    return question


def _plain(value: Any) -> str:
    return checked(text(value), GIVEN)


def _words(value: Any) -> str:
    return checked(text(value), GUIDE_PLACEHOLDERS)
