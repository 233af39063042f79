"""What many duties cost: a tick in which nothing is due, the turn of a tap with its tick, and the first look of a day.

Run: ``python -m tests.bench.bench_tick``. Times are of the processor; each is also given as a ratio to ten duties.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from time import process_time
from typing import cast

import msgspec

from bot.app import Helper
from bot.commands.simulate import UnsyncedFiles
from bot.content.catalogue import load_content
from bot.content.kitchen_file import read_kitchen
from bot.content.places import demo_folder
from intents.understander import Understander

START = datetime(2026, 9, 15, 14, tzinfo=UTC)
TICKS = 10_000
TAPS = 5


def spent(work: Callable[[], object]) -> float:
    """Seconds of the processor."""
    began = process_time()
    work()
    return process_time() - began


def measured(helper: Helper) -> tuple[float, float, float, float]:
    """Seconds of the first look of a day, of a quiet tick, of a tap on Done, and of a tick right after a turn."""
    first = spent(lambda: helper.tick(START))
    quiet = spent(lambda: [helper.tick(START + timedelta(milliseconds=n)) for n in range(TICKS)]) / TICKS
    tap = after = float("inf")
    for n in range(TAPS):
        now = START + timedelta(minutes=n + 1)
        # A tap is followed by a look at what is due, which its turn may have changed.
        tap = min(tap, spent(lambda: helper.tap("ben", "crew", f"done:duty{n}:1", now)))  # noqa: B023
        helper.all_delivered(helper.tap("ben", "crew", f"wait:high_limit:{n % 3 + 1}", now), now)
        helper.remember(f"bench|{n}", now)
        after = min(after, spent(lambda: helper.tick(now)))  # noqa: B023
    return first, quiet, tap, after


def main() -> None:
    """Print a line for each number of duties."""
    kitchen = read_kitchen(demo_folder() / "kitchen.toml")
    content = load_content()
    pads = next(d for d in kitchen.duties if d.id == "pad_change")
    base: tuple[float, ...] | None = None
    print(
        f"{'duties':>7}  {'first look of a day':>22} {'quiet tick':>18} {'tap on Done':>18} {'tick after a turn':>18}"
    )
    for count in (10, 100, 1_000, 10_000, 100_000):
        duties = tuple(msgspec.structs.replace(pads, id=f"duty{n}", fryers=("1",)) for n in range(count))
        busy = msgspec.structs.replace(kitchen, duties=duties)
        with tempfile.TemporaryDirectory() as folder:
            files = UnsyncedFiles()
            helper = Helper.open(busy, content, cast("Understander", None), Path(folder), START, files=files)
            found = measured(helper)
            helper.drop()
        base = base or found
        shown = [f"{seconds * 1e3:>10.3f} ms {seconds / one:>5.1f}" for seconds, one in zip(found, base, strict=True)]
        print(f"{count:>7,}  {' '.join(shown)}")


if __name__ == "__main__":
    main()
