"""A tick in which nothing is due, with 10, 1,000 and 10,000 duties; and the tick in which they all are.

Run: ``python -m tests.bench.bench_tick``.
"""

from __future__ import annotations

import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import cast

import msgspec

from bot.app import Helper
from bot.content.catalogue import load_content
from bot.content.kitchen_file import read_kitchen
from bot.content.places import demo_folder
from intents.understander import Understander

START = datetime(2026, 9, 15, 14, tzinfo=UTC)
TICKS = 10_000


def main() -> None:
    """Print microseconds a quiet tick, and its ratio to that of ten duties."""
    kitchen = read_kitchen(demo_folder() / "kitchen.toml")
    content = load_content()
    pads = next(d for d in kitchen.duties if d.id == "pad_change")
    first = 0.0
    for count in (10, 1_000, 10_000):
        duties = tuple(msgspec.structs.replace(pads, id=f"duty{n}", fryers=("1",)) for n in range(count))
        busy = msgspec.structs.replace(kitchen, duties=duties)
        with tempfile.TemporaryDirectory() as folder:
            helper = Helper.open(busy, content, cast("Understander", None), Path(folder), START)
            began = time.perf_counter()
            helper.tick(START)
            one = time.perf_counter() - began
            began = time.perf_counter()
            for n in range(TICKS):
                helper.tick(START + timedelta(milliseconds=n))
            quiet = (time.perf_counter() - began) / TICKS
            helper.drop()
        first = first or quiet
        ratio = quiet / first
        print(f"{count:6} duties: quiet tick {quiet * 1e6:.1f} us, ratio {ratio:.2f}; after a turn {one * 1e3:.1f} ms")


if __name__ == "__main__":
    main()
