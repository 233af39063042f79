"""``vatside replay``: a script on a virtual clock."""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from json import dumps
from pathlib import Path
from zoneinfo import ZoneInfo

from bot.app import Helper
from bot.channels.errors import UsageError
from bot.channels.printing import Printer, file_name
from bot.channels.replay import Replay
from bot.channels.script import Line, read_script, read_time
from bot.commands.hearing_files import listening
from bot.commands.loading import kitchen_of, opener
from bot.core.kitchen import Kitchen
from bot.core.records import Outgoing


def run(args: argparse.Namespace) -> int:
    """Replay a script and print what the helper says."""
    kitchen = kitchen_of(args.kitchen)
    until = _until(args.until)
    with store_folder(args.store) as folder:
        play(args.script, kitchen, opener(kitchen, folder, args.kitchen), until, as_json=args.json)
    return 0


def play(
    script: Path, kitchen: Kitchen, opens: Callable[[datetime], Helper], until: datetime | None, as_json: bool
) -> None:
    """Replay a script with the helper that ``opens`` gives. Raises ``UsageError`` and ``StoreError``."""
    replay = Replay(script, read_script(script, kitchen), opens, listening(kitchen))
    printer = Printer(kitchen, sys.stdout.write, sys.stdout.isatty())
    zone = ZoneInfo(kitchen.timezone)
    try:
        for happening in replay.messages(until):
            if isinstance(happening, Outgoing):
                if as_json:
                    sys.stdout.write(dumps(as_object(happening, zone), ensure_ascii=False) + "\n")
                else:
                    printer.message(happening)
            elif isinstance(happening, Line) and not as_json:
                printer.line(happening)
            sys.stdout.flush()
    finally:
        if replay.helper is not None:
            replay.helper.close()


def as_object(message: Outgoing, zone: ZoneInfo) -> dict[str, object]:
    """A message as the contract of ``replay --json`` has it."""
    return {
        "at": message.at.astimezone(zone).isoformat(),
        "to": message.to,
        "kind": message.kind,
        "text": message.text,
        "buttons": [button.label for button in message.buttons],
        "edit": message.edit,
        "files": [file_name(file.on, file.name) for file in message.files],
    }


@contextmanager
def store_folder(given: Path | None) -> Iterator[Path]:
    """The store's folder: the one given, or a fresh one that is gone afterwards."""
    if given is not None:
        yield given
        return
    with tempfile.TemporaryDirectory(prefix="vatside-") as folder:
        yield Path(folder)


def _until(written: str | None) -> datetime | None:
    if written is None:
        return None
    try:
        return read_time(written)
    except ValueError:
        raise UsageError(
            "--until", None, f"{written!r} is no time with an offset", 'write it as "2026-09-15T23:59:00-04:00"'
        ) from None
