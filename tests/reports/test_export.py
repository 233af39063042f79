"""Records for other programs: every kind with the fields that the contract names, oldest first."""

from __future__ import annotations

import csv
import io
import json
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given, strategies as st

from bot.core import records as r
from bot.reports.csv_lines import csv_lines
from bot.reports.export import FIELDS, as_csv, as_jsonl, rows

ZONE = "America/New_York"
T0 = datetime(2026, 9, 15, 20, 0, tzinfo=UTC)


def at(minutes: float) -> datetime:
    return T0 + timedelta(minutes=minutes)


def exported(*changes: tuple[float, r.Change], zone: str = ZONE) -> list[dict[str, Any]]:
    """The records of a history with one turn for each change, at so many minutes."""
    return list(rows((r.Turn(n, at(m), (change,)) for n, (m, change) in enumerate(changes, 1)), zone))


CONFIRMED = r.Confirmed(1, "pad_change", "2", at(-5), at(-30), "on_time", "ben")


def test_a_confirmation_has_the_fields_of_the_contract_with_the_kitchens_offset() -> None:
    assert exported((0, CONFIRMED)) == [
        {
            "kind": "confirmation",
            "logged_at": "2026-09-15T16:00:00-04:00",
            "by": "ben",
            "duty": "pad_change",
            "fryer": "2",
            "done_at": "2026-09-15T15:55:00-04:00",
            "due_at": "2026-09-15T15:30:00-04:00",
            "status": "on_time",
            "undone": False,
        }
    ]


def test_a_confirmation_for_the_whole_kitchen_that_closes_nothing_has_nulls() -> None:
    [record] = exported((0, r.Confirmed(1, "hood_filters", None, at(0), None, "unscheduled", "ben")))
    assert (record["fryer"], record["due_at"], record["status"]) == (None, None, "unscheduled")


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (
            r.ReadingTaken(1, "oil_test", "1", 18.5, "percent", "ben"),
            {"kind": "reading", "what": "oil_test", "fryer": "1", "value": 18.5, "unit": "percent"},
        ),
        (r.DropsCounted(1, "1", 12, "ben"), {"kind": "drops", "fryer": "1", "amount": 12}),
        (r.NoteLeft(1, "el gancho está flojo", "ben"), {"kind": "note", "text": "el gancho está flojo"}),
        (
            r.ResetTried("1", "pump", True, "ben"),
            {"kind": "reset", "fryer": "1", "part": "pump", "worked": True},
        ),
        (r.IncidentReported("burn", "ben", "crew"), {"kind": "incident", "what": "burn"}),
        (
            r.QuestionUnanswered("¿abre mañana?", "es", "ben"),
            {"kind": "question", "text": "¿abre mañana?", "language": "es"},
        ),
    ],
)
def test_every_other_kind_has_exactly_the_fields_of_the_contract(change: r.Change, expected: dict[str, Any]) -> None:
    assert exported((0, change)) == [{**expected, "logged_at": "2026-09-15T16:00:00-04:00", "by": "ben"}]


def test_a_wait_that_runs_has_no_end_yet() -> None:
    assert exported((0, r.WaitStarted("1", "pump", at(30), "ben", "ben"))) == [
        {
            "kind": "wait",
            "logged_at": "2026-09-15T16:00:00-04:00",
            "by": "ben",
            "fryer": "1",
            "part": "pump",
            "started_at": "2026-09-15T16:00:00-04:00",
            "ends_at": "2026-09-15T16:30:00-04:00",
            "ended": None,
        }
    ]


def test_a_wait_ends_in_its_own_record_and_in_no_other() -> None:
    records = exported(
        (0, r.WaitStarted("1", "pump", at(30), "ben", "ben")),
        (1, r.WaitStarted("1", "high_limit", at(31), "ben", "ben")),
        (2, r.WaitEnded("1", "pump", "cancelled", "ben")),
        (3, r.WaitStarted("1", "pump", at(33), "ben", "ben")),
        (33, r.WaitEnded("1", "pump", "finished")),
    )
    assert [(w["part"], w["ended"]) for w in records] == [
        ("pump", "cancelled"),
        ("high_limit", None),
        ("pump", "finished"),
    ]


def test_an_outage_is_one_record_from_its_beginning_to_its_end() -> None:
    [record] = exported((0, r.OutageBegan(1, "2", "ben")), (90, r.OutageEnded(2, "2", "maya")))
    assert record == {
        "kind": "outage",
        "logged_at": "2026-09-15T16:00:00-04:00",
        "by": "ben",
        "fryer": "2",
        "from": "2026-09-15T16:00:00-04:00",
        "to": "2026-09-15T17:30:00-04:00",
    }


def test_an_outage_that_lasts_has_no_end() -> None:
    assert exported((0, r.OutageBegan(1, "2", "ben")))[0]["to"] is None


def test_taking_back_the_end_of_an_outage_lets_it_last_until_the_next_end() -> None:
    history: list[tuple[float, r.Change]] = [
        (0, r.OutageBegan(1, "2", "ben")),
        (10, r.OutageEnded(2, "2", "ben")),
        (11, r.Undone(2, "ben")),
    ]
    assert exported(*history)[0]["to"] is None
    [record] = exported(*history, (60, r.OutageEnded(3, "2", "ben")))
    assert record["to"] == "2026-09-15T17:00:00-04:00"


def test_an_outage_that_was_taken_back_is_marked_and_does_not_swallow_the_next() -> None:
    records = exported(
        (0, r.OutageBegan(1, "2", "ben")),
        (1, r.Undone(1, "ben")),
        (20, r.OutageBegan(2, "2", "ben")),
        (50, r.OutageEnded(3, "2", "ben")),
    )
    assert [(o.get("undone"), o["to"]) for o in records] == [(True, None), (None, "2026-09-15T16:50:00-04:00")]


