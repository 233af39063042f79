"""The instants that people mean by the times they say."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

from bot.core.calendar import ONE_DAY
from bot.core.scene import Scene
from intents.types import Slots

WEEK = 7
"""Days."""


class InTheFutureError(ValueError):
    """A thing can't have been done at a time that has not come."""


def done_time(scene: Scene, slots: Slots) -> datetime:
    """When something was done, by what the message says: now, where it says nothing.

    "At 3pm" is the last 15:00 that has passed; "at 3" the later of 03:00 and 15:00 that has. "Last night" without
    a time is the closing of the kitchen day before. Raises ``InTheFutureError`` for a time to come.
    """
    if slots.future:
        raise InTheFutureError
    if slots.minutes is not None and slots.ago:
        return scene.now - timedelta(minutes=slots.minutes)
    if slots.clock is not None:
        today = scene.now.astimezone(scene.days.zone).date()
        if slots.days_ago:
            # The evening of that day, or the small hours after it, where the kitchen day still ran.
            return max(
                (at for at in _readings(scene, slots, today - timedelta(days=slots.days_ago)) if at <= scene.now),
            )
        passed = [at for day in (today - ONE_DAY, today) for at in _readings(scene, slots, day) if at <= scene.now]
        return max(passed)
    if slots.days_ago:
        return scene.days.closing(scene.today - timedelta(days=slots.days_ago))
    return scene.now


def next_time(scene: Scene, slots: Slots, otherwise: timedelta) -> datetime:
    """When to come back to something: after the length or at the next such wall time that the message states.

    A day without a time is its opening, or that of the next day on which the kitchen opens.
    """
    if slots.minutes is not None:
        return scene.now + timedelta(minutes=slots.minutes)
    if slots.clock is not None:
        today = scene.now.astimezone(scene.days.zone).date()
        days = (today + ONE_DAY,) if slots.tomorrow else (today, today + ONE_DAY)
        coming = [at for day in days for at in _readings(scene, slots, day) if at > scene.now]
        return min(coming)
    if slots.tomorrow:
        return scene.days.opening(scene.days.next_open(scene.today + ONE_DAY))
    if slots.weekday is not None:
        ahead = (slots.weekday - scene.today.weekday()) % WEEK or WEEK
        return scene.days.opening(scene.days.next_open(scene.today + timedelta(days=ahead)))
    return scene.now + otherwise


def after_rush(scene: Scene) -> datetime:
    """When the rush is over, where nobody says: half an hour after the next whole hour (common practice)."""
    return next_hour(scene, scene.now + timedelta(seconds=1)) + timedelta(minutes=30)


def next_hour(scene: Scene, at: datetime) -> datetime:
    """The first whole hour of the kitchen's clock, from an instant on."""
    wall = at.astimezone(scene.days.zone)
    past = timedelta(minutes=wall.minute, seconds=wall.second, microseconds=wall.microsecond)
    return at + (timedelta(hours=1) - past if past else past)


def _readings(scene: Scene, slots: Slots, on: date) -> list[datetime]:
    hour, minute = (int(part) for part in str(slots.clock).split(":"))
    hours = {hour, (hour + 12) % 24} if slots.clock_is_vague else {hour}
    return sorted(scene.days.instant(on, time(h, minute)) for h in hours)


def stamp(at: datetime) -> str:
    """An instant as it stands in a button, to the minute."""
    written = at.astimezone(UTC).isoformat(timespec="minutes")
    return f"{written[:4]}{written[5:7]}{written[8:13]}{written[14:16]}"


def unstamp(written: str) -> datetime:
    """The instant of a stamp. Raises ``ValueError`` for anything else."""
    return datetime.strptime(written, "%Y%m%dT%H%M").replace(tzinfo=UTC)
