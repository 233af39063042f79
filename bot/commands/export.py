"""``vatside export``: everything that was logged."""

from __future__ import annotations

import argparse
import sys

from bot.commands.loading import kitchen_of, records_of, store_of
from bot.reports.export import as_csv, as_jsonl, rows


def run(args: argparse.Namespace) -> int:
    """Print the log, oldest first."""
    kitchen = kitchen_of(args.kitchen)
    records = records_of(store_of(args.store, kitchen))
    rules = records.state.current_rules()
    found = rows(records.turns(), rules.timezone if rules is not None else kitchen.timezone)
    if args.person is not None:
        found = (row for row in found if row.get("by") == args.person)
    write = as_csv if args.format == "csv" else as_jsonl
    for line in write(found):
        sys.stdout.write(line)
    return 0
