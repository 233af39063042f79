"""One message over several kitchens, for a manager who answers for more than one.

It comes when the last of their kitchens has had its summary. It is made from each kitchen's own records when it is
sent and kept in none of them, so that no kitchen's history speaks of another.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from bot.app import Helper
from bot.core.calendar import ONE_DAY, calendar
from bot.core.scene import rules_of
from bot.reports.side_by_side import kitchen_day, lines
from bot.store.forgetting import ROLL_UP

TOO_LATE = timedelta(hours=12)
"""Later than this after its time, because everything was off, nobody wants it any more."""


@dataclass(frozen=True, slots=True)
class Place:
    """A kitchen and the id that the manager has there."""

    helper: Helper
    person: str


@dataclass(frozen=True, slots=True)
class RollUp:
    """A message to one manager, by their Telegram number, about one kitchen day of all their kitchens."""

    telegram: int
    day: date
    at: datetime
    text: str
    places: tuple[Place, ...]


def due(helpers: Sequence[Helper], now: datetime) -> list[RollUp]:
    """Every roll-up whose time has come and that was not sent. After sending it, say so with ``sent``."""
    found = []
    for telegram, places in _managers(helpers).items():
        for day in _days(places, now):
            at = _at(places, day)
            if (
                at is None
                or not at <= now <= at + TOO_LATE
                or any(_key(place, day) in _told(place) for place in places)
            ):
                continue
            found.append(RollUp(telegram, day, at, _text(places, day, now), places))
    return found


def next_at(helpers: Sequence[Helper], now: datetime) -> datetime | None:
    """When the next roll-up comes; None where nobody manages several of these kitchens."""
    times = [
        at
        for places in _managers(helpers).values()
        for day in (*_days(places, now), *(max(_days(places, now)) + n * ONE_DAY for n in range(1, 8)))
        if (at := _at(places, day)) is not None and at > now
    ]
    return min(times, default=None)


def sent(roll_up: RollUp, now: datetime) -> None:
    """Remember in each of its kitchens that it was sent, and nothing more. Raises ``StoreError``."""
    for place in roll_up.places:
        place.helper.remember(_key(place, roll_up.day), now)


def _managers(helpers: Iterable[Helper]) -> dict[int, tuple[Place, ...]]:
    """Everybody who is a manager of two kitchens or more, with their kitchens in the order given."""
    found: dict[int, list[Place]] = {}
    for helper in helpers:
        for person in helper.kitchen.with_role("manager"):
            if person.telegram is not None:
                found.setdefault(person.telegram, []).append(Place(helper, person.id))
    return {telegram: tuple(places) for telegram, places in found.items() if len(places) > 1}


def _days(places: Iterable[Place], now: datetime) -> list[date]:
    """The kitchen days that are now in any of the kitchens, and the day before each; zones differ."""
    today = {calendar(rules_of(place.helper.kitchen)).day_of(now) for place in places}
    return sorted({day - n * ONE_DAY for day in today for n in (0, 1)})


def _at(places: Iterable[Place], day: date) -> datetime | None:
    """When the last of the kitchens that are open on a day has its summary; None where fewer than two are open."""
    times = []
    for place in places:
        days = calendar(rules_of(place.helper.kitchen))
        if days.is_open(day):
            times.append(days.at(day, place.helper.kitchen.summary_at))
    return max(times) if len(times) > 1 else None


def _text(places: Sequence[Place], day: date, now: datetime) -> str:
    """A line a kitchen, the one with the most to act on first, in the manager's language of their first kitchen."""
    first = places[0]
    language = first.helper.language_of(first.person)
    found = (kitchen_day(place.helper.kitchen.name, place.helper.state, day, now) for place in places)
    said = lines([one for one in found if one is not None], day)
    return "\n".join(first.helper.text(words.id, language, words.params) for words in said)


def _key(place: Place, day: date) -> str:
    return f"{ROLL_UP}{place.person}|{day}"


def _told(place: Place) -> dict[str, datetime]:
    return place.helper.state.told
