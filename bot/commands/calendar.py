"""``vatside calendar``: coming duties for a calendar program."""

from __future__ import annotations

import argparse
import sys

from bot.app import clock
from bot.channels.errors import UsageError
from bot.commands.loading import kitchen_of, records_of, store_of
from bot.content.catalogue import load_content
from bot.core.coming import coming
from bot.core.messages import Words
from bot.core.records import RulesTookEffect, Turn
from bot.core.scene import Scene, rules_of
from bot.core.state import State
from bot.reports.calendar import as_calendar

MOST_DAYS = 366


def run(args: argparse.Namespace) -> int:
    """Write an iCalendar of the coming days to standard output."""
    kitchen = kitchen_of(args.kitchen)
    if not 1 <= args.days <= MOST_DAYS:
        raise UsageError("--days", None, f"{args.days} is out of range", f"give a number from 1 to {MOST_DAYS}")
    now = clock()
    folder = store_of(args.store, kitchen)
    state = records_of(folder).state if folder.exists() else State()
    if state.current_rules() is None:
        # Nothing is logged yet: the kitchen file alone says what comes.
        state.apply(Turn(1, now, (RulesTookEffect(rules_of(kitchen)),)))
    content = load_content()
    language = args.language or kitchen.language

    def say(words: Words) -> str:
        return content.wording.render(words, language, kitchen, now)

    scene = Scene(kitchen, content.library, state, now)
    sys.stdout.buffer.write(as_calendar(kitchen.name, coming(scene, args.days), now, say))
    return 0
