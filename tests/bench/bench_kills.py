"""1,000 kills of a working helper, and faults at every operation of a week: ``python -m tests.bench.bench_kills``.

Prints what was acknowledged, what is there, and what was lost or doubled, which must be nothing.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path
from time import perf_counter
from typing import cast

from bot.commands.loading import kitchen_of, understander_of
from bot.commands.simulate import Remembering
from bot.content.catalogue import load_content
from intents.understander import Understander
from tests.killing import Found, failing_weeks, faults_of, killed_weeks, operations_of_a_week


def main() -> int:
    """Print the figures; 1 where anything was lost or doubled."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=1000)
    parser.add_argument("--every", type=int, default=1, help="take only each so many-th of the faults")
    options = parser.parse_args()
    kills = options.kills
    kitchen, content = kitchen_of(None), load_content()
    understander = cast("Understander", Remembering(understander_of(kitchen)))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        begin = perf_counter()
        killed = killed_weeks(kitchen, content, understander, folder / "killed", kills)
        print(f"{killed.kills} kills in {perf_counter() - begin:.0f} s: ", end="")
        _print(killed)
        operations = operations_of_a_week(kitchen, content, understander, folder / "calm")
        begin = perf_counter()
        faults = faults_of(operations)[:: options.every]
        failed = failing_weeks(kitchen, content, understander, folder, faults)
        print(f"{len(faults)} faults at the {len(operations)} operations of a week, each twice in a row, ", end="")
        print(f"{perf_counter() - begin:.0f} s: ", end="")
        _print(failed)
    return 1 if killed.lost + killed.doubled + failed.lost + failed.doubled else 0


def _print(found: Found) -> None:
    print(
        f"{found.acknowledged:,} turns acknowledged, {found.turns:,} there, {found.confirmations:,} confirmations "
        f"over {found.days:.1f} days; lost {len(found.lost)}, doubled {len(found.doubled)}"
    )
    for what in (found.lost + found.doubled)[:10]:
        print(f"  {what}")


if __name__ == "__main__":
    sys.exit(main())
