"""The month's report and the calendar, read back by general readers."""

from __future__ import annotations

import csv
import io
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import icalendar
import pytest
from pypdf import PdfReader

from bot import cli
from bot.content.catalogue import Content
from bot.core import records as r
from bot.core.coming import coming
from bot.core.kitchen import Duty, Every
from bot.core.messages import Words
from bot.core.scene import Scene
from bot.reports.calendar import as_calendar
from bot.reports.csv_lines import csv_lines
from bot.reports.month import FIELDS, MonthReport, month_report, rows
from bot.reports.month_pdf import as_pdf
from tests.core.daylog import Log
from tests.core.stage import LIBRARY, daily, kitchen, local

SEPTEMBER = date(2026, 9, 1)
PADS = daily("pad_change", "21:30", ("1", "2"))
BOIL_OUT = Duty(
    "boil_out", Every("days", 14), daily("x", "14:30", None).at, ("1",), timedelta(minutes=30), timedelta(minutes=60),
    date(2026, 9, 6),
)  # fmt: skip


def month() -> tuple[Log, MonthReport]:
    """A September with one pad on time, one late, one stated later, one extra, one taken back, and a photo."""
    log = Log(kitchen(PADS, BOIL_OUT), local("2026-09-15 09:00"))
    photo = log.done("pad_change", "1", local("2026-09-15 21:35"))
    log.add(local("2026-09-15 21:36"), r.EvidenceKept(photo.entry, "1-1.jpg", "ben"))
    log.done("pad_change", "2", local("2026-09-15 22:20"))
    log.done("pad_change", "1", local("2026-09-16 21:30"), local("2026-09-16 23:10"), by="maya")
    log.done("pad_change", "1", local("2026-09-16 23:20"))
    wrong = log.done("pad_change", "2", local("2026-09-17 21:31"))
    log.undo(wrong.entry, local("2026-09-17 21:40"))
    log.add(local("2026-09-18 16:00"), r.ReadingTaken(log.entry(), "oil_test", "2", 19, "percent", "ben"))
    log.done("boil_out", "1", local("2026-09-23 15:00"))
    report = month_report(log.turns, SEPTEMBER, local("2026-10-02 09:00"))
    assert report is not None
    return log, report


def found(report: MonthReport, day: int, duty: str, fryer: str) -> list[str]:
    return [x.result for x in report.lines if (x.day.day, x.duty, x.fryer) == (day, duty, fryer)]


def test_each_line_says_what_became_of_a_duty() -> None:
    _, report = month()
    assert found(report, 15, "pad_change", "1") == ["on_time"]
    assert found(report, 15, "pad_change", "2") == ["late"]
    assert found(report, 16, "pad_change", "1") == ["on_time", "extra"]
    assert found(report, 17, "pad_change", "2") == ["missed"]
    assert [x.evidence for x in report.lines if x.evidence] == [("1-1.jpg",)]


def test_a_duty_that_stayed_open_counts_once_by_what_became_of_it() -> None:
    _, report = month()
    assert [(x.day.day, x.result) for x in report.lines if x.duty == "boil_out"] == [(23, "late")]
    assert report.by_duty["boil_out"].due == 1


def test_the_figures_are_the_sum_of_the_lines() -> None:
    _, report = month()
    judged = [x for x in report.lines if x.result != "extra"]
    assert report.total.due == len(judged) == sum(tally.due for tally in report.by_duty.values())


def test_a_correction_is_shown_with_who_took_it_back_and_when() -> None:
    _, report = month()
    (correction,) = report.corrections
    assert isinstance(correction.change, r.Confirmed)
    assert (correction.undone_at, correction.undone_by) == (local("2026-09-17 21:40"), "ben")


def test_a_correction_made_after_the_month_still_shows() -> None:
    log, _ = month()
    log.undo(1, local("2026-10-01 12:00"))
    report = month_report(log.turns, SEPTEMBER, local("2026-10-02 09:00"))
    assert report is not None and len(report.corrections) == 2
    assert found(report, 15, "pad_change", "1") == ["missed"]


def test_there_is_no_report_of_a_month_before_the_log() -> None:
    log, _ = month()
    assert month_report(log.turns, date(2026, 8, 1), local("2026-10-02 09:00")) is None


@pytest.mark.parametrize("language", ["en", "es"])
def test_a_pdf_reader_finds_everything_that_an_inspector_asks_for(language: str, content: Content) -> None:
    log, report = month()

    def say(words: Words) -> str:
        return content.wording.render(words, "es" if language == "es" else "en", log.kitchen, report.as_of)

    def name(person: str | None) -> str:
        return {"ben": "Ben <Núñez>", "maya": "Maya"}.get(person or "", "?")

    raw = as_pdf(report, "America/New_York", say, name)
    reader = PdfReader(io.BytesIO(raw))
    text = " ".join(" ".join(page.extract_text() for page in reader.pages).split())
    assert raw.startswith(b"%PDF-") and len(reader.pages) >= 1
    assert reader.metadata is not None and "Test Kitchen" in str(reader.metadata.title)
    for said in (
        "2026-09-15",
        "21:35",
        "21:30 (",
        "23:10)",
        "2026-09-17 21:40",
        "1-1.jpg",
        "Ben <Núñez>",
        "Maya",
        "19",
    ):
        assert said in text
    for label in ("month.missed", "month.late", "month.extra", "month.promise", "month.corrections"):
        assert say(Words(label)) in text


