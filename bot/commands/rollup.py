"""``vatside rollup``: one kitchen day of several kitchens side by side."""

from __future__ import annotations

import argparse
import sys
from datetime import date
from json import dumps
from pathlib import Path

from bot.app import clock
from bot.channels.errors import UsageError
from bot.commands.dates import day_written
from bot.commands.loading import kitchen_of, slug, store_of
from bot.commands.summary import state_for
from bot.content.catalogue import load_content
from bot.core.kitchen import Kitchen
from bot.core.messages import Words
from bot.reports import side_by_side
from bot.reports.side_by_side import KitchenDay


def run(args: argparse.Namespace) -> int:
    """Judge the day of each kitchen as of now, or as of its last record where that is later, and print them."""
    day = day_written("--on", args.on)
    kitchens = [kitchen_of(file) for file in args.kitchen]
    found = [one for kitchen in kitchens if (one := _day_of(kitchen, args.store, day)) is not None]
    if not found:
        raise UsageError("--on", None, f"none of these kitchens has a record of {day}", "give another date")
    if args.format == "json":
        sys.stdout.write(dumps(side_by_side.as_json(found, day), ensure_ascii=False, indent=2) + "\n")
        return 0
    wording, now = load_content().wording, clock()
    language = args.language or kitchens[0].language

    def say(words: Words) -> str:
        return wording.render(words, language, kitchens[0], now)

    if args.format == "png":
        on = say(Words("picture.date", {"on": day}))
        sys.stdout.buffer.write(side_by_side.picture(found, on, say))
    else:
        sys.stdout.writelines(f"{say(words)}\n" for words in side_by_side.lines(found, day))
    return 0


def _day_of(kitchen: Kitchen, store: Path | None, day: date) -> KitchenDay | None:
    # Records of several kitchens lie side by side below one folder, as ``serve`` keeps them.
    folder = store_of(None, kitchen) if store is None else store / slug(kitchen.name)
    state = state_for(folder, day)
    as_of = max(clock(), state.at) if state.at is not None else clock()
    return side_by_side.kitchen_day(kitchen.name, state, day, as_of)
