"""A kitchen as its file describes it: plain values, already validated (see ``bot.kitchens`` for the parser)."""

from __future__ import annotations

from datetime import date, time, timedelta
from typing import Literal

from msgspec import Struct

from intents.types import Language

Power = Literal["electric", "gas"]
Role = Literal["cook", "lead", "manager", "trainer"]
Weekday = Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]

WEEKDAYS: tuple[Weekday, ...] = (
    "monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday",
)  # fmt: skip
"""In the order of ``date.weekday()``."""

MIN_COOL_DOWN = timedelta(minutes=30)
"""Common practice: half an hour of cooling before a protective device is reset; sooner it may not hold."""


class Seals(Struct, frozen=True):
    """The seals that fit one fryer's pan connection; colours and sizes are not interchangeable."""

    colour: str
    size: str
    count: int


class Fryer(Struct, frozen=True):
    """One fryer. ``oil_litres`` is the oil its vat holds, in litres."""

    id: str
    names: tuple[str, ...] = ()
    power: Power = "electric"
    model: str | None = None
    serial: str | None = None
    oil_litres: float | None = None
    seals: Seals | None = None


class Person(Struct, frozen=True):
    """One person of the crew; ``telegram`` is their numeric user id there, if it is known."""

    id: str
    name: str
    role: Role
    language: Language
    under_16: bool = False
    telegram: int | None = None


class Every(Struct, frozen=True):
    """How often a duty comes round.

    ``count`` is the N of "N days" and "N drops" (1 otherwise). ``on`` is the weekday of a weekly duty or the
    day number of a monthly one, where 31 stands for the last day of any month.
    """

    unit: Literal["day", "week", "month", "days", "drops"]
    count: int = 1
    on: Weekday | int | None = None


class Duty(Struct, frozen=True):
    """One duty of the kitchen. ``fryers`` is None where it is done once for the whole kitchen.

    ``at`` is a local wall time; None for duties counted in drops. ``grace`` and ``escalate`` count from due.
    """

    id: str
    every: Every
    at: time | None
    fryers: tuple[str, ...] | None
    grace: timedelta
    escalate: timedelta
    last_done: date | None = None
    title: tuple[tuple[str, str], ...] = ()
    """What a duty of the kitchen's own invention is called, by language; empty for the duties that everybody knows."""
    words: tuple[str, ...] = ()
    """How people speak of it, for a duty of the kitchen's own."""

    def called(self, language: str) -> str | None:
        """The kitchen's own name for it in a language, or in the first that there is; None for a known duty."""
        titles = dict(self.title)
        return titles.get(language) or next(iter(titles.values()), None)


class Supply(Struct, frozen=True):
    """Stock of one supply, in pieces, the count at which to reorder, and the days that an order takes."""

    on_hand: int
    reorder_at: int
    lead_days: int = 3
    """Common practice, where the kitchen file doesn't say."""


class Kitchen(Struct, frozen=True):
    """Everything the helper knows of a kitchen before anything was logged there."""

    name: str
    timezone: str
    language: Language
    opens: time
    closes: time
    summary_at: time
    fryers: tuple[Fryer, ...]
    people: tuple[Person, ...]
    duties: tuple[Duty, ...] = ()
    closed_days: tuple[Weekday, ...] = ()
    closed_dates: tuple[date, ...] = ()
    emergency_number: str = "911"
    service_contact: str | None = None
    crew_chat: int | None = None
    cool_down: timedelta = MIN_COOL_DOWN
    polar_limit_percent: float | None = None
    oil_price_per_litre: float | None = None
    supplies: dict[str, Supply] = {}
    keep_talk_days: int = 400
    """How long the texts of messages and the course of conversations are kept; records are kept for ever."""

    def fryer(self, fryer_id: str) -> Fryer | None:
        """The fryer of that id, or None."""
        return next((f for f in self.fryers if f.id == fryer_id), None)

    def person(self, person_id: str) -> Person | None:
        """The person of that id, or None."""
        return next((p for p in self.people if p.id == person_id), None)

    def duty(self, duty_id: str) -> Duty | None:
        """The duty of that id, or None."""
        return next((d for d in self.duties if d.id == duty_id), None)

    def with_role(self, *roles: Role) -> tuple[Person, ...]:
        """The people in any of these roles, in the file's order."""
        return tuple(p for p in self.people if p.role in roles)
