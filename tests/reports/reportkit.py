"""What the tests of the reports share: kitchens of any size, a log that grows by turns, words to draw with."""

from __future__ import annotations

import random
from collections.abc import Sequence
from datetime import date, datetime, time, timedelta

from bot.core import records as r, schedule
from bot.core.calendar import calendar
from bot.core.kitchen import Duty, Every, Fryer, Kitchen, Person, Weekday
from bot.reports.picture_words import LABELS, PictureWords, dates_needed
from tests.core import daylog

ZONE = "America/New_York"
DAY = date(2026, 9, 15)
"""A Tuesday."""

DUTIES = (
    "pad_change", "midshift_filter", "closing_filter", "oil_test", "skim_pass", "seal_replacement", "boil_out",
    "oil_change", "basket_check", "reservoir_swap", "hood_filters", "thermometer_check", "fire_check",
    "floor_check", "drain_check",
)  # fmt: skip


def rules(
    fryers: Sequence[str] = ("1", "2", "3"),
    duties: Sequence[Duty] | None = None,
    count: int = 5,
    closed_days: tuple[Weekday, ...] = ("monday",),
    name: str = "Lantern Street Kitchen",
    zone: str = ZONE,
) -> r.Rules:
    """A kitchen open from 10:00 to 22:00 with ``count`` daily duties, the last one for all fryers at once."""
    if duties is None:
        duties = [daily(id, f"{11 + n * 11 // count}:{n % 6}0", tuple(fryers)) for n, id in enumerate(DUTIES[:count])]
        duties[-1] = daily(duties[-1].id, "20:30", None)
    return r.Rules(name, zone, time(10), time(22), closed_days, (), tuple(fryers), tuple(duties))


def daily(id: str, at: str, fryers: tuple[str, ...] | None, grace: int = 30) -> Duty:
    """A daily duty, late after ``grace`` minutes."""
    wall = time.fromisoformat(at)
    return Duty(id, Every("day"), wall, fryers, timedelta(minutes=grace), timedelta(minutes=60))


class Log(daylog.Log):
    """A log of a kitchen with these rules."""

    def __init__(self, rules: r.Rules, began: datetime) -> None:
        kitchen = Kitchen(
            name=rules.name,
            timezone=rules.timezone,
            language="en",
            opens=rules.opens,
            closes=rules.closes,
            summary_at=time(22, 30),
            fryers=tuple(Fryer(fryer) for fryer in rules.fryers),
            people=(Person("ben", "Ben", "cook", "en"),),
            duties=rules.duties,
            closed_days=rules.closed_days,
        )
        super().__init__(kitchen, began)
        self.rules = rules


def month_of_work(
    rules: r.Rules, seed: int = 1, days: int = 28, share_on_time: float = 0.86, until: time = time(23, 59)
) -> Log:
    """A log of the days before ``DAY`` and of ``DAY`` itself until a wall time, with some late and some missed."""
    chance = random.Random(seed)
    kitchen_days = calendar(rules)
    log = Log(rules, kitchen_days.day_start(DAY - timedelta(days=days)))
    deeds = []
    for back in range(days, -1, -1):
        day = DAY - timedelta(days=back)
        if not kitchen_days.is_open(day):
            continue
        for slot in schedule.slots(rules):
            due = kitchen_days.at(day, slot.duty.at or time(12))
            roll = chance.random()
            if roll < share_on_time:
                deeds.append((due + timedelta(minutes=chance.randint(-20, 25)), slot))
            elif roll < share_on_time + (1 - share_on_time) / 2:
                deeds.append((due + timedelta(minutes=chance.randint(35, 60)), slot))
    end = kitchen_days.instant(DAY, until)
    for at, slot in sorted(deeds, key=lambda deed: deed[0]):
        if at <= end:
            log.done(slot.duty.id, slot.fryer, at)
    return log


LABEL_WORDS = {
    "en": (
        "Daily summary", "so far", "Closed today", "No figure yet", "done on time", "likely range (95 %)", "Fryer",
        "on time", "late", "missed", "excused", "still open", "not due", "Last 28 days", "closed, or no figure",
    ),
    "es": (
        "Resumen del día", "hasta ahora", "Cerrado hoy", "Aún no hay cifras", "hechas a tiempo",
        "rango probable (95 %)", "Freidora", "a tiempo", "con retraso", "sin hacer", "justificada", "pendiente",
        "aún no toca", "Últimos 28 días", "cerrado, o nada que contar",
    ),
}  # fmt: skip
DUTY_WORDS = {
    "en": (
        "Filter pad change", "Mid-shift filter", "Closing filter", "Oil test", "Skim crumbs", "Seal replacement",
        "Boil-out", "Oil change", "Basket check", "Fresh-oil reservoir swap", "Hood filters", "Thermometer check",
        "Fire extinguisher check", "Floor check", "Drain valve check",
    ),
    "es": (
        "Cambio de la almohadilla del filtro", "Filtrado a mitad de turno", "Filtrado de cierre",
        "Prueba del aceite", "Espumar las migas", "Cambio de las juntas", "Limpieza con agua hirviendo",
        "Cambio de aceite", "Revisión de cestas", "Cambio del depósito de aceite nuevo", "Filtros de la campana",
        "Revisión del termómetro", "Revisión del extintor", "Revisión del piso",
        "Revisión de la válvula de drenaje",
    ),
}  # fmt: skip


def picture_words(language: str, fryers: Sequence[str], day: date = DAY) -> PictureWords:
    """Words of about the length of the real ones."""
    return PictureWords(
        dict(zip(LABELS, LABEL_WORDS[language], strict=True)),
        dict(zip(DUTIES, DUTY_WORDS[language], strict=True)),
        {fryer: fryer for fryer in fryers},
        {on: _date(on, language) for on in dates_needed(day)},
    )


def _date(on: date, language: str) -> str:
    if language == "en":
        return f"{on:%a} {on.day} {on:%b}"
    weekday = ("lun", "mar", "mié", "jue", "vie", "sáb", "dom")[on.weekday()]
    return f"{weekday} {on.day} {'ago' if on.month == 8 else 'sep'}"
