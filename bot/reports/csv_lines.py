"""Comma-separated values that any program reads and that a spreadsheet only shows."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
"""A spreadsheet takes a cell that starts like this for a formula (OWASP, "CSV Injection"; list from memory)."""


def csv_lines(fields: Sequence[str], rows: Iterable[Mapping[str, object]]) -> Iterator[str]:
    """A header of all ``fields``, then one record a row, as RFC 4180 lays down; a field that a row lacks is empty.

    Each record ends in CR LF, so write it without newline translation. A text may hold line breaks: then its
    record is more than one line. Raises ``ValueError`` for a row with a field that isn't in ``fields``.
    """
    line = io.StringIO()
    writer = csv.DictWriter(line, fields, restval="", lineterminator="\r\n")
    writer.writeheader()
    yield line.getvalue()
    for row in rows:
        line.seek(0)
        line.truncate()
        writer.writerow({name: _cell(value) for name, value in row.items()})
        yield line.getvalue()


def _cell(value: object) -> object:
    match value:
        case None:
            return ""
        case bool():
            return "true" if value else "false"
        case str() if value.startswith(FORMULA_STARTS):
            # Anyone in the crew writes notes; opened by a manager, "=..." would run. Numbers stay numbers: a
            # temperature below zero starts with a minus too, and cannot run.
            return f"'{value}"
        case _:
            return value
