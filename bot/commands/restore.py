"""``vatside restore``: a folder of records from a backup."""

from __future__ import annotations

import argparse
import sys

from bot.store.backup import restore


def run(args: argparse.Namespace) -> int:
    """Put the records of a backup into an empty folder."""
    contents = restore(args.file, args.store)
    sys.stdout.write(f"{args.store}: {contents.turns} turns up to number {contents.last}, checked before and after\n")
    return 0
