"""The month's report as a PDF for paper and for an inspector's files."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from datetime import date, datetime
from xml.sax.saxutils import escape
from zoneinfo import ZoneInfo

from reportlab.lib import colors
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import CondPageBreak, Flowable, Paragraph, SimpleDocTemplate, Spacer, Table, TableStyle

from bot.core import records as r
from bot.core.compliance import Tally
from bot.core.messages import Words
from bot.core.scene import duty_words, fryer_words, slot_words
from bot.core.statistics import whole_percent
from bot.reports.month import SAID_LATER, Correction, Line, MonthReport
from bot.reports.typeface import BOLD, REGULAR, register

Say = Callable[[Words], str]
Name = Callable[[str | None], str]

TEXT = ParagraphStyle("text", fontName=REGULAR, fontSize=8, leading=10)
STRONG = ParagraphStyle("strong", parent=TEXT, fontName=BOLD)
TITLE = ParagraphStyle("title", parent=STRONG, fontSize=16, leading=20)
HEADING = ParagraphStyle("heading", parent=STRONG, fontSize=11, leading=14, spaceBefore=10, spaceAfter=4)

LINE_WIDTHS = (20 * mm, 38 * mm, 18 * mm, 13 * mm, 33 * mm, 22 * mm, 22 * mm, 18 * mm)
FIGURE_WIDTHS = (44 * mm, *(20 * mm,) * 7)
CORRECTION_WIDTHS = (64 * mm, 60 * mm, 60 * mm)
EVENT_WIDTHS = (32 * mm, 152 * mm)

ROOM = 40 * mm
"""A heading with less room than that below it starts a page."""


def as_pdf(report: MonthReport, zone: str, say: Say, name: Name) -> bytes:
    """The report on A4. Times are the kitchen's, on the 24-hour clock, dates as year-month-day.

    ``say`` puts words into the reader's language, ``name`` gives a person's name by the id.
    """
    register()
    writer = _Writer(ZoneInfo(zone), say, name)
    out = io.BytesIO()
    title = say(Words("month.title", {"kitchen": report.kitchen, "month": f"{report.first:%Y-%m}"}))
    document = SimpleDocTemplate(
        out, pagesize=A4, leftMargin=13 * mm, rightMargin=13 * mm, topMargin=14 * mm, bottomMargin=16 * mm,
        title=title, author=report.kitchen,
    )  # fmt: skip
    flow: list[Flowable] = [Paragraph(escape(title), TITLE), writer.line("month.made", at=writer.stamp(report.as_of))]
    flow += writer.figures(report)
    flow += writer.lines(report.lines)
    flow += writer.corrections(report.corrections)
    flow += writer.events(report.events)
    flow += [Spacer(1, 6), writer.line("month.promise")]

    def foot(canvas: Canvas, _: object) -> None:
        canvas.setFont(REGULAR, 7)
        canvas.drawString(13 * mm, 9 * mm, title)
        canvas.drawRightString(A4[0] - 13 * mm, 9 * mm, say(Words("month.page", {"number": canvas.getPageNumber()})))

    document.build(flow, onFirstPage=foot, onLaterPages=foot)
    return out.getvalue()


class _Writer:
    def __init__(self, zone: ZoneInfo, say: Say, name: Name) -> None:
        self._zone = zone
        self._say = say
        self._name = name

    def line(self, words_id: str, **params: object) -> Paragraph:
        return Paragraph(escape(self._say(Words(words_id, params))), TEXT)

    def stamp(self, at: datetime) -> str:
        return f"{at.astimezone(self._zone):%Y-%m-%d %H:%M}"

    def figures(self, report: MonthReport) -> list[Flowable]:
        head = [self._label(name) for name in ("duty", "due", "on_time", "late", "missed", "excused", "open", "rate")]
        table = [head, *(self._figure(self._say(duty_words(duty)), tally) for duty, tally in report.by_duty.items())]
        table.append(self._figure(self._say(Words("month.all")), report.total))
        return [*self._heading("figures"), _table(table, FIGURE_WIDTHS)]

    def lines(self, lines: Sequence[Line]) -> list[Flowable]:
        names = ("date", "duty", "fryer", "due", "done", "by", "result", "evidence")
        table = [[self._label(name) for name in names], *(self._line(line) for line in lines)]
        return [*self._heading("duties"), _table(table, LINE_WIDTHS)]

    def corrections(self, corrections: Sequence[Correction]) -> list[Flowable]:
        if not corrections:
            return [*self._heading("corrections"), self.line("month.no_corrections")]
        table = [[self._label(name) for name in ("entry", "logged", "taken_back")]]
        for one in corrections:
            logged = f"{self.stamp(one.logged_at)}, {self._name(one.by)}"
            taken_back = f"{self.stamp(one.undone_at)}, {self._name(one.undone_by)}"
            table.append([_cell(self._what(one.change)), _cell(logged), _cell(taken_back)])
        return [*self._heading("corrections"), _table(table, CORRECTION_WIDTHS)]

    def events(self, events: Sequence[tuple[datetime, r.Change]]) -> list[Flowable]:
        if not events:
            return []
        table = [[self._label("date"), self._label("entry")]]
        for at, change in events:
            by = getattr(change, "by", None)
            table.append([_cell(self.stamp(at)), _cell(f"{self._what(change)}, {self._name(by)}")])
        return [*self._heading("events"), _table(table, EVENT_WIDTHS)]

    def _heading(self, name: str) -> list[Flowable]:
        return [CondPageBreak(ROOM), Paragraph(escape(self._say(Words(f"month.{name}"))), HEADING)]

    def _label(self, name: str) -> Paragraph:
        return Paragraph(escape(self._say(Words(f"month.{name}"))), STRONG)

    def _figure(self, name: str, tally: Tally) -> list[Paragraph]:
        rate = f"{whole_percent(tally.rate)} %" if tally.rate is not None else "–"
        counts = (tally.due, tally.on_time, tally.late, tally.missed, tally.excused, tally.open)
        return [_cell(name), *(_cell(str(count)) for count in counts), _cell(rate)]

    def _line(self, line: Line) -> list[Paragraph]:
        fryer = self._say(fryer_words(line.fryer)) if line.fryer is not None else "–"
        due = self._time(line.due_at, line.day) if line.due_at is not None else "–"
        return [
            _cell(line.day.isoformat()),
            _cell(self._say(duty_words(line.duty))),
            _cell(fryer),
            _cell(due),
            _cell(self._done(line)),
            _cell(self._name(line.by) if line.by is not None else "–"),
            Paragraph(escape(self._say(Words(f"month.{line.result}"))), STRONG if line.result == "missed" else TEXT),
            _cell(" ".join(line.evidence)),
        ]

    def _time(self, at: datetime, day: date) -> str:
        """A time of the clock, with its date where that isn't the day it is listed under."""
        local = at.astimezone(self._zone)
        return f"{local:%H:%M}" if local.date() == day else f"{local:%Y-%m-%d %H:%M}"

    def _done(self, line: Line) -> str:
        if line.done_at is None or line.logged_at is None:
            return "–"
        done = self._time(line.done_at, line.day)
        if line.logged_at - line.done_at < SAID_LATER:
            return done
        return self._say(Words("month.logged_later", {"done": done, "logged": self._time(line.logged_at, line.day)}))

    def _what(self, change: r.Change) -> str:
        match change:
            case r.Confirmed():
                return self._say(slot_words(change.duty, change.fryer))
            case r.ReadingTaken():
                unit = Words(f"unit.{change.unit}")
                params = {"fryer": fryer_words(change.fryer), "value": change.value, "unit": unit}
                return self._say(Words(f"entry.{change.what}", params))
            case r.DropsCounted():
                return self._say(Words("entry.drops", {"fryer": fryer_words(change.fryer), "n": change.amount}))
            case r.OutageBegan():
                return self._say(Words("entry.down", {"fryer": fryer_words(change.fryer)}))
            case r.OutageEnded():
                return self._say(Words("entry.up", {"fryer": fryer_words(change.fryer)}))
            case r.IncidentReported():
                return self._say(Words("month.incident", {"what": Words(f"incident.{change.what}")}))
            case r.AlarmCalledOff():
                return self._say(Words("month.false_alarm", {"what": Words(f"incident.{change.what}")}))
            case r.IncidentFollowedUp():
                text = "month.over" if change.over else "month.not_over"
                return self._say(Words(text, {"what": Words(f"incident.{change.what}")}))
            case r.ResetTried():
                part = {"part": Words(f"part.{change.part}"), "fryer": fryer_words(change.fryer)}
                return self._say(Words("month.reset_held" if change.worked else "month.reset_failed", part))
            case r.NoteLeft():
                return change.text
            case _:
                return self._say(Words("month.other"))


def _cell(text: str) -> Paragraph:
    return Paragraph(escape(text), TEXT)


def _table(rows: Sequence[Sequence[Paragraph]], widths: Sequence[float]) -> Table:
    return Table(
        [list(row) for row in rows],
        colWidths=list(widths),
        repeatRows=1,
        hAlign="LEFT",
        style=TableStyle(
            [
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LINEBELOW", (0, 0), (-1, 0), 0.8, colors.black),
                ("LINEBELOW", (0, 1), (-1, -1), 0.25, colors.grey),
                ("TOPPADDING", (0, 0), (-1, -1), 1.5),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
                ("LEFTPADDING", (0, 0), (-1, -1), 2),
                ("RIGHTPADDING", (0, 0), (-1, -1), 2),
            ]
        ),
    )
