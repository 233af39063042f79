"""How the kitchen did: today, another day, the week or month so far; and the same by itself, to the managers."""

from __future__ import annotations

from datetime import date, timedelta

from bot.core import period_summary, summary
from bot.core.actions import action
from bot.core.calendar import ONE_DAY
from bot.core.compliance import judge_day
from bot.core.messages import Attachment, Button, Outcome, Reply, Words
from bot.core.period_summary import Period
from bot.core.scene import Scene, Speaker
from bot.core.state import KEEP
from intents.types import Period as Named, Slots

WEEK = 7


def asked(scene: Scene, who: Speaker, slots: Slots) -> Outcome:
    """Today, with the last seven days in a line; another day, a week or a month, where one is named."""
    if slots.period is not None:
        return _of_named_period(scene, who, slots.period)
    if slots.weekday is not None:
        # On a Tuesday, "Tuesday" is the last one: today is called today.
        back = (scene.today.weekday() - slots.weekday) % WEEK or WEEK
        return of_day(scene, who, scene.today - timedelta(days=back))
    if slots.days_ago:
        return of_day(scene, who, scene.today - timedelta(days=slots.days_ago))
    report = judge_day(scene.state, scene.today, scene.now)
    if report is None:
        return scene.answer(who, Words("summary.none_yet"))
    lines = [*summary.summary(scene, report), *summary.for_days(scene, WEEK)[:1]]
    lines += period_summary.trend_lines(scene, scene.today - ONE_DAY)
    return scene.answer(who, *lines, buttons=(*summary.more_button(scene, report), *_period_buttons()))


def of_day(scene: Scene, who: Speaker, day: date) -> Outcome:
    """One kitchen day, with what explains it: whether it stands out, and how its weekday does."""
    report = judge_day(scene.state, day, scene.now) if _kept(scene, day) else None
    if report is None or day > scene.today:
        return scene.answer(who, Words("summary.not_kept", {"on": day}))
    lines = [*summary.summary(scene, report), *period_summary.why_lines(scene, day)]
    return scene.answer(who, *lines, buttons=summary.more_button(scene, report))


def more(scene: Scene, who: Speaker, day: date) -> Outcome:
    """One kitchen day in full, with what explains it."""
    report = judge_day(scene.state, day, scene.now) if _kept(scene, day) else None
    if report is None or day > scene.today:
        return scene.answer(who, Words("summary.not_kept", {"on": day}))
    return scene.answer(who, *summary.details(scene, report), *period_summary.why_lines(scene, day))


def of_period(scene: Scene, who: Speaker, period: Period) -> Outcome:
    """The week or month so far."""
    return scene.answer(who, *period_summary.period_summary(scene, *period_summary.so_far(period, scene.today)))


def _of_named_period(scene: Scene, who: Speaker, named: Named) -> Outcome:
    kind: Period = "week" if named.endswith("week") else "month"
    if named.startswith("this"):
        return of_period(scene, who, kind)
    first, last = period_summary.span(kind, scene.today)
    if not _kept(scene, first):
        return scene.answer(who, Words("summary.not_kept", {"on": first}))
    return scene.answer(who, *period_summary.period_summary(scene, first, last))


def of_day_by_itself(scene: Scene, day: date) -> tuple[Reply, ...]:
    """The summary of a day, with its picture, to every manager."""
    report = judge_day(scene.state, day, scene.now)
    if report is None:
        return ()
    files = (Attachment("summary_picture", on=day),)
    lines = summary.summary(scene, report)
    # What explains the day is in the details, so they are there even where nothing had to be cut.
    explained = bool(period_summary.why_lines(scene, day))
    buttons = summary.details_button(report) if explained else summary.more_button(scene, report)
    return tuple(Reply(p.id, "summary", lines, buttons, files=files) for p in scene.kitchen.with_role("manager"))


def of_period_by_itself(scene: Scene, period: Period, day: date) -> tuple[Reply, ...]:
    """The summary of the week or month that was over before ``day``, to every manager."""
    lines = period_summary.period_summary(scene, *period_summary.span(period, day))
    return tuple(Reply(p.id, "summary", lines) for p in scene.kitchen.with_role("manager"))


def _kept(scene: Scene, day: date) -> bool:
    """Whether the state still holds the whole log of a day; older ones are in ``vatside summary``."""
    return scene.now - scene.days.day_start(day) < KEEP


def _period_buttons() -> tuple[Button, ...]:
    return tuple(Button(Words(f"button.{period}"), action("sum", period)) for period in ("week", "month"))
