"""``vatside summary``: the compliance summary of one kitchen day."""

from __future__ import annotations

import argparse
import sys
from datetime import date, datetime, timedelta
from json import dumps
from pathlib import Path

from bot.app import clock
from bot.channels.errors import UsageError
from bot.commands.dates import day_written
from bot.commands.loading import kitchen_now, kitchen_of, records_of, store_of
from bot.content.catalogue import load_content
from bot.core.compliance import judge_day
from bot.core.kitchen import Kitchen
from bot.core.records import OutFile
from bot.core.scene import Scene
from bot.core.state import KEEP, State
from bot.core.summary import summary
from bot.reports import summary as reports
from bot.reports.attachments import attachment

MARGIN = timedelta(days=30)
"""Before the asked day the log must reach back this far for the picture's strip of 28 days."""


def run(args: argparse.Namespace) -> int:
    """Judge the day as of now, or as of the last record where that is later, and print it."""
    kitchen = kitchen_of(args.kitchen)
    day = day_written("--on", args.on)
    state = state_for(store_of(args.store, kitchen), day)
    kitchen = kitchen_now(kitchen, state)
    as_of = max(clock(), state.at) if state.at is not None else clock()
    report = judge_day(state, day, as_of)
    if report is None:
        raise UsageError("--on", None, f"the log began after {day}", "give a later date")
    if args.format == "json":
        sys.stdout.write(dumps(reports.as_json(state, day, as_of), ensure_ascii=False, indent=2) + "\n")
    elif args.format == "csv":
        sys.stdout.write(reports.as_csv(state, day, as_of))
    elif args.format == "png":
        sys.stdout.buffer.write(_picture(state, kitchen, day, as_of))
    else:
        scene = Scene(kitchen, load_content().library, state, as_of)
        wording = load_content().wording
        for words in summary(scene, report):
            sys.stdout.write(wording.render(words, kitchen.language, kitchen, as_of) + "\n")
    return 0


def state_for(folder: Path, day: date) -> State:
    """A state that holds the log of that day: the present one, or the whole history folded where it is older."""
    records = records_of(folder)
    state = records.state
    if state.at is not None and state.at.date() - day < KEEP - MARGIN:
        return state
    whole = State()
    for turn in records.turns():
        whole.apply(turn, keep=None)
    return whole


def _picture(state: State, kitchen: Kitchen, day: date, as_of: datetime) -> bytes:
    wanted = OutFile("summary_picture", on=day)
    drawn = attachment(wanted, state, as_of, load_content(), kitchen, kitchen.language)
    if drawn is None:
        raise UsageError("--on", None, f"there is nothing to draw for {day}", "give another date")
    return drawn
