"""Discard limits for frying oil by place, from ``limits.toml``, and which of them a kitchen goes by."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, get_args

from bot.content import places
from bot.content.fields import Fault, Table, number, one_of, text
from bot.content.findings import ContentError, Finding, instead
from bot.content.toml_lines import read_toml

Unit = Literal["polar_percent", "polymer_percent", "acid_value", "ffa_percent", "carbonyl_meq", "smoke_point_c"]
Allowed = Literal["<", "<=", ">="]
Meaning = Literal["discard", "watch", "unused"]
Force = Literal["law", "guideline", "practice"]
Status = Literal["confirmed", "restated", "memory"]

UNITS: tuple[Unit, ...] = get_args(Unit)
ALLOWED: tuple[Allowed, ...] = get_args(Allowed)
MEANINGS: tuple[Meaning, ...] = get_args(Meaning)
FORCES: tuple[Force, ...] = get_args(Force)
STATUSES: tuple[Status, ...] = get_args(Status)


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit: which readings are ``allowed`` against ``value``, by what force, and how sure the figure is."""

    place: str
    value: float
    unit: Unit
    allowed: Allowed
    meaning: Meaning
    force: Force
    source: str
    status: Status


def load_limits(path: Path = places.LIMITS) -> tuple[Limit, ...]:
    """Every limit of the file. Raises ``ContentError`` with every fault."""
    document = read_toml(path)
    findings: list[Finding] = []
    top = Table(document, findings)
    limits: list[Limit] = []
    for table in top.tables("limits"):
        limit = Limit(
            place=table.need("place", _place, ""),
            value=table.need("value", number(0, 1000), 0.0),
            unit=table.need("unit", one_of("unit", UNITS), "polar_percent"),
            allowed=table.need("allowed", one_of("comparison", ALLOWED), "<="),
            meaning=table.need("meaning", one_of("meaning", MEANINGS), "discard"),
            force=table.need("force", one_of("force", FORCES), "law"),
            source=table.need("source", text, ""),
            status=table.need("status", one_of("status", STATUSES), "memory"),
        )
        table.finish()
        if (limit.allowed == ">=") != (limit.unit == "smoke_point_c"):
            table.fault("allowed", f'"{limit.allowed}" is the wrong way round', 'write ">=" for smoke points alone')
        if any(_same(limit, other) for other in limits):
            table.fault("place", f"this limit of {limit.place} stands here twice", "keep one")
        limits.append(limit)
    top.finish()
    if findings:
        raise ContentError(findings)
    return tuple(limits)


def polar_limit(table: Table, limits: Iterable[Limit]) -> float | None:
    """The percent of polar compounds at which a kitchen discards, by the ``[oil_limit]`` of its file.

    It may name a place, state a figure of its own, or both: then the stricter of the two holds. The kitchen discards
    at the figure, even where a place's own rule still allows the figure itself. None after a fault.
    """
    known = tuple(limits)
    own = table.take("polar_percent", number(0, 100), None)
    place = table.take("place", _known_place(known), None)
    if "place" not in table:
        if "polar_percent" not in table:
            table.need("polar_percent", number(0, 100), None)
        return own
    if place is None:
        return own
    found = next((x for x in known if x.place == place and x.unit == "polar_percent" and x.meaning == "discard"), None)
    if found is None or found.status == "memory":
        if "polar_percent" not in table:
            why = "has no limit in percent of polar compounds" if found is None else "has one that nobody has looked up"
            table.fault("place", f'"{place}" {why}', "ask your food authority, and write polar_percent")
            return None
        # A figure from memory may only make a kitchen's own stricter.
        return min(own, found.value) if own is not None and found is not None else own
    if own is None:
        return found.value
    if own > found.value and found.force == "law":
        todo = f"write {found.value:g} or less, or take polar_percent out"
        table.fault("polar_percent", f"{own:g} % is looser than the law of {place} ({found.value:g} %)", todo)
    return min(own, found.value)


def _known_place(limits: tuple[Limit, ...]) -> Any:
    names = tuple(dict.fromkeys(limit.place for limit in limits))

    def read(value: Any) -> str:
        said = _place(value)
        if said not in names:
            advice = f"known places: {', '.join(names)}; elsewhere ask your food authority, and write polar_percent"
            raise Fault(f'unknown place "{said}"', instead(said, names, advice))
        return said

    return read


def _place(value: Any) -> str:
    return "_".join(text(value).casefold().split())


def _same(one: Limit, other: Limit) -> bool:
    return (one.place, one.unit, one.meaning) == (other.place, other.unit, other.meaning)