@pytest.mark.parametrize(
    "change",
    [
        r.ReadingTaken(1, "temperature", "1", 350.0, "F", "ben"),
        r.DropsCounted(1, "1", 2, "ben"),
        r.NoteLeft(1, "x", "ben"),
        r.OutageBegan(1, "1", "ben"),
    ],
)
def test_an_entry_that_was_taken_back_says_so_and_one_that_stands_has_no_such_field(change: r.Change) -> None:
    assert exported((0, change), (1, r.Undone(1, "ben")))[0]["undone"] is True
    assert "undone" not in exported((0, change))[0]


def test_a_confirmation_always_says_whether_it_was_taken_back() -> None:
    assert exported((0, CONFIRMED), (1, r.Undone(1, "ben")))[0]["undone"] is True


def test_what_the_helper_keeps_for_itself_is_not_exported() -> None:
    assert exported((0, r.Told(("x",))), (1, r.DayEnded(date(2026, 9, 15))), (2, r.Delivered(1))) == []


def test_an_instant_keeps_its_fraction_of_a_second_so_that_it_agrees_with_the_verdict() -> None:
    [record] = exported((0.01, r.NoteLeft(1, "x", "ben")))
    assert datetime.fromisoformat(record["logged_at"]) == at(0.01)


def test_offsets_follow_the_clock_changes() -> None:
    """New York goes back to standard time on 2026-11-01 at 06:00 UTC (IANA time zone database)."""
    before, after = datetime(2026, 11, 1, 5, 30, tzinfo=UTC), datetime(2026, 11, 1, 6, 30, tzinfo=UTC)
    turns = [r.Turn(n, t, (r.NoteLeft(n, "x", "ben"),)) for n, t in ((1, before), (2, after))]
    assert [n["logged_at"] for n in rows(turns, ZONE)] == [
        "2026-11-01T01:30:00-04:00",
        "2026-11-01T01:30:00-05:00",
    ]


@given(st.lists(st.integers(0, 10_000), max_size=20))
def test_records_come_oldest_first(minutes: list[int]) -> None:
    changes = [(m, r.NoteLeft(n, str(n), "ben")) for n, m in enumerate(minutes)]
    logged = [datetime.fromisoformat(record["logged_at"]) for record in exported(*changes)]
    assert logged == sorted(at(m) for m in minutes)


@given(st.text())
def test_a_line_of_json_gives_back_any_text(text: str) -> None:
    [line] = as_jsonl(exported((0, r.NoteLeft(1, text, "ben"))))
    assert line.count("\n") == 1
    assert json.loads(line)["text"] == text


def read_csv(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_csv_has_one_header_with_every_field_and_ends_each_record_in_cr_lf() -> None:
    """RFC 4180, section 2, rules 1 and 3."""
    text = "".join(as_csv(exported((0, CONFIRMED), (1, r.DropsCounted(2, "1", 3, "ben")))))
    lines = text.split("\r\n")
    assert lines[0] == ",".join(FIELDS)
    assert len(lines) == 4
    assert lines[-1] == ""


def test_csv_leaves_out_what_a_record_lacks_and_writes_truth_as_json_does() -> None:
    confirmation, drops = read_csv("".join(as_csv(exported((0, CONFIRMED), (1, r.DropsCounted(2, "1", 3, "ben"))))))
    assert confirmation["undone"] == "false"
    assert confirmation["amount"] == ""
    assert drops["amount"] == "3"


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_csv_takes_the_sting_out_of_a_formula(start: str) -> None:
    [note] = read_csv("".join(as_csv(exported((0, r.NoteLeft(1, f'{start}HYPERLINK("x")', "ben"))))))
    assert note["text"] == f'\'{start}HYPERLINK("x")'


def test_csv_leaves_a_temperature_below_zero_a_number() -> None:
    [reading] = read_csv("".join(as_csv(exported((0, r.ReadingTaken(1, "temperature", "1", -4.0, "F", "ben"))))))
    assert float(reading["value"]) == -4.0


@given(st.text(st.characters(exclude_categories=["Cs"])))
def test_csv_gives_back_any_text_but_for_the_apostrophe(text: str) -> None:
    [note] = read_csv("".join(as_csv(exported((0, r.NoteLeft(1, text, "ben"))))))
    assert note["text"] in (text, f"'{text}")
    assert not note["text"].startswith(("=", "+", "-", "@", "\t", "\r"))


def test_a_field_that_no_column_is_for_is_refused() -> None:
    with pytest.raises(ValueError, match="text"):
        list(csv_lines(("kind",), [{"kind": "note", "text": "x"}]))


@given(st.data())
def test_every_field_of_every_record_has_its_column(data: st.DataObject) -> None:
    """Whatever is logged and taken back, in whatever order."""
    fryer, part = st.sampled_from("12"), st.sampled_from(["pump", "high_limit"])
    number = st.integers(1, 6)
    change = st.one_of(
        st.builds(r.OutageBegan, number, fryer, st.just("ben")),
        st.builds(r.OutageEnded, number, fryer, st.just("ben")),
        st.builds(r.Undone, number, st.just("ben")),
        st.builds(r.NoteLeft, number, st.just("x"), st.just("ben")),
        st.builds(r.WaitStarted, fryer, part, st.just(at(99)), st.just("ben"), st.just("ben")),
        st.builds(r.WaitEnded, fryer, part, st.just("finished")),
    )
    records = exported(*enumerate(data.draw(st.lists(change, max_size=30))))
    assert all(record.keys() <= set(FIELDS) for record in records)
    assert all(o["to"] is None or o["from"] <= o["to"] for o in records if o["kind"] == "outage")
