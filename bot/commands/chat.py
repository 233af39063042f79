"""``vatside chat``: the helper in the terminal, on the real clock."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from bot.app import clock
from bot.channels import terminal
from bot.channels.errors import UsageError
from bot.commands.loading import kitchen_of, opener, store_of
from bot.core.kitchen import Kitchen, Person


def run(args: argparse.Namespace) -> int:
    """Talk until the person leaves."""
    kitchen = kitchen_of(args.kitchen)
    person = _person(kitchen, args.person)
    folder: Path = store_of(args.store, kitchen)
    helper = opener(kitchen, folder, args.kitchen, watch=True)(clock())
    try:
        if helper.recovered is not None:
            sys.stderr.write(helper.recovered + "\n")
        terminal.chat(helper, person, clock, folder / "typed", sys.stdout.isatty())
    finally:
        helper.close()
    return 0


def _person(kitchen: Kitchen, wanted: str | None) -> Person:
    if wanted is None:
        return kitchen.people[0]
    person = kitchen.person(wanted)
    if person is None:
        known = ", ".join(p.id for p in kitchen.people)
        raise UsageError("--as", None, f"nobody of this kitchen is {wanted!r}", f"use one of {known}")
    return person
