"""Guides: one folder each, with what is the same in all languages in ``about.toml`` and the words beside it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import get_args

from bot.content.fields import Reader, Table, flag, one_of, text
from bot.content.findings import ContentError, Finding, collected, instead
from bot.content.guide_rules import check_guide
from bot.content.guide_texts import GuideText, read_guide_text
from bot.content.languages import LANGUAGES
from bot.content.toml_lines import Document, read_toml
from bot.core.library import GuideShape, StepShape
from intents.topics import topics
from intents.types import Language, Part

PREFIX = "guide."


@dataclass(frozen=True)
class Guides:
    """Every guide's shape by its topic, and its texts by language and id ("guide.skim/step.1")."""

    shapes: dict[str, GuideShape] = field(default_factory=dict)
    texts: dict[Language, dict[str, str]] = field(default_factory=lambda: {name: {} for name in LANGUAGES})


@dataclass(frozen=True)
class References:
    """What guides may refer to; None where it isn't known, and then not checked."""

    topics: frozenset[str] | None = None
    duties: frozenset[str] | None = None
    pictures: frozenset[str] | None = None


def references(duties: Iterable[str], pictures: frozenset[str] | None = None) -> References:
    """The topics that travel with the program, and these duties and pictures."""
    return References(frozenset(topic.id for topic in topics().values() if topic.inside), frozenset(duties), pictures)


def load_guides(folders: Sequence[Path], known: References | None = None) -> Guides:
    """Read every guide below these folders; a later folder's guide replaces an earlier one's on the same topic.

    Raises ``ContentError`` with every fault of every guide.
    """
    known = known if known is not None else References()
    findings: list[Finding] = []
    guides = Guides()
    for folder in folders:
        if not folder.is_dir():
            findings.append(Finding(str(folder), 1, "there is no such folder of guides", "check the path"))
            continue
        for place in sorted(path for path in folder.iterdir() if path.is_dir() and not path.name.startswith(".")):
            with collected(findings):
                shape, words = read_guide(place, known)
                guides.shapes[shape.topic] = shape
                for language in LANGUAGES:
                    texts = guides.texts[language]
                    for old in [name for name in texts if name.startswith(f"{shape.topic}/")]:
                        del texts[old]
                    texts.update(words[language].texts(shape.topic))
    if findings:
        raise ContentError(findings)
    return guides


def read_guide(folder: Path, known: References) -> tuple[GuideShape, dict[Language, GuideText]]:
    """One guide, all of it checked. Raises ``ContentError`` with every fault."""
    findings: list[Finding] = []
    about: Document | None = None
    words: dict[Language, GuideText] = {}
    with collected(findings):
        about = read_toml(folder / "about.toml")
    for language in LANGUAGES:
        with collected(findings):
            words[language] = read_guide_text(folder / f"{language}.toml")
    if about is None:
        raise ContentError(findings)
    table = Table(about, findings)
    header = _header(table, folder.name, known)
    sources = table.table("sources")
    named = tuple(sources.data) if sources is not None else ()
    if sources is None:
        table.fault("sources", "[sources] is missing", "add it, with every number of the texts")
    else:
        for number in named:
            sources.take(number, text, "")
    table.finish()
    if findings:
        raise ContentError(findings)
    shape = _with_steps(header, words["en"])
    findings.extend(check_guide(shape, words, named, known.pictures, about))
    if findings:
        raise ContentError(findings)
    return shape, words


def _header(table: Table, folder: str, known: References) -> GuideShape:
    topic = table.need("topic", text, f"{PREFIX}{folder}")
    if topic != f"{PREFIX}{folder}":
        table.fault("topic", f'the topic "{topic}" is not that of its folder', f'write "{PREFIX}{folder}"')
    elif known.topics is not None and topic not in known.topics:
        table.fault("topic", f'unknown topic "{topic}"', instead(topic, known.topics, "name the folder after a topic"))
    duty: Reader[str] = text if known.duties is None else one_of("duty", tuple(sorted(known.duties)))
    shape = GuideShape(
        topic=topic,
        kind=table.need("kind", one_of("kind", ("walk", "answer")), "walk"),
        hot_oil=table.need("hot_oil", flag, True),
        risk=table.need("risk", one_of("risk", ("normal", "high")), "high"),
        by_power=table.need("by_power", flag, False),
        logs=table.take("logs", duty, None),
        resets=table.take("resets", one_of("part", get_args(Part)), None),
    )
    if shape.kind == "answer":
        for key in ("logs", "resets"):
            if key in table:
                table.fault(key, f'"{key}" needs a walk, and this guide is an answer', f"take {key} out")
    return shape


def _with_steps(header: GuideShape, words: GuideText) -> GuideShape:
    return GuideShape(
        topic=header.topic,
        kind=header.kind,
        hot_oil=header.hot_oil,
        risk=header.risk,
        by_power=header.by_power,
        logs=header.logs,
        resets=header.resets,
        not_when=len(words.not_when),
        gear=len(words.gear),
        cautions=len(words.cautions),
        takes=words.takes is not None,
        steps=tuple(
            StepShape(step.power, step.picture, step.see is not None, step.if_not is not None, step.cool)
            for step in words.steps
        ),
        answers=tuple(question.right for question in words.questions),
    )
