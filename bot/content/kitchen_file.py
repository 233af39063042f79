"""The kitchen file: TOML in, a ``Kitchen`` out, or every fault of the file at once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any, get_args

from bot.content.duty_entries import read_duties
from bot.content.duty_kinds import load_duty_kinds
from bot.content.fields import Fault, Table, flag, number, one_of, text, whole
from bot.content.findings import ContentError, Finding, nearest
from bot.content.languages import LANGUAGES
from bot.content.limits import load_limits, polar_limit
from bot.content.toml_lines import Document, read_toml
from bot.content.values import clock, day, length, short_id, zone
from bot.core.kitchen import MIN_COOL_DOWN, WEEKDAYS, Fryer, Kitchen, Person, Power, Role, Seals, Supply
from bot.core.library import DutyKind
from bot.core.messages import CREW
from intents.types import Language

SUMMARY_AFTER = timedelta(minutes=30)
"""Without ``summary_at`` the day's summary comes this long after closing."""

PLAIN_SUPPLIES = ("filter_pads", "oil_jugs")
SEALS = "seals_"
"""Seals are counted by colour: ``seals_black``."""

A_SLIP = 75
"""Similarity (0 to 100) from which a colour is a misspelling of another, and not one of its own (grey, green)."""

KEEP_TALK, LEAST_TALK, MOST_TALK = 400, 30, 36_500
"""Days for which talk is kept: a year and some weeks, so that last year's can still be looked at."""

LEAD, MOST_LEAD = 3, 90
"""Days from an order to its delivery; three are common practice."""

LONGEST_COLOUR = 24
"""Letters; the colour travels in buttons, which carry few bytes."""

MOST = 1_000_000
BIGGEST_CHAT = 2**52
"""Ids of people and groups in Telegram have at most 52 significant bits (Bot API, types User and Chat)."""

ROLES: tuple[Role, ...] = get_args(Role)
POWERS: tuple[Power, ...] = get_args(Power)


def read_kitchen(path: Path, kinds: Mapping[str, DutyKind] | None = None) -> Kitchen:
    """The kitchen that a file describes. Raises ``ContentError`` with every fault of the file.

    ``kinds`` are the duties that can be scheduled; without them, those that travel with the program.
    """
    return kitchen_of(read_toml(path), kinds if kinds is not None else load_duty_kinds())


def kitchen_of(document: Document, kinds: Mapping[str, DutyKind]) -> Kitchen:
    """The kitchen in a document that was read. Raises ``ContentError`` with every fault."""
    findings: list[Finding] = []
    top = Table(document, findings)
    language: Language = top.take("language", one_of("language", LANGUAGES), "en")
    closes = top.need("closes", clock, time(22))
    fryers = _fryers(top)
    kitchen = Kitchen(
        name=top.need("name", text, ""),
        timezone=top.need("timezone", zone, "UTC"),
        language=language,
        opens=top.need("opens", clock, time(10)),
        closes=closes,
        summary_at=top.take("summary_at", clock, _after(closes, SUMMARY_AFTER)),
        fryers=fryers,
        people=_people(top, language),
        closed_days=top.items("closed_days", one_of("day", WEEKDAYS)),
        closed_dates=top.items("closed_dates", day),
        emergency_number=top.take("emergency_number", _phone_number, "911"),
        service_contact=top.take("service_contact", text, None),
        crew_chat=top.take("crew_chat", _chat, None),
        cool_down=top.take("cool_down", length(MIN_COOL_DOWN, "; a reset sooner may not hold"), MIN_COOL_DOWN),
        polar_limit_percent=_polar_limit(top),
        oil_price_per_litre=top.take("oil_price_per_litre", number(0.01, MOST), None),
        supplies=_supplies(top, fryers),
        keep_talk_days=top.take("keep_talk_days", whole(LEAST_TALK, MOST_TALK), KEEP_TALK),
        duties=read_duties(top, kinds, [fryer.id for fryer in fryers]),
    )
    if set(kitchen.closed_days) == set(WEEKDAYS):
        top.fault("closed_days", "the kitchen is closed on every day of the week", "take out the days it opens")
    top.finish()
    if findings:
        raise ContentError(findings)
    return kitchen


def _fryers(top: Table) -> tuple[Fryer, ...]:
    fryers: list[Fryer] = []
    for table in top.tables("fryers"):
        fryer = Fryer(
            id=table.need("id", short_id, ""),
            names=table.items("names", text),
            power=table.need("power", one_of("power", POWERS), "electric"),
            model=table.take("model", text, None),
            serial=table.take("serial", text, None),
            oil_litres=table.take("oil_litres", number(0.1, 1000), None),
            seals=_seals(table),
        )
        table.finish()
        _once(table, "id", fryer.id, "fryer", (other.id for other in fryers))
        known = {name.casefold() for other in fryers for name in other.names}
        for name in fryer.names:
            if name.casefold() in known:
                table.fault("names", f'"{name}" names two fryers', "give each fryer names of its own")
        fryers.append(fryer)
    if not fryers:
        top.fault("fryers", "there is no fryer", "add at least one [[fryers]] with its id and power")
    return tuple(fryers)


