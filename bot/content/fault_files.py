"""Faults: one folder each, with causes and what speaks for them in ``about.toml`` and the words beside it.

Beside the folders, ``why.<language>.toml`` says for each fact of the log why a check comes early.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, get_args

from bot.content import places
from bot.content.fault_texts import FaultText, Place, check_texts, read_fault_text, same_words
from bot.content.fields import Fault, Table, flag, number, one_of, text
from bot.content.findings import ContentError, Finding, collected, instead
from bot.content.languages import LANGUAGES, OTHERS
from bot.content.templates import checked
from bot.content.toml_lines import Document, read_toml
from bot.core.actions import action
from bot.core.diagnosis import MARK_LENGTH, PREFIX, RESETS, Cause, FaultShape, Sign
from bot.core.evidence import FACTS, NEVER
from bot.core.kitchen import Power
from bot.core.library import GuideShape
from intents.types import Language

FAULTS = places.CONTENT / "faults"
POWERS: tuple[Power, ...] = get_args(Power)

OTHER_FIXES = (*RESETS, "service", "text")
WHY_PLACEHOLDERS = frozenset({"on", "at", "n", "unit", "value"})

ROUNDING = 0.005
"""The shares of a fault's causes may miss 1 by this much."""

LONGEST_FRYER = 12
"""Characters of a fryer's id (contract of the kitchen file)."""

_ID = re.compile(r"[a-z][a-z0-9_]{0,23}")


@dataclass(frozen=True)
class Faults:
    """Every fault's shape by its topic, and its texts by language and id ("fault.leak/title", "why.oil_old")."""

    shapes: dict[str, FaultShape] = field(default_factory=dict)
    texts: dict[Language, dict[str, str]] = field(default_factory=lambda: {name: {} for name in LANGUAGES})


@dataclass(frozen=True)
class Known:
    """What faults may refer to; None where it isn't known, and then not checked."""

    topics: frozenset[str] | None = None
    guides: Mapping[str, GuideShape] | None = None


def load_faults(folder: Path = FAULTS, known: Known | None = None) -> Faults:
    """Read every fault below a folder. Raises ``ContentError`` with every fault of every file."""
    known = known if known is not None else Known()
    if not folder.is_dir():
        raise ContentError([Finding(str(folder), 1, "there is no such folder of faults", "check the path")])
    findings: list[Finding] = []
    faults = Faults()
    names = sorted(path.name for path in folder.iterdir() if path.is_dir() and not path.name.startswith("."))
    topics = frozenset(PREFIX + name for name in names)
    for name in names:
        with collected(findings):
            shape, told = _read_fault(folder / name, known, topics)
            faults.shapes[shape.topic] = shape
            for language in LANGUAGES:
                faults.texts[language].update(told[language].texts(shape.topic))
    with collected(findings):
        for language, texts in _read_reasons(folder).items():
            faults.texts[language].update(texts)
    if findings:
        raise ContentError(findings)
    return faults


def _read_fault(folder: Path, known: Known, topics: frozenset[str]) -> tuple[FaultShape, dict[Language, FaultText]]:
    findings: list[Finding] = []
    told: dict[Language, FaultText] = {}
    about: Document | None = None
    with collected(findings):
        about = read_toml(folder / "about.toml")
    for language in LANGUAGES:
        with collected(findings):
            told[language] = read_fault_text(folder / f"{language}.toml")
    if about is None:
        raise ContentError(findings)
    table = Table(about, findings)
    shape = _shape(table, folder.name, known, topics, len(told["en"].cautions) if "en" in told else 0)
    sources = table.table("sources")
    if sources is None:
        table.fault("sources", "[sources] is missing", "add it, with every number of the texts")
    else:
        for figure in sources.data:
            sources.take(figure, text, "")
    table.finish()
    if not findings:
        findings.extend(_shape_faults(shape, about))
        findings.extend(check_texts(shape, told, tuple(sources.data) if sources is not None else ()))
    if findings:
        raise ContentError(findings)
    return shape, told


def _shape(table: Table, folder: str, known: Known, topics: frozenset[str], cautions: int) -> FaultShape:
    topic = table.need("topic", text, f"{PREFIX}{folder}")
    if topic != f"{PREFIX}{folder}":
        table.fault("topic", f'the topic "{topic}" is not that of its folder', f'write "{PREFIX}{folder}"')
    elif known.topics is not None and topic not in known.topics:
        todo = instead(topic, known.topics, "name the folder after a topic")
        table.fault("topic", f'unknown topic "{topic}"', todo)
    return FaultShape(
        topic=topic,
        hot_oil=table.need("hot_oil", flag, True),
        stop=table.need("stop", flag, False),
        causes=tuple(_cause(cause, topic, known, topics) for cause in table.tables("causes")),
        cautions=cautions,
    )


