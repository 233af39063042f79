"""``vatside listen``: sound files to what the helper would make of them."""

from __future__ import annotations

import argparse

from bot.channels.errors import UsageError


def run(args: argparse.Namespace) -> int:
    """Not before the extra ``voice`` brings something to listen with."""
    raise UsageError("listen", None, "this version can't listen yet", "type the words to 'vatside understand'")
