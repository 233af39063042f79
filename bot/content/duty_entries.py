"""The ``[[duties]]`` of a kitchen file: how often, when, on which fryers, and who hears of it when."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import timedelta
from typing import Any

from bot.content.fields import Fault, Table, kind_of, one_of, text, whole
from bot.content.findings import instead
from bot.content.languages import LANGUAGES
from bot.content.values import clock, day, length
from bot.core.kitchen import WEEKDAYS, Duty, Every
from bot.core.library import DutyKind

GRACE = timedelta(minutes=30)
ESCALATE = timedelta(minutes=60)
"""Where a duty doesn't say: late after half an hour, a manager hears after one (contract of the kitchen file)."""

MOST_DAYS = 3660
MOST_DROPS = 100_000

LONGEST_TITLE = 40
"""Characters; with the fryer beside it, about a button's width on a phone."""
SHORTEST_WORDS = 4

_OWN_ID = re.compile(r"[a-z][a-z0-9_]{1,23}")
_COUNTED = re.compile(r"([0-9]{1,6}) (days|drops)")


def read_duties(top: Table, kinds: Mapping[str, DutyKind], fryers: Sequence[str]) -> tuple[Duty, ...]:
    """Every duty of the file; faults go to the table's findings."""
    duties: list[Duty] = []
    for table in top.tables("duties"):
        duty = _duty(table, kinds, fryers)
        if duty.id and duty.id in {other.id for other in duties}:
            table.fault("id", f'the duty "{duty.id}" stands here twice', "keep one, with all its fryers")
        duties.append(duty)
    return tuple(duties)


def _duty(table: Table, kinds: Mapping[str, DutyKind], fryers: Sequence[str]) -> Duty:
    every = table.need("every", _every, Every("day"))
    if every.unit == "week":
        every = Every("week", 1, table.need("on", one_of("day", WEEKDAYS), "monday"))
    elif every.unit == "month":
        every = Every("month", 1, table.need("on", _month_day, 1))
    elif "on" in table:
        table.take("on", _anything, None)
        table.fault("on", f'"on" has no meaning for a duty every {_spelled(every)}', "take it out")
    if every.unit != "drops":
        at = table.need("at", clock, None)
    else:
        at = table.take("at", clock, None)
        if "at" in table:
            table.fault("at", '"at" has no meaning for a duty that drops make due', "take it out")
    grace = table.take("grace", length(), GRACE)
    escalate = table.take("escalate", length(), max(ESCALATE, grace))
    if escalate < grace:
        table.fault("escalate", "the manager would hear of it before it is late", "make escalate at least grace")
    own = "title" in table
    title = _title(table, kinds)
    duty = Duty(
        id=table.need("id", _own_id if own else one_of("duty", tuple(kinds)), ""),
        every=every,
        at=at,
        fryers=_fryers(table, fryers),
        grace=grace,
        escalate=escalate,
        last_done=table.take("last_done", day, None),
        title=title,
        words=table.items("words", _own_words) if own else (),
    )
    table.finish()
    return duty


def _title(table: Table, kinds: Mapping[str, DutyKind]) -> tuple[tuple[str, str], ...]:
    """What a duty of the kitchen's own is called, in every language; empty for a duty that everybody knows."""
    titles = table.table("title")
    if titles is None:
        return ()
    if table.data.get("id") in kinds:
        table.fault("title", f'"{table.data["id"]}" has a name already', "take title out, or give the duty another id")
    found = tuple((language, titles.need(language, _own_title, "")) for language in LANGUAGES)
    titles.finish()
    return found


def _own_id(value: Any) -> str:
    said = text(value)
    if not _OWN_ID.fullmatch(said):
        raise Fault(f'"{said}" can\'t be the id of a duty', "use 2 to 24 small letters, digits and _, a letter first")
    return said


def _own_title(value: Any) -> str:
    said = text(value)
    if len(said) > LONGEST_TITLE or "\n" in said:
        raise Fault(f'"{said}" is too long for a button', f"use at most {LONGEST_TITLE} characters in one line")
    return said


def _own_words(value: Any) -> str:
    said = " ".join(text(value).casefold().split())
    if len(said) < SHORTEST_WORDS:
        raise Fault(f'"{said}" is too short to be told from other words', f"use at least {SHORTEST_WORDS} letters")
    return said


def _fryers(table: Table, known: Sequence[str]) -> tuple[str, ...] | None:
    if "fryers" not in table:
        table.take("fryers", _anything, None)
        return None
    said = table.data["fryers"]
    if said == "all":
        table.take("fryers", _anything, None)
        return tuple(known)
    if not isinstance(said, list):
        table.take("fryers", _anything, None)
        shown = f'"{said}"' if isinstance(said, str) else kind_of(said)
        table.fault("fryers", f"{shown} are no fryers", 'write "all" or a list of ids, like ["1", "2"]')
        return None
    chosen: list[str] = []

    def fryer_id(value: Any) -> str:
        said = text(value)
        if said not in known:
            todo = f"known ids: {', '.join(known)}" if known else "add the fryer first"
            raise Fault(f'there is no fryer "{said}"', instead(said, known, todo))
        if said in chosen:
            raise Fault(f'fryer "{said}" stands here twice', "keep one")
        chosen.append(said)
        return said

    if not said:
        table.fault("fryers", "the list of fryers is empty", 'name the fryers, or write "all"')
    return table.items("fryers", fryer_id)


def _every(value: Any) -> Every:
    advice = 'write "day", "week", "month", "2 days" or "300 drops"'
    if not isinstance(value, str):
        raise Fault(f"how often must be a text, not {kind_of(value)}", advice)
    match value:
        case "day" | "week" | "month":
            return Every(value)
    found = _COUNTED.fullmatch(value)
    if found is None:
        raise Fault(f'"{value}" is not how often a duty can come round', instead(value, _near_units(value), advice))
    count = int(found[1])
    if found[2] == "days":
        return Every("days", _within(count, MOST_DAYS, "days"))
    return Every("drops", _within(count, MOST_DROPS, "drops"))


def _near_units(value: str) -> tuple[str, ...]:
    digits = re.match(r"[0-9]{1,6}", value)
    return ("day", "week", "month") if digits is None else (f"{digits[0]} days", f"{digits[0]} drops")


def _within(count: int, most: int, unit: str) -> int:
    if not 1 <= count <= most:
        raise Fault(f'"{count} {unit}" is out of range', f"give a number from 1 to {most}")
    return count


def _month_day(value: Any) -> int:
    if isinstance(value, str) and value in WEEKDAYS:
        raise Fault("a monthly duty falls on a day number", "write on = 1 to 31 (31 is the last day)")
    return whole(1, 31)(value)


def _anything(value: Any) -> Any:
    return value


def _spelled(every: Every) -> str:
    return every.unit if every.unit == "day" else f"{every.count} {every.unit}"
