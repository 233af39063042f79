"""``vatside report``: a month's duties for an inspector."""

from __future__ import annotations

import argparse
import sys
from datetime import date

from bot.app import clock
from bot.channels.errors import UsageError
from bot.commands.dates import month_written
from bot.commands.loading import kitchen_now, kitchen_of, records_of, store_of
from bot.content.catalogue import load_content
from bot.core.kitchen import Kitchen
from bot.core.messages import Words
from bot.core.state import State
from bot.reports.csv_lines import csv_lines
from bot.reports.month import FIELDS, MonthReport, month_report, rows
from bot.store import Records


def run(args: argparse.Namespace) -> int:
    """Write the report of one month to standard output."""
    kitchen = kitchen_of(args.kitchen)
    month = month_written("--month", args.month)
    if args.format == "pdf" and sys.stdout.isatty():
        raise UsageError("--format", None, "a terminal can't show a PDF", "send it to a file: > report.pdf")
    records = records_of(store_of(args.store, kitchen))
    kitchen = kitchen_now(kitchen, records.state)
    report = _report(records, month)
    if args.format == "csv":
        sys.stdout.writelines(csv_lines(FIELDS, rows(report)))
    else:
        sys.stdout.buffer.write(_pdf(report, kitchen, args.language or kitchen.language))
    return 0


def _report(records: Records[State], month: date) -> MonthReport:
    as_of = max(clock(), records.state.at) if records.state.at is not None else clock()
    report = month_report(records.turns(), month, as_of)
    if report is None:
        raise UsageError("--month", None, f"nothing was logged by the end of {month:%Y-%m}", "give a later month")
    return report


def _pdf(report: MonthReport, kitchen: Kitchen, language: str) -> bytes:
    # Only here, for it takes a while to load and no other command needs it.
    from bot.reports.month_pdf import as_pdf

    wording = load_content().wording

    def say(words: Words) -> str:
        return wording.render(words, language, kitchen, report.as_of)

    def name(person: str | None) -> str:
        found = kitchen.person(person) if person is not None else None
        return found.name if found is not None else say(Words("person.gone"))

    return as_pdf(report, kitchen.timezone, say, name)
