"""``vatside operate``: what whoever runs the helper may want of it while it runs."""

from __future__ import annotations

import argparse
import sys

from bot.channels.errors import UsageError
from bot.channels.telegram.control import NobodyThereError, Order, ask
from bot.commands.loading import kitchen_of, store_of


def run(args: argparse.Namespace) -> int:
    """Pass one order on, and print what became of it."""
    folder = store_of(args.store, kitchen_of(args.kitchen))
    order = Order(args.what, minutes=getattr(args, "minutes", 0), text=getattr(args, "text", ""))
    try:
        answer = ask(folder, order)
    except NobodyThereError:
        problem = "no running 'vatside serve' answers on these records"
        raise UsageError(str(folder), None, problem, "start it, or name the right --kitchen and --store") from None
    out = sys.stdout if answer.done else sys.stderr
    out.write("\n".join(answer.lines) + "\n")
    return 0 if answer.done else 2
