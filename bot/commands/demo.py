"""``vatside demo``: a busy evening of the demo kitchen, and how to go on."""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

import msgspec

from bot.channels.script import read_script, read_time
from bot.commands.loading import kitchen_of, opener
from bot.commands.replay import play, store_folder
from bot.content.places import demo_folder
from bot.core.records import OutFile

NIGHT = "2026-09-16T00:30:00-04:00"
"""When the evening is over."""

GO_ON = """
That was one evening of {kitchen}, on a virtual clock. Nothing was sent anywhere.
The manager's picture is here: {picture}

How to go on:
  vatside chat                    talk to the demo kitchen's helper yourself
  vatside setup kitchen.toml      describe your own kitchen by answering a few questions
  vatside serve --kitchen FILE    run it for your crew on Telegram (see the README, "Going live")
"""


def run(args: argparse.Namespace) -> int:
    """Play the evening, save the summary's picture, and say what comes next."""
    kitchen = kitchen_of(None)
    if args.language is not None:
        kitchen = msgspec.structs.replace(kitchen, language=args.language)
    script = demo_folder() / "evening.jsonl"
    with store_folder(args.store) as folder:
        opens = opener(kitchen, folder)
        play(script, kitchen, opens, read_time(NIGHT), as_json=False)
        last = read_script(script, kitchen)[-1].at
        helper = opens(read_time(NIGHT))
        try:
            wanted = OutFile("summary_picture", on=last.date())
            managers = kitchen.with_role("manager")
            drawn = helper.file(wanted, managers[0].id)
        finally:
            helper.close()
    with tempfile.NamedTemporaryFile(prefix="vatside-summary-", suffix=".png", delete=False) as file:
        file.write(drawn or b"")
    sys.stdout.write(GO_ON.format(kitchen=kitchen.name, picture=Path(file.name)))
    return 0
