"""The nightly summary in lines: the verdict first, then what a manager acts on, at most a phone's screen."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from bot.core import records as r, schedule
from bot.core.actions import action
from bot.core.calendar import ONE_DAY
from bot.core.compliance import DayReport, Judged, count_day
from bot.core.flags import BURST_WITHIN, LAST_MINUTES, LAST_SHARE, Flag
from bot.core.forecast import oil_life
from bot.core.messages import Button, Words
from bot.core.pieces import Logged, done_at
from bot.core.reservoir import Reservoir, reservoir
from bot.core.scene import Scene, fryer_words, grouped, name_words, slot_words
from bot.core.skills import supplies
from bot.core.statistics import whole_percent

SCREEN = 18
"""Lines that a phone shows at once, about; common practice."""

MOST_LINES = 6
"""Of one sort; what goes beyond is counted, and shown in full on a tap."""


@dataclass(frozen=True, slots=True)
class Section:
    """Lines of one sort. A section with a head, which states their number, may be cut down to it."""

    lines: tuple[Words, ...]
    head: Words | None = None


def summary(scene: Scene, report: DayReport) -> tuple[Words, ...]:
    """The lines of one kitchen day, cut to a phone's screen."""
    return (verdict(report), *fitted(sections(scene, report), SCREEN - 1))


def details(scene: Scene, report: DayReport) -> tuple[Words, ...]:
    """All lines of one kitchen day."""
    return (verdict(report), *(line for section in sections(scene, report) for line in _cut(section, None)))


def more_button(scene: Scene, report: DayReport) -> tuple[Button, ...]:
    """The button for what ``summary`` cuts off; none where it cuts nothing off."""
    return () if summary(scene, report) == details(scene, report) else details_button(report)


def details_button(report: DayReport) -> tuple[Button, ...]:
    """The button for all lines of a day and what explains them."""
    return (Button(Words("button.more"), action("more", report.day.isoformat())),)


def sections(scene: Scene, report: DayReport) -> list[Section]:
    """What a manager acts on, the gravest first: incidents, duties, faults, oil and supplies, questions, notes."""
    if scene.memo is None:
        return _sections(scene, report)
    # A summary and its "More" are made in the same breath, and the oil's forecast in it is the dearest of all.
    ground = (scene.state.seq, scene.now, report)
    known = scene.memo.get("sections")
    if known is None or known[0] != ground:
        known = scene.memo["sections"] = (ground, _sections(scene, report))
    found: list[Section] = known[1]
    return found


def _sections(scene: Scene, report: DayReport) -> list[Section]:
    start, end = scene.days.day_start(report.day), scene.days.day_end(report.day)
    log = [entry for entry in scene.state.log if start <= entry.at < end and not entry.undone]
    found = [Section(_log_lines(scene, log, r.IncidentReported, r.AlarmCalledOff, r.IncidentFollowedUp))]
    found.append(Section(_log_lines(scene, log, r.RemindersPaused)))
    for name in ("missed", "late", "open"):
        judged = [j for j in report.judged if j.verdict == name]
        if judged:
            head = Words(f"summary.{name}", {"n": len(judged)})
            found.append(Section(tuple(_line(scene, j) for j in judged), head))
    excused = [j for j in report.judged if j.verdict == "excused"]
    if excused:
        what = grouped((j.occurrence.slot.duty.id, j.occurrence.slot.fryer) for j in excused)
        found.append(Section((Words("summary.excused", {"what": what}),)))
    found.append(Section(_outage_lines(scene, start, min(scene.now, end))))
    found.append(Section(_log_lines(scene, log, r.WaitStarted, r.ResetTried)))
    asked = {(entry.change.topic, entry.change.fryer) for entry in log if isinstance(entry.change, r.FaultAsked)}
    if asked:
        faults = tuple(
            Words("summary.fault", {"fault": Words(f"topic.{topic}"), "fryer": fryer_words(fryer)})
            for topic, fryer in sorted(asked)
        )
        found.append(Section((Words("summary.faults", {"what": faults}),)))
    found.append(Section(_oil_lines(scene, log, report)))
    if report.day == scene.today:
        found.append(Section(_tomorrow_lines(scene)))
    unanswered = sum(isinstance(entry.change, r.QuestionUnanswered) for entry in log)
    if unanswered:
        found.append(Section((Words("summary.unanswered", {"n": unanswered}),)))
    found.append(Section(tuple(_flag_line(scene, flag) for flag in report.flags)))
    found.append(Section(_log_lines(scene, log, r.NoteLeft)))
    return [section for section in found if section.lines]


def fitted(found: list[Section], room: int) -> tuple[Words, ...]:
    """The lines of these sections, the longest cut first until they fit into ``room`` lines."""
    caps = [min(MOST_LINES, len(section.lines)) for section in found]
    while sum(len(_cut(*pair)) for pair in zip(found, caps, strict=True)) > room:
        least = [0 if section.head is not None else 1 for section in found]
        longest = max(range(len(found)), key=lambda n: (caps[n] - least[n], n))
        if caps[longest] == least[longest]:
            break
        caps[longest] -= 1
    return tuple(line for pair in zip(found, caps, strict=True) for line in _cut(*pair))


def _cut(section: Section, cap: int | None) -> tuple[Words, ...]:
    head = (section.head,) if section.head is not None else ()
    if cap is None or cap >= len(section.lines):
        return head + section.lines
    if cap == 0:
        return head
    return (*head, *section.lines[:cap], Words("summary.and_more", {"n": len(section.lines) - cap}))