def _seals(fryer: Table) -> Seals | None:
    table = fryer.table("seals")
    if table is None:
        return None
    seals = Seals(
        colour=table.need("colour", _colour, ""),
        size=table.need("size", text, ""),
        count=table.need("count", whole(1, 100), 1),
    )
    table.finish()
    return seals


def _people(top: Table, language: Language) -> tuple[Person, ...]:
    people: list[Person] = []
    for table in top.tables("people"):
        person = Person(
            id=table.need("id", _person_id, ""),
            name=table.need("name", text, ""),
            role=table.need("role", one_of("role", ROLES), "cook"),
            language=table.take("language", one_of("language", LANGUAGES), language),
            under_16=table.take("under_16", flag, False),
            telegram=table.take("telegram", whole(1, BIGGEST_CHAT), None),
        )
        table.finish()
        _once(table, "id", person.id, "person", (other.id for other in people))
        if person.telegram is not None and person.telegram in {other.telegram for other in people}:
            table.fault("telegram", "two people have this Telegram number", "give each person their own")
        people.append(person)
    if not people:
        top.fault("people", "there is nobody in the crew", "add at least one [[people]] with id, name and role")
    return tuple(people)


def _supplies(top: Table, fryers: Iterable[Fryer]) -> dict[str, Supply]:
    table = top.table("supplies")
    if table is None:
        return {}
    # "dark red" is written seals_dark_red, for a key of TOML has no spaces.
    colours = {fryer.seals.colour.replace(" ", "_"): fryer.seals.colour for fryer in fryers if fryer.seals is not None}
    supplies = {}
    for name in table.data:
        colour = name.removeprefix(SEALS) if name.startswith(SEALS) else None
        if name not in PLAIN_SUPPLIES and colour not in colours:
            # Seals of a colour that no fryer has now may still be on the shelf, but not of one nearly the same.
            slip = nearest(colour, colours, A_SLIP) if colour else nearest(name, PLAIN_SUPPLIES)
            known = ", ".join((*PLAIN_SUPPLIES, f"{SEALS}<colour>"))
            if slip is not None:
                meant = f"{SEALS}{slip}" if colour else slip
                table.fault(name, f'unknown supply "{name}"', f'did you mean "{meant}"?')
            elif not colour:
                table.fault(name, f'unknown supply "{name}"', f"known supplies: {known}")
        if colour and (len(colour.encode()) > LONGEST_COLOUR or ":" in colour):
            table.fault(name, f'"{colour}" is no colour', f"write one or two words, {LONGEST_COLOUR} letters at most")
        entry = table.table(name)
        if entry is not None:
            supplies[SEALS + colours[colour] if colour in colours else name] = Supply(
                on_hand=entry.need("on_hand", whole(0, MOST), 0),
                reorder_at=entry.need("reorder_at", whole(0, MOST), 0),
                lead_days=entry.take("lead_days", whole(0, MOST_LEAD), LEAD),
            )
            entry.finish()
    return supplies


def _polar_limit(top: Table) -> float | None:
    table = top.table("oil_limit")
    if table is None:
        return None
    limit = polar_limit(table, load_limits())
    table.finish()
    return limit


def _colour(value: Any) -> str:
    colour = " ".join(text(value).casefold().split())
    if len(colour.encode()) > LONGEST_COLOUR or ":" in colour:
        raise Fault(f'"{colour}" is no colour', f"write one or two words, {LONGEST_COLOUR} letters at most")
    return colour


def _person_id(value: Any) -> str:
    said = short_id(value)
    if said == CREW:
        raise Fault(f'"{CREW}" is the name of the chat of all', "give the person another id")
    return said


def _phone_number(value: Any) -> str:
    said = text(value)
    if not any(sign.isdecimal() for sign in said):
        raise Fault(f'"{said}" is no phone number', 'write the number to call, like "911"')
    return said


def _chat(value: Any) -> int:
    chat = whole(-BIGGEST_CHAT, BIGGEST_CHAT)(value)
    if chat == 0:
        raise Fault("0 is no chat", "take crew_chat out, and let a manager join the crew chat from there")
    return chat


def _once(table: Table, key: str, value: str, what: str, others: Iterable[str]) -> None:
    if value and value in set(others):
        table.fault(key, f'two of the same {what} id "{value}"', "give each an id of its own")


def _after(wall: time, span: timedelta) -> time:
    return (datetime.combine(date(2000, 1, 1), wall) + span).time()
