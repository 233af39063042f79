"""Everything that was logged, as one flat record each, for other programs."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from bot.core import records as r
from bot.reports.csv_lines import csv_lines

Row = dict[str, Any]

FIELDS = (
    "kind", "logged_at", "by", "duty", "fryer", "done_at", "due_at", "status", "undone", "what", "value", "unit",
    "amount", "part", "started_at", "ends_at", "ended", "worked", "from", "to", "text", "language", "evidence",
    "person", "role",
    "false_alarm", "over_at",
)  # fmt: skip
"""Every field that a record of any kind may have, in the order of the columns."""


def rows(turns: Iterable[r.Turn], zone: str) -> Iterator[Row]:
    """One record for each entry of the log, oldest first, with instants in the kitchen's offset (ISO 8601).

    An instant is written as exactly as it was judged. All turns are read before the first record is given: what
    comes later may take an entry back, or end a wait or an outage. Raises ``ZoneInfoNotFoundError``.
    """
    local = ZoneInfo(zone)
    log = _Log()
    for turn in turns:
        for change in turn.changes:
            log.take(change, turn.at)
    for row in sorted(log.rows, key=lambda row: row["logged_at"]):
        yield {
            name: value.astimezone(local).isoformat() if isinstance(value, datetime) else value
            for name, value in row.items()
        }


def as_jsonl(records: Iterable[Row]) -> Iterator[str]:
    """One JSON object a line."""
    for record in records:
        yield json.dumps(record, ensure_ascii=False) + "\n"


def as_csv(records: Iterable[Row]) -> Iterator[str]:
    """One table for all kinds of records; see ``csv_lines`` for its ends of line."""
    return csv_lines(FIELDS, records)


class _Log:
    """The records so far, and which of them later changes may still touch."""

    def __init__(self) -> None:
        self.rows: list[Row] = []
        self._entries: dict[int, Row] = {}
        self._waiting: dict[tuple[str, str], Row] = {}
        self._down: dict[str, list[Row]] = {}
        self._cries: dict[tuple[datetime, str, str], Row] = {}
        self._back: dict[int, tuple[str, list[Row]]] = {}

    def take(self, change: r.Change, at: datetime) -> None:
        match change:
            case r.Confirmed():
                self._add_entry("confirmation", at, change, "duty", "fryer", "done_at", "due_at", "status")
                self.rows[-1]["undone"] = False
            case r.ReadingTaken():
                self._add_entry("reading", at, change, "what", "fryer", "value", "unit")
            case r.DropsCounted():
                self._add_entry("drops", at, change, "fryer", "amount")
            case r.StockCounted():
                row = self._add_entry("stock", at, change)
                row |= {"what": change.item, "amount": change.count}
            case r.NoteLeft():
                self._add_entry("note", at, change, "text")
            case r.OutageBegan():
                row = self._add_entry("outage", at, change, "fryer")
                row |= {"from": at, "to": None}
                self._down.setdefault(change.fryer, []).append(row)
            case r.OutageEnded():
                ended = self._down.pop(change.fryer, [])
                for row in ended:
                    row["to"] = at
                self._back[change.entry] = (change.fryer, ended)
            case r.EvidenceKept():
                # Several photos of one record stand beside each other; no name has a space in it.
                shown = self._entries.get(change.entry)
                if shown is not None:
                    shown["evidence"] = " ".join(filter(None, (shown.get("evidence"), change.file)))
            case r.Undone():
                self._undo(change.entry)
            case r.Rejudged():
                self._entries[change.entry] |= {"due_at": change.due_at, "status": change.status}
            case r.WaitStarted():
                row = self._add("wait", at, change, "fryer", "part")
                row |= {"started_at": at, "ends_at": change.ends_at, "ended": None}
                self._waiting[change.fryer, change.part] = row
            case r.WaitEnded():
                waiting = self._waiting.pop((change.fryer, change.part), None)
                if waiting is not None:
                    waiting["ended"] = change.how
            case r.ResetTried():
                self._add("reset", at, change, "fryer", "part", "worked")
            case r.IncidentReported():
                row = self._add("incident", at, change, "what")
                self._cries[at, change.what, change.by] = row
            case r.AlarmCalledOff():
                for reported in change.reported_at:
                    row = self._cries.get((reported, change.what, change.raised_by), {})
                    row["false_alarm"] = True
            case r.IncidentFollowedUp():
                row = self._cries.get((change.reported_at, change.what, change.raised_by), {})
                row["over_at"] = at if change.over else None
            case r.QuestionUnanswered():
                self._add("question", at, change, "text", "language")
            case r.PersonJoined():
                self._about_a_person("joined", at, change.person, change.person, change.role)
            case r.PersonLeft():
                self._about_a_person("left", at, change.by, change.person)
            case r.PhoneLost():
                self._about_a_person("phone_lost", at, change.by, change.person)
            case r.RoleChanged():
                self._about_a_person("role", at, change.by, change.person, change.role)
            case r.AgeSet():
                what = "under_16" if change.under_16 else "not_under_16"
                self._about_a_person(what, at, change.by, change.person)
            case _:
                pass

    def _about_a_person(self, what: str, at: datetime, by: str | None, person: str, role: str | None = None) -> None:
        row = {"kind": "person", "logged_at": at, "by": by, "what": what, "person": person, "role": role}
        self.rows.append(row)

    def _add(self, kind: str, at: datetime, change: Any, *fields: str) -> Row:
        row = {"kind": kind, "logged_at": at, "by": change.by, **{name: getattr(change, name) for name in fields}}
        self.rows.append(row)
        return row

    def _add_entry(self, kind: str, at: datetime, change: Any, *fields: str) -> Row:
        row = self._entries[change.entry] = self._add(kind, at, change, *fields)
        return row

    def _undo(self, entry: int) -> None:
        if entry in self._back:
            fryer, ended = self._back.pop(entry)
            for row in ended:
                row["to"] = None
            self._down.setdefault(fryer, []).extend(row for row in ended if not row.get("undone"))
        elif entry in self._entries:
            row = self._entries[entry]
            row["undone"] = True
            if row["kind"] == "outage":
                self._down[row["fryer"]] = [other for other in self._down.get(row["fryer"], []) if other is not row]
