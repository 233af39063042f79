"""What a kitchen costs: ``python -m tests.bench.bench_simulate [--quick]``.

Kitchen days a second on one core with a made-up crew; a tick with nothing due at 100 and at 100,000 duties, as a
ratio; the memory of an idle kitchen beside others that share its content; and the catch-up after 30 days off,
against the same 30 days lived through.
"""

from __future__ import annotations

import argparse
import gc
import sys
import tempfile
import tracemalloc
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random
from time import perf_counter
from typing import cast

from msgspec.structs import replace

from bot.app import Helper
from bot.commands.loading import kitchen_of, understander_of
from bot.commands.simulate import Remembering, Totals, UnsyncedFiles, report, simulate
from bot.content.catalogue import Content, load_content
from bot.core.kitchen import Kitchen
from intents.understander import Understander

START = datetime(2026, 9, 15, 20, tzinfo=UTC)
QUIET_TICKS = 20_000
SAME = 1.5
"""Ratio up to which two costs of well under a microsecond count as the same; the clock itself wavers by a third."""


def quiet_tick(kitchen: Kitchen, content: Content, understander: Understander, count: int) -> float:
    """Seconds of a tick in which nothing is due, with that many duties a day, the best of three rounds."""
    pads = next(duty for duty in kitchen.duties if duty.id == "pad_change")
    duties = tuple(replace(pads, id=f"duty{n}", fryers=("1",)) for n in range(count))
    with tempfile.TemporaryDirectory() as folder:
        busy = replace(kitchen, duties=duties)
        helper = Helper.open(busy, content, understander, Path(folder), START, files=UnsyncedFiles())
        helper.tick(START)
        best = float("inf")
        for _ in range(3):
            begin = perf_counter()
            for n in range(QUIET_TICKS):
                helper.tick(START + timedelta(milliseconds=n))
            best = min(best, (perf_counter() - begin) / QUIET_TICKS)
        helper.drop()
    return best


def idle_memory(kitchen: Kitchen, content: Content, understander: Understander, count: int) -> float:
    """Bytes of Python objects that one more open kitchen takes, after a day of duties."""
    with tempfile.TemporaryDirectory() as folder:
        first = Helper.open(kitchen, content, understander, Path(folder) / "first", START, files=UnsyncedFiles())
        gc.collect()
        tracemalloc.start()
        helpers = [first]
        for n in range(count):
            helpers.append(
                Helper.open(kitchen, content, understander, Path(folder) / str(n), START, files=UnsyncedFiles())
            )
            helpers[-1].tick(START + timedelta(hours=5))
        gc.collect()
        size, _ = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        for helper in helpers:
            helper.drop()
    return size / count


def catch_up(kitchen: Kitchen, content: Content, understander: Understander) -> tuple[float, int, float]:
    """Seconds of the first tick after 30 days off, its messages, and seconds of 30 days in which it was on."""
    end = START + timedelta(days=30)
    with tempfile.TemporaryDirectory() as folder:
        helper = Helper.open(kitchen, content, understander, Path(folder) / "off", START, files=UnsyncedFiles())
        helper.drop()
        begin = perf_counter()
        helper = Helper.open(kitchen, content, understander, Path(folder) / "off", end, files=UnsyncedFiles())
        said = helper.tick(end)
        off = perf_counter() - begin
        helper.drop()
        helper = Helper.open(kitchen, content, understander, Path(folder) / "on", START, files=UnsyncedFiles())
        begin, now = perf_counter(), START
        while (wake := helper.wake_at(now)) is not None and wake <= end:
            now = max(now, wake)
            helper.all_delivered(helper.tick(now), now)
        on = perf_counter() - begin
        helper.drop()
    return off, len(said), on


def main() -> int:
    """Print the figures; 1 where a quiet tick is dearer with more duties."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="fewer kitchens and duties, to see that it runs")
    quick = parser.parse_args().quick
    kitchen, content = kitchen_of(None), load_content()
    understander = cast("Understander", Remembering(understander_of(kitchen)))
    gc.collect()
    gc.freeze()

    totals, kitchens, days = Totals(), 2 if quick else 10, 10 if quick else 60
    with tempfile.TemporaryDirectory() as folder:
        for n in range(kitchens):
            for _ in simulate(kitchen, content, understander, Path(folder) / str(n), days, Random(n), totals):
                pass
    print("\n".join(report(totals, kitchens, days)))

    few, many = 100, 10_000 if quick else 100_000
    quiet = {count: quiet_tick(kitchen, content, understander, count) for count in (few, many)}
    ratio = quiet[many] / quiet[few]
    print(f"\nquiet tick: {quiet[few] * 1e6:.2f} us at {few}, {quiet[many] * 1e6:.2f} us at {many:,} duties", end="")
    print(f", ratio {ratio:.2f}")

    size = idle_memory(kitchen, content, understander, 10 if quick else 100)
    print(f"an idle kitchen: {size / 1000:.0f} kB of Python objects beside the shared content")

    off, messages, on = catch_up(kitchen, content, understander)
    print(f"after 30 days off: {off * 1e3:.0f} ms to open and catch up, {messages} messages; ", end="")
    print(f"the same days lived through {on * 1e3:.0f} ms, ratio {off / on:.3f}")
    return 1 if ratio > SAME else 0


if __name__ == "__main__":
    sys.exit(main())
