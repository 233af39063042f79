"""``vatside forget``: take a person out of the records, which keep what was done."""

from __future__ import annotations

import argparse
import sys

from bot.app import clock
from bot.channels.errors import UsageError
from bot.commands.loading import kitchen_of, store_of
from bot.core.state import FOLD_VERSION
from bot.store.forgetting import forget
from bot.store.history import HISTORY_NAME


def run(args: argparse.Namespace) -> int:
    """Forget the person and say what is left to do by hand."""
    kitchen = kitchen_of(args.kitchen)
    folder = store_of(args.store, kitchen)
    if not (folder / HISTORY_NAME).exists():
        raise UsageError("--store", None, f"{folder} holds no records", "check the name of the records folder")
    person = kitchen.person(args.person)
    names = (person.name,) if person is not None else ()
    taken = [p.id for p in kitchen.people]
    done = forget(folder, args.person, names, taken, clock(), fold_version=FOLD_VERSION)
    if done is None:
        raise UsageError("PERSON", None, f"the records hold nothing of {args.person!r}", "give the person's id")
    sys.stdout.write(f"{args.person} is now {done.token} in {done.turns} turns\n")
    for name in done.removed:
        sys.stdout.write(f"{name}: removed, since it may name them\n")
    if person is not None:
        sys.stdout.write("now take the person out of the kitchen file; backups made before still name them\n")
    else:
        sys.stdout.write("no name is known for them, so none was looked for in old messages; backups still name them\n")
    return 0
