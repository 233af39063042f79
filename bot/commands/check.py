"""``vatside check``: the kitchen file, the phrase books and the guides, the kitchen's own among them."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from bot.commands.loading import kitchen_of, understander_of
from bot.content.check import check
from bot.content.findings import Finding, collected
from bot.content.own_guides import overrides, own_guides
from bot.content.own_phrases import own_phrases, phrases_check
from bot.content.places import demo_folder
from intents.understander import Understander


def _own_phrases(file: Path | None) -> list[Finding]:
    folder = own_phrases(file)
    if folder is None or not folder.is_dir():
        return []
    kitchen = None
    with collected([]):
        # A faulty kitchen file is reported already; its phrases are then looked at without its fryers' names.
        kitchen = kitchen_of(file)
    understander = understander_of(kitchen, file) if kitchen is not None else Understander.load()
    return phrases_check(folder, understander)


def run(args: argparse.Namespace) -> int:
    """Print every fault; 1 if there is any."""
    own = own_guides(args.kitchen)
    for override in overrides(own):
        sys.stdout.write(f"{override}\n")
    findings = check(args.kitchen if args.kitchen is not None else demo_folder() / "kitchen.toml", guides=own)
    findings += _own_phrases(args.kitchen)
    for finding in findings:
        sys.stdout.write(f"{finding}\n")
    if not findings:
        sys.stdout.write("No faults found.\n")
    return 1 if findings else 0
