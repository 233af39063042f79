"""``vatside forget``: take a person out of the records, which keep what was done."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable
from pathlib import Path

from bot.app import clock
from bot.channels.errors import UsageError
from bot.commands.loading import kitchen_of, records_of, store_of
from bot.content.own_phrases import own_phrases, without_names
from bot.core.state import FOLD_VERSION
from bot.store.files import Files, replace_file
from bot.store.forgetting import forget
from bot.store.history import HISTORY_NAME
from intents.fitted import drop_own_fits


def run(args: argparse.Namespace) -> int:
    """Forget the person and say what is left to do by hand."""
    kitchen = kitchen_of(args.kitchen)
    folder = store_of(args.store, kitchen)
    if not (folder / HISTORY_NAME).exists():
        raise UsageError("--store", None, f"{folder} holds no records", "check the name of the records folder")
    membership = records_of(folder).state.membership
    person = kitchen.person(args.person)
    joined = membership.joined.get(args.person)
    names = (person.name,) if person is not None else ()
    taken = [*(p.id for p in kitchen.people), *membership.joined, *membership.left]
    called = {*names, *([joined.name] if joined is not None else [])}
    done = forget(folder, args.person, names, taken, clock(), fold_version=FOLD_VERSION)
    rid = _out_of_phrases(args.kitchen, called, person.telegram if person is not None else None)
    for path in rid:
        sys.stdout.write(f"{path}: phrases that name them are taken out\n")
    if done is None and rid:
        return 0
    if done is None:
        raise UsageError("PERSON", None, f"the records hold nothing of {args.person!r}", "give the person's id")
    sys.stdout.write(f"{args.person} is now {done.token} in {done.turns} turns\n")
    for name in done.removed:
        sys.stdout.write(f"{name}: removed, since it may name them\n")
    if person is not None:
        sys.stdout.write("now take the person out of the kitchen file; backups made before still name them\n")
    elif joined is not None:
        sys.stdout.write("they are out of the kitchen now; backups made before still name them\n")
    else:
        sys.stdout.write("no name is known for them, so none was looked for in old messages; backups still name them\n")
    return 0


def _out_of_phrases(kitchen_file: Path | None, names: Iterable[str], phone: int | None) -> list[Path]:
    """Take the phrases out of the kitchen's own files that name somebody or give their number; the files changed."""
    folder = own_phrases(kitchen_file)
    if folder is None or not folder.is_dir():
        return []
    said = [*names, *([str(phone)] if phone is not None else [])]
    changed = []
    for path in sorted(folder.rglob("*.txt")):
        before = path.read_bytes()
        after = without_names(before, said)
        if after != before:
            replace_file(Files(), path, [after])
            changed.append(path)
    drop_own_fits()
    return changed
