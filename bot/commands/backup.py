"""``vatside backup``: everything in the records, in one file."""

from __future__ import annotations

import argparse
import sys

from bot.commands.loading import kitchen_of, store_of
from bot.store.backup import back_up


def run(args: argparse.Namespace) -> int:
    """Write the backup and say what is in it."""
    contents = back_up(store_of(args.store, kitchen_of(args.kitchen)), args.file)
    photos = sum(member.name.startswith("evidence/") for member in contents.files)
    sys.stdout.write(f"{args.file}: {contents.turns} turns up to number {contents.last}, {photos} photos\n")
    return 0