def test_the_spreadsheet_has_one_record_for_each_line() -> None:
    _, report = month()
    read = list(csv.DictReader(io.StringIO("".join(csv_lines(FIELDS, rows(report))), newline="")))
    assert len(read) == len(report.lines)
    assert {record["result"] for record in read} == {"on_time", "late", "missed", "extra"}


# --- the calendar ---


def calendar_of(content: Content, now: datetime, days: int = 14) -> list[icalendar.Event]:
    log = Log(kitchen(PADS, BOIL_OUT), local("2026-09-15 09:00"))
    scene = Scene(log.kitchen, LIBRARY, log.state, now)

    def say(words: Words) -> str:
        return content.wording.render(words, "es", log.kitchen, now)

    raw = as_calendar(log.kitchen.name, coming(scene, days), now, say)
    assert b"\r\n" in raw
    calendar = icalendar.Calendar.from_ical(raw)
    assert calendar["VERSION"] == "2.0"
    return [event for event in calendar.walk("VEVENT") if isinstance(event, icalendar.Event)]


def test_a_calendar_reader_finds_each_coming_duty_once_for_all_its_fryers(content: Content) -> None:
    events = calendar_of(content, local("2026-09-15 12:00"))
    pads = [event for event in events if "pad_change" in event["UID"]]
    # Fourteen days from a Tuesday noon hold two closed Mondays.
    assert [event.decoded("DTSTART") for event in pads][:2] == [
        local("2026-09-15 21:30"), local("2026-09-16 21:30"),
    ]  # fmt: skip
    assert len(pads) == 12
    assert str(pads[0]["SUMMARY"]) == "Cambio de papel de las freidoras 1 y 2"
    assert pads[0].decoded("DTEND") - pads[0].decoded("DTSTART") == timedelta(minutes=30)
    assert [event.decoded("DTSTART").date() for event in events if "boil_out" in event["UID"]] == [date(2026, 9, 20)]


def test_an_event_keeps_its_uid_from_one_file_to_the_next(content: Content) -> None:
    first = {event["UID"] for event in calendar_of(content, local("2026-09-15 12:00"))}
    second = {event["UID"] for event in calendar_of(content, local("2026-09-16 12:00"))}
    assert len(first & second) >= len(first) - 2
    assert len(first) == len(calendar_of(content, local("2026-09-15 12:00")))


def test_a_daily_duty_keeps_its_wall_time_across_the_clock_change(content: Content) -> None:
    """New York goes back on 2026-11-01: 21:30 is 01:30 UTC the next day before it and 02:30 after."""
    events = calendar_of(content, local("2026-10-30 12:00"), days=4)
    pads = [event.decoded("DTSTART") for event in events if "pad_change" in event["UID"]]
    assert [at.astimezone(UTC).time().hour for at in pads] == [1, 1, 2]


# --- the commands ---


@pytest.fixture
def store(tmp_path: Path) -> Path:
    script = tmp_path / "s.jsonl"
    script.write_text(
        '{"at": "2026-09-15T21:34:00-04:00", "from": "ben", "text": "pad changed on 1"}\n', encoding="utf-8"
    )
    assert cli.main(["replay", str(script), "--store", str(tmp_path / "store")]) == 0
    return tmp_path / "store"


def test_the_report_command_writes_a_pdf(store: Path, capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    capfdbinary.readouterr()
    assert cli.main(["report", "--month", "2026-09", "--store", str(store), "--language", "es"]) == 0
    reader = PdfReader(io.BytesIO(capfdbinary.readouterr().out))
    assert "Cambio de papel" in reader.pages[0].extract_text()


def test_a_month_that_is_none_or_was_not_logged_is_refused(
    store: Path, capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    capfdbinary.readouterr()
    assert cli.main(["report", "--month", "September", "--store", str(store)]) == 2
    assert cli.main(["report", "--month", "2026-01", "--store", str(store)]) == 2
    said = capfdbinary.readouterr().err.decode()
    assert "'September' is no month" in said and "nothing was logged by the end of 2026-01" in said


def test_the_calendar_command_needs_no_records(tmp_path: Path, capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    assert cli.main(["calendar", "--store", str(tmp_path / "none"), "--days", "7"]) == 0
    calendar = icalendar.Calendar.from_ical(capfdbinary.readouterr().out)
    assert len(list(calendar.walk("VEVENT"))) > 10
    assert cli.main(["calendar", "--store", str(tmp_path / "none"), "--days", "0"]) == 2
