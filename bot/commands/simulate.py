"""``vatside simulate``: many kitchens with a made-up crew, on a virtual clock, through the whole helper."""

from __future__ import annotations

import argparse
import gc
import os
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from random import Random
from time import process_time
from typing import cast

from bot.app import Helper
from bot.channels.crew import Crew
from bot.commands.loading import kitchen_of, understander_of
from bot.commands.replay import store_folder
from bot.content.catalogue import Content, load_content
from bot.core.calendar import calendar
from bot.core.compliance import judge_day
from bot.core.kitchen import Kitchen
from bot.core.scene import rules_of
from bot.core.statistics import whole_percent
from bot.store.files import Files
from intents.types import Language, Understood
from intents.understander import Understander

FIRST = date(2026, 9, 15)
"""A Tuesday; the day on which every simulation begins."""


JUDGED = ("on_time", "late", "missed")
WIDTH = 40


class UnsyncedFiles(Files):
    """Writes, and leaves it to the system when that reaches the disk: no power is cut here, and no record kept."""

    def sync(self, fd: int) -> None:
        os.fstat(fd)

    def sync_folder(self, path: Path) -> None:
        path.stat()


class Remembering:
    """An understander that is asked each text only once: the crew's phrases are few, and their cost is known."""

    def __init__(self, inner: Understander) -> None:
        self._inner = inner
        self._known: dict[tuple[str, Language | None], Understood] = {}

    def understand(self, text: str, *, language: Language | None = None) -> Understood:
        """What the text means."""
        key = text, language
        if key not in self._known:
            self._known[key] = self._inner.understand(text, language=language)
        return self._known[key]


@dataclass(slots=True)
class Totals:
    """What all kitchens together did; ``seconds`` is the processor time that the helpers and the crew took."""

    kitchen_days: int = 0
    seconds: float = 0.0
    events: int = 0
    ticks: int = 0
    turns: int = 0
    size: int = 0
    verdicts: Counter[str] = field(default_factory=Counter)
    messages: Counter[str] = field(default_factory=Counter)
    private: int = 0
    people: int = 0


def run(args: argparse.Namespace) -> int:
    """Simulate, and print rates and costs."""
    kitchen = kitchen_of(args.kitchen)
    content, understander = load_content(), cast("Understander", Remembering(understander_of(kitchen)))
    totals = Totals()
    # What was loaded stays; without this the collector of garbage looks through all of it again and again.
    gc.collect()
    gc.freeze()
    with store_folder(args.store) as folder:
        for n in range(args.kitchens):
            chance = Random(f"{args.seed}/{n}")
            for _ in simulate(kitchen, content, understander, folder / f"{n + 1:05}", args.days, chance, totals):
                _progress(totals.kitchen_days, args.kitchens * args.days)
    if sys.stderr.isatty():
        sys.stderr.write("\n")
    sys.stdout.write("".join(f"{line}\n" for line in report(totals, args.kitchens, args.days)))
    return 0


def simulate(
    kitchen: Kitchen,
    content: Content,
    understander: Understander,
    folder: Path,
    days: int,
    chance: Random,
    totals: Totals,
) -> Iterator[date]:
    """Let one kitchen's days pass and add what happened to ``totals``; gives each day when it is over."""
    began = datetime.combine(FIRST, kitchen.opens, UTC) - timedelta(days=1)
    start = calendar(rules_of(kitchen)).day_start(FIRST)
    begin = process_time()
    helper = Helper.open(kitchen, content, understander, folder, max(began, start), files=UnsyncedFiles())
    crew = Crew(helper, chance)
    try:
        for day in crew.days(FIRST, days):
            totals.seconds += process_time() - begin
            judged = judge_day(helper.state, day, calendar(rules_of(kitchen)).day_end(day), flagged=False)
            for one in judged.judged if judged is not None else ():
                totals.verdicts[one.verdict] += 1
            totals.kitchen_days += 1
            yield day
            begin = process_time()
        totals.seconds += process_time() - begin
        totals.events += crew.figures.events
        totals.ticks += crew.figures.ticks
        totals.turns += helper.state.seq
        totals.messages += crew.figures.messages
        totals.private += sum(crew.figures.private.values())
        totals.people += len(kitchen.people)
    finally:
        helper.close()
    totals.size += sum(path.stat().st_size for path in folder.glob("history*.jsonl"))


def report(totals: Totals, kitchens: int, days: int) -> Iterator[str]:
    """The figures, a line each."""
    each = totals.kitchen_days or 1
    yield f"{kitchens} kitchens, {days} days each: {totals.kitchen_days:,} kitchen days"
    judged = sum(totals.verdicts[name] for name in JUDGED)
    if judged:
        shares = [f"{name.replace('_', ' ')} {whole_percent(totals.verdicts[name] / judged)} %" for name in JUDGED]
        yield f"duties: {judged:,} judged; {', '.join(shares)}"
    work = (("events", totals.events), ("ticks", totals.ticks), ("turns", totals.turns))
    yield "a kitchen day: " + ", ".join(f"{number / each:.1f} {name}" for name, number in work)
    kinds = ", ".join(f"{kind} {number / each:.1f}" for kind, number in totals.messages.most_common())
    yield f"messages a kitchen day: {kinds}"
    people = max(1, totals.people / max(1, kitchens))
    yield f"routine messages to one person's own chat: {totals.private / each / people:.2f} a day"
    yield f"history: {totals.size / each / 1000:.1f} kB a kitchen day"
    if totals.seconds:
        rate, turn = totals.kitchen_days / totals.seconds, 1e6 * totals.seconds / max(1, totals.turns)
        yield f"speed: {rate:.0f} kitchen days a second, {turn:.0f} µs a turn, not waiting for the disk"


def _progress(done: int, total: int) -> None:
    """A bar on a terminal, and nothing in a file."""
    if sys.stderr.isatty():
        filled = WIDTH * done // total
        sys.stderr.write(f"\r[{'#' * filled}{'.' * (WIDTH - filled)}] {done:,} of {total:,} kitchen days")
        sys.stderr.flush()
