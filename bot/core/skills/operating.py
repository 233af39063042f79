"""What whoever runs the helper may do from outside the chat: hold the reminders, and write to the managers.

It is never done in silence: a pause is logged, told to those in charge, and stands in the day's summary.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from bot.core import records as r
from bot.core.messages import Outcome, Reply, Words
from bot.core.scene import Scene

LONGEST_PAUSE = timedelta(hours=24)
"""So that a pause that was forgotten ends by itself."""

LONGEST_TEXT = 1000
"""Characters of a message to the managers."""

MOST_A_DAY = 5
"""Messages to the managers in any 24 hours."""

WRITTEN = "operator|"


class OrderError(ValueError):
    """It can't be done; the message says why, to the person at the terminal."""


def pause(scene: Scene, length: timedelta) -> Outcome:
    """Send no reminders and no escalations for so long. Cool-downs, alarms, answers and summaries go on.

    Raises ``OrderError`` for a length that isn't one, or is longer than a day.
    """
    if not timedelta(0) < length <= LONGEST_PAUSE:
        raise OrderError(f"a pause lasts from 1 minute to {LONGEST_PAUSE // timedelta(hours=1)} hours")
    until = scene.now + length
    return Outcome((r.RemindersPaused(until),), _to_those_in_charge(scene, Words("operator.paused", {"until": until})))


def resume(scene: Scene) -> Outcome:
    """Go on reminding. Raises ``OrderError`` where nothing is paused."""
    if not paused(scene):
        raise OrderError("the reminders are not paused")
    return Outcome((r.RemindersPaused(scene.now),), _to_those_in_charge(scene, Words("operator.resumed")))


def broadcast(scene: Scene, text: str) -> Outcome:
    """Write to every manager. Raises ``OrderError`` for no text, a long one, or too many in a day."""
    text = text.strip()
    if not text or len(text) > LONGEST_TEXT:
        raise OrderError(f"the message has {len(text)} characters; give it 1 to {LONGEST_TEXT}")
    since = scene.now - timedelta(days=1)
    if sum(key.startswith(WRITTEN) and at > since for key, at in scene.state.told.items()) >= MOST_A_DAY:
        raise OrderError(f"{MOST_A_DAY} messages went to the managers in the last 24 hours; wait")
    managers = scene.kitchen.with_role("manager")
    if not managers:
        raise OrderError("this kitchen has no manager")
    line = Words("operator.message", {"text": text})
    told = r.Told((f"{WRITTEN}{scene.now:%Y%m%dT%H%M%S%f}",))
    return Outcome((told,), tuple(Reply(p.id, "alert", (line,)) for p in managers))


def paused(scene: Scene) -> bool:
    """Whether reminders are being held now."""
    until: datetime | None = scene.state.paused_until
    return until is not None and until > scene.now


def _to_those_in_charge(scene: Scene, line: Words) -> tuple[Reply, ...]:
    return tuple(Reply(p.id, "alert", (line,)) for p in scene.kitchen.with_role("lead", "manager"))