def verdict(report: DayReport) -> Words:
    """The first line: how much was on time, and how sure that figure is."""
    total = report.total
    if report.closed:
        return Words("summary.closed", {"on": report.day})
    if total.open and not report.complete:
        # Most of what is open when the evening's summary comes may still be missed: no day is praised for the rest.
        params = {"on": report.day, "on_time": total.on_time, "judged": total.judged, "n": total.open}
        return Words("summary.so_far", params)
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
        report = count_day(scene.state, scene.today - timedelta(days=back), scene.now, scene.memo)
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
    if last is not None or slot.duty.last_done is not None:
        params["last"] = done_at(last.change) if last is not None else slot.duty.last_done
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


def _oil_lines(scene: Scene, log: list[Logged], report: DayReport) -> tuple[Words, ...]:
    """The day's oil tests, the last of each fryer; on the day itself with what to do about each, tested or not."""
    tests = {
        entry.change.fryer: entry.change.value
        for entry in log
        if isinstance(entry.change, r.ReadingTaken) and entry.change.what == "oil_test"
    }
    lines = []
    for fryer in scene.kitchen.fryers:
        params: dict[str, object] = {"fryer": fryer_words(fryer)}
        life = oil_life(scene, fryer.id) if report.day == scene.today else None
        if life is not None and life.fill.readings and life.advice != "keep":
            lines.append(Words(f"summary.oil_{life.advice}", {**params, "value": life.fill.readings[-1].percent}))
        elif fryer.id in tests:
            lines.append(Words("summary.oil", {**params, "value": tests[fryer.id]}))
    return tuple(lines)


def _outage_lines(scene: Scene, start: datetime, end: datetime) -> tuple[Words, ...]:
    """What was out of service in that time, and what still is at its end."""
    lines = []
    for outage in scene.state.outages:
        if outage.since >= end or (outage.to is not None and outage.to <= start):
            continue
        params = {"fryer": fryer_words(outage.fryer), "at": outage.since}
        if outage.to is not None and outage.to < end:
            lines.append(Words("summary.was_down", {**params, "until": outage.to}))
        else:
            lines.append(Words("summary.down" if outage.since >= start else "summary.still_down", params))
    return tuple(lines)


def _tomorrow_lines(scene: Scene) -> tuple[Words, ...]:
    """What the next open day needs beyond its daily duties, and what to order."""
    tomorrow = scene.days.next_open(scene.today + ONE_DAY)
    due = []
    for slot in schedule.slots(scene.rules):
        if slot.duty.every.unit in ("day", "drops"):
            continue
        last = scene.state.last_confirmation(slot.duty.id, slot.fryer)
        occurrence = schedule.pending(scene.state, slot, scene.rules, last, scene.now)
        if occurrence is not None and occurrence.day == tomorrow:
            due.append((slot.duty.id, slot.fryer))
    lines = [Words("summary.tomorrow", {"on": tomorrow, "what": grouped(due)})] if due else []
    jug = reservoir(scene)
    if isinstance(jug, Reservoir) and jug.early <= scene.days.closing(tomorrow):
        lines.append(Words("summary.jug", {"day": scene.days.day_of(max(jug.likely, scene.now))}))
    low = supplies.low(scene)
    if low:
        lines.append(Words("summary.order", {"what": tuple(supplies.item_words(stock.item) for stock in low)}))
    return tuple(lines)


def _log_lines(scene: Scene, log: list[Logged], *kinds: type[r.Change]) -> tuple[Words, ...]:
    """The lines of these kinds of entries, in their order, each said once."""
    lines = (_log_line(scene, entry) for entry in log if isinstance(entry.change, kinds))
    return tuple({repr(line): line for line in lines if line is not None}.values())


def _log_line(scene: Scene, entry: Logged) -> Words | None:
    at: datetime = entry.at
    match entry.change:
        case r.IncidentReported(what=what, by=by):
            return Words("summary.incident", {"what": Words(f"incident.{what}"), "by": name_words(scene, by), "at": at})
        case r.AlarmCalledOff(what=what, by=by):
            params = {"what": Words(f"incident.{what}"), "by": name_words(scene, by), "at": at}
            return Words("summary.false_alarm", params)
        case r.IncidentFollowedUp(what=what, by=by, over=over):
            params = {"what": Words(f"incident.{what}"), "by": name_words(scene, by), "at": at}
            return Words("summary.over" if over else "summary.not_over", params)
        case r.RemindersPaused(until=until):
            # A pause of no length ends one.
            return (
                Words("summary.paused", {"at": at, "until": until})
                if until > at
                else Words("summary.resumed", {"at": at})
            )
        case r.WaitStarted(fryer=fryer, part=part):
            return Words("summary.wait", {"part": Words(f"part.{part}"), "fryer": fryer_words(fryer), "at": at})
        case r.ResetTried(fryer=fryer, part=part, worked=worked):
            text = "summary.reset_worked" if worked else "summary.reset_failed"
            return Words(text, {"part": Words(f"part.{part}"), "fryer": fryer_words(fryer), "at": at})
        case r.NoteLeft(text=text, by=by):
            return Words("summary.note", {"text": text, "by": name_words(scene, by)})
        case _:
            return None
