"""``vatside check``: the kitchen file, the phrase books and the guides."""

from __future__ import annotations

import argparse
import sys

from bot.content.check import check
from bot.content.own_guides import overrides, own_guides
from bot.content.places import demo_folder


def run(args: argparse.Namespace) -> int:
    """Print every fault; 1 if there is any."""
    own = own_guides(args.kitchen)
    for override in overrides(own):
        sys.stdout.write(f"{override}\n")
    findings = check(args.kitchen if args.kitchen is not None else demo_folder() / "kitchen.toml", guides=own)
    for finding in findings:
        sys.stdout.write(f"{finding}\n")
    if not findings:
        sys.stdout.write("No faults found.\n")
    return 1 if findings else 0
