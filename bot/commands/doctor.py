"""``vatside doctor``: look over the records, and put right what can be."""

from __future__ import annotations

import argparse
import sys

from bot.commands.loading import kitchen_of, store_of
from bot.core.state import FOLD_VERSION
from bot.store.doctor import look_over


def run(args: argparse.Namespace) -> int:
    """Say what was wrong and what was done, a line each."""
    folder = store_of(args.store, kitchen_of(args.kitchen))
    report = look_over(folder, FOLD_VERSION)
    for fault in report.faults:
        sys.stdout.write(f"{fault}\n")
    state = f"{len(report.faults)} faults" if report.faults else "no fault"
    sys.stdout.write(f"{folder}: {report.turns} turns, {state}\n")
    return 1 if report.faults else 0
