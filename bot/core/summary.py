"""The nightly summary in lines: the verdict first, then what a manager acts on, at most a phone's screen."""

from __future__ import annotations

from datetime import datetime, timedelta

from bot.core import records as r
from bot.core.compliance import DayReport, Judged, judge_day
from bot.core.flags import BURST_WITHIN, LAST_MINUTES, LAST_SHARE, Flag
from bot.core.messages import Words
from bot.core.scene import Scene, fryer_words, grouped, name_words, slot_words
from bot.core.skills import supplies
from bot.core.state import Logged, done_at
from bot.core.statistics import whole_percent

MOST_LINES = 6
"""Of one sort; what goes beyond is counted. Keeps the whole within a phone's screen."""


def summary(scene: Scene, report: DayReport) -> tuple[Words, ...]:
    """All lines of one kitchen day."""
    lines = [verdict(report)]
    for name, sort in (("missed", "missed"), ("late", "late"), ("open", "open")):
        found = [j for j in report.judged if j.verdict == sort]
        if found:
            lines.append(Words(f"summary.{name}", {"n": len(found)}))
            lines += [_line(scene, j) for j in found[:MOST_LINES]]
            if len(found) > MOST_LINES:
                lines.append(Words("summary.and_more", {"n": len(found) - MOST_LINES}))
    excused = [j for j in report.judged if j.verdict == "excused"]
    if excused:
        what = grouped((j.occurrence.slot.duty.id, j.occurrence.slot.fryer) for j in excused)
        lines.append(Words("summary.excused", {"what": what}))
    lines += _log_lines(scene, report)
    lines += [_flag_line(scene, flag) for flag in report.flags]
    return tuple(lines)


def verdict(report: DayReport) -> Words:
    """The first line: how much was on time, and how sure that figure is."""
    total = report.total
    if report.closed:
        return Words("summary.closed", {"on": report.day})
    if total.rate is None or total.interval is None:
        return Words("summary.nothing", {"on": report.day})
    low, high = total.interval
    params = {
        "on": report.day,
        "on_time": total.on_time,
        "judged": total.judged,
        "percent": whole_percent(total.rate),
        "low": round(100 * low),
        "high": round(100 * high),
    }
    return Words("summary.all_done" if total.on_time == total.judged else "summary.verdict", params)


def for_days(scene: Scene, days: int) -> tuple[Words, ...]:
    """A line a day for the last ``days`` kitchen days that were open, this one first, and the whole of them."""
    lines: list[Words] = []
    on_time = judged = 0
    for back in range(days):
        report = judge_day(scene.state, scene.today - timedelta(days=back), scene.now)
        if report is None or report.closed:
            continue
        lines.append(verdict(report))
        on_time += report.total.on_time
        judged += report.total.judged
    if judged:
        params = {"on_time": on_time, "judged": judged, "percent": whole_percent(on_time / judged), "n": days}
        lines.insert(0, Words("summary.days", params))
    return tuple(lines) or (Words("summary.none_yet"),)


def _line(scene: Scene, judged: Judged) -> Words:
    slot = judged.occurrence.slot
    params: dict[str, object] = {
        "what": slot_words(slot.duty.id, slot.fryer),
        "due": judged.occurrence.due_at,
    }
    if judged.verdict == "late" and judged.done is not None:
        params["by"] = name_words(scene, getattr(judged.done.change, "by", None))
        params["late"] = done_at(judged.done.change) - judged.occurrence.due_at
        return Words("summary.late_line", params)
    last = scene.state.last_confirmation(slot.duty.id, slot.fryer)
    if last is not None:
        params["last"] = done_at(last.change)
        return Words("summary.undone_line", params)
    return Words("summary.undone_never_line", params)


def _flag_line(scene: Scene, flag: Flag) -> Words:
    by = name_words(scene, flag.by)
    match flag.flag:
        case "many_at_once":
            params = {"by": by, "n": flag.count, "at": flag.since, "length": BURST_WITHIN}
            return Words("summary.many_at_once", params)
        case "last_minutes":
            share = whole_percent(LAST_SHARE)
            params = {"by": by, "n": flag.count, "of": flag.of, "percent": share, "length": LAST_MINUTES}
            return Words("summary.last_minutes", params)
        case _:
            fryer = fryer_words(flag.fryer or "")
            return Words("summary.drops_after_filter", {"fryer": fryer, "n": flag.count, "at": flag.since, "by": by})


def _log_lines(scene: Scene, report: DayReport) -> list[Words]:
    start, end = scene.days.day_start(report.day), scene.days.day_end(report.day)
    today = [e for e in scene.state.log if start <= e.at < end and not e.undone]
    lines: list[Words] = []
    for entry in today:
        line = _log_line(scene, entry)
        if line is not None and line not in lines:
            lines.append(line)
    known = min(scene.now, end)
    down = [f for f in scene.kitchen.fryers if scene.state.out_of_service(f.id, known)]
    lines += [Words("summary.still_down", {"fryer": fryer_words(f)}) for f in down]
    unanswered = sum(isinstance(e.change, r.QuestionUnanswered) for e in today)
    if unanswered:
        lines.append(Words("summary.unanswered", {"n": unanswered}))
    low = supplies.low(scene)
    if low:
        lines.append(Words("summary.order", {"what": tuple(supplies.item_words(name) for name in low)}))
    return lines


def _log_line(scene: Scene, entry: Logged) -> Words | None:
    at: datetime = entry.at
    match entry.change:
        case r.IncidentReported(what=what, by=by):
            return Words("summary.incident", {"what": Words(f"incident.{what}"), "by": name_words(scene, by), "at": at})
        case r.ResetTried(fryer=fryer, part=part, worked=worked):
            text = "summary.reset_worked" if worked else "summary.reset_failed"
            return Words(text, {"part": Words(f"part.{part}"), "fryer": fryer_words(fryer), "at": at})
        case r.OutageBegan(fryer=fryer):
            return Words("summary.down", {"fryer": fryer_words(fryer), "at": at})
        case r.ReadingTaken(what="oil_test", fryer=fryer, value=value):
            return Words("summary.oil", {"fryer": fryer_words(fryer), "value": value})
        case r.NoteLeft(text=text, by=by):
            return Words("summary.note", {"text": text, "by": name_words(scene, by)})
        case _:
            return None