def _cause(table: Table, topic: str, known: Known, topics: frozenset[str]) -> Cause:
    cause = Cause(
        id=table.need("id", _cause_id, ""),
        likelihood=table.need("likelihood", number(0.01, 1), 1.0),
        minutes=table.need("minutes", number(0.1, 60), 1.0),
        fix=table.need("fix", _fix(known, topics - {topic}), "text"),
        power=table.take("power", one_of("power", POWERS), None),
        evidence=tuple(_sign(sign) for sign in table.tables("evidence")),
        safe_for_under_16=table.need("safe_for_under_16", flag, False),
    )
    table.finish()
    for fact, times in Counter(sign.fact for sign in cause.evidence).items():
        if times > 1:
            table.fault("evidence", f'the fact "{fact}" is named {times} times', "keep one of them")
    if cause.safe_for_under_16 and not _safe_fix(cause.fix, known):
        todo = "write safe_for_under_16 = false"
        table.fault("safe_for_under_16", f'the fix "{cause.fix}" is not for anybody under 16', todo)
    return cause


def _sign(table: Table) -> Sign:
    sign = Sign(
        fact=table.need("fact", one_of("fact", tuple(sorted(FACTS))), ""),
        factor=table.need("factor", number(0.01, 100), 1.0),
    )
    table.finish()
    return sign


def _cause_id(value: Any) -> str:
    said = text(value)
    if not _ID.fullmatch(said):
        raise Fault(f'"{said}" can\'t be the id of a cause', "use up to 24 small letters, digits and _")
    return said


def _fix(known: Known, topics: frozenset[str]) -> Callable[[Any], str]:
    def read(value: Any) -> str:
        said = text(value)
        guide = said.startswith("guide.") and (known.guides is None or said in known.guides)
        if not guide and said not in topics and said not in OTHER_FIXES:
            choices = (*OTHER_FIXES, *sorted(topics), *sorted(known.guides or ()))
            todo = f"name a guide's topic, or {', '.join(OTHER_FIXES)}"
            raise Fault(f'unknown fix "{said}"', instead(said, choices, todo))
        if known.guides is not None and guide and known.guides[said].resets is not None:
            raise Fault(f'"{said}" opens only after its wait', f'write "reset:{known.guides[said].resets}"')
        return said

    return read


def _safe_fix(fix: str, known: Known) -> bool:
    guide = known.guides.get(fix) if known.guides is not None else None
    return fix == "text" or (fix.startswith("guide.") and (guide is None or not guide.hot_oil))


def _shape_faults(shape: FaultShape, about: Document) -> Iterator[Finding]:
    def at(what: str, todo: str, *path: str | int) -> Finding:
        return Finding(about.file, about.line(*(path or ("causes",))), what, todo)

    if not shape.causes:
        yield at("there are no causes", "add [[causes]]")
    for n, cause in enumerate(shape.causes):
        for other in shape.causes[:n]:
            if cause.id == other.id:
                yield at(f'the cause "{cause.id}" stands here twice', "keep one of the two", "causes", n)
            elif cause.mark == other.mark:
                what = f'"{cause.id}" and "{other.id}" can\'t be told apart in a button'
                yield at(what, "give one of them another id", "causes", n)
    for power in POWERS:
        causes = shape.causes_on(power)
        total = sum(cause.likelihood for cause in causes)
        if causes and abs(total - 1) > ROUNDING:
            what = f"the likelihoods for {power} fryers sum to {total:.2f}"
            yield at(what, "make those without a power and those for it sum to 1")
    longest = max(len(shape.causes_on(power)) for power in POWERS)
    try:
        trail = "x" * MARK_LENGTH * longest
        action("fault", shape.topic.removeprefix(PREFIX), "x" * LONGEST_FRYER, trail, "fixed")
    except ValueError:
        yield at(f"no button can carry {longest} causes of this fault", "keep to 10, or shorten the fault's name")


def _read_reasons(folder: Path) -> dict[Language, dict[str, str]]:
    findings: list[Finding] = []
    documents: dict[Language, Document] = {}
    told: dict[Language, list[Place]] = {}
    for language in LANGUAGES:
        with collected(findings):
            documents[language] = read_toml(folder / f"why.{language}.toml")
            table = Table(documents[language], findings)
            told[language] = [(f"why.{fact}", (fact,), table.need(fact, _reason, "")) for fact in sorted(FACTS)]
            never = table.table("never")
            if never is None:
                table.fault("never", "[never] is missing", f"add it, with {', '.join(sorted(NEVER))}")
            else:
                told[language] += [
                    (f"why.never.{fact}", ("never", fact), never.need(fact, _reason, "")) for fact in sorted(NEVER)
                ]
                never.finish()
            table.finish()
    if not findings:
        for language in OTHERS:
            theirs = documents[language], iter(told[language])
            findings.extend(same_words(documents["en"], iter(told["en"]), *theirs))
    if findings:
        raise ContentError(findings)
    return {language: {name: said for name, _, said in reasons} for language, reasons in told.items()}


def _reason(value: Any) -> str:
    return checked(text(value), WHY_PLACEHOLDERS)
