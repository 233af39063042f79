"""What the store costs: ``python -m tests.bench.bench_store [--quick]``.

Appending a confirmation is measured against its physical limit, a bare synced append of the same bytes to a file of
the same size on the same disk, the two taking turns. The ratio must stay within 2 however long the history is.
Opening two years of a kitchen is measured with a snapshot and, for comparison, without. Past years are archived while
the store is in use; the longest pause of that is set beside one bare synced write of as many bytes.
"""

from __future__ import annotations

import argparse
import os
import shutil
import statistics
import sys
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from time import perf_counter

from bot.core.records import Confirmed, DayEnded, Delivered, Outgoing, Turn
from bot.core.state import State
from bot.store import Store
from bot.store.lines import LineFormat
from bot.store.year_end import BYTES_A_SLICE

LIMIT = 2.0
LONGEST_PAUSE = 0.1
"""Seconds that nobody notices who writes to the helper."""
TWO_YEARS = 300_000
TURNS_A_DAY = TWO_YEARS // (2 * 365)
START = datetime(2024, 3, 1, tzinfo=UTC)


def turn_of_two_years(seq: int) -> Turn:
    """A confirmation with its answer, or the delivery of that: by turns, as in a kitchen."""
    if seq % 2:
        return confirmation(seq)
    return Turn(seq, instant(seq), (Delivered(seq - 1, f"{seq}"),))


def instant(seq: int) -> datetime:
    """When a turn happens, so that two years hold ``TWO_YEARS`` of them."""
    return START + timedelta(days=1) * seq / TURNS_A_DAY


def confirmation(seq: int) -> Turn:
    """A confirmation with its answer; the first of each day also ends the day before."""
    at = instant(seq)
    done = Confirmed(seq, "pad_change", str(seq % 3 + 1), at, at, "on_time", "ben")
    said = Outgoing(seq, at, "ben", "reply", "Logged: filter pad changed on fryer 1 at 9:31 pm. On time.")
    new_day = at.date() != instant(seq - 2).date()
    ended = (DayEnded(instant(seq - 2).date()),) if new_day else ()
    return Turn(seq, at, (done, *ended), (said,), cause=f"tg:{seq}")


def fill(folder: Path, count: int, make: Callable[[int], Turn]) -> None:
    """A history of ``count`` turns, written in one go."""
    folder.mkdir()
    encode = LineFormat().encode
    with (folder / "history.jsonl").open("wb") as file:
        file.writelines(encode(make(seq)) for seq in range(1, count + 1))
        file.flush()
        os.fsync(file.fileno())


def seconds(action: Callable[[], object]) -> float:
    """How long ``action`` takes once."""
    begin = perf_counter()
    action()
    return perf_counter() - begin


class NoState:
    """A state that costs nothing, so that the store alone is measured."""

    def __init__(self) -> None:
        self.seq = 0

    def apply(self, turn: Turn) -> None:
        self.seq = turn.seq


def append_times(folder: Path, count: int, rounds: int) -> tuple[float, float, int]:
    """Median seconds of a bare synced append and of the store's, and the bytes of one, at ``count`` records."""
    fill(folder, count, confirmation)
    bare_path = folder / "bare"
    shutil.copyfile(folder / "history.jsonl", bare_path)
    bare = os.open(bare_path, os.O_WRONLY | os.O_APPEND)
    os.fsync(bare)
    encode = LineFormat().encode
    bare_times, store_times = [], []

    def append_bare(data: bytes) -> None:
        os.write(bare, data)
        os.fsync(bare)

    with Store.open(folder, NoState) as store:
        for seq in range(count + 1, count + 1 + rounds):
            turn = confirmation(seq)
            line = encode(turn)
            bare_times.append(seconds(lambda: append_bare(line)))  # noqa: B023
            store_times.append(seconds(lambda: store.append(turn)))  # noqa: B023
    os.close(bare)
    return statistics.median(bare_times), statistics.median(store_times), len(line)


def opening(folder: Path, count: int) -> tuple[float, float, float, float, int, int]:
    """Seconds to open without a snapshot, to save one, to open with it and to read all; sizes of both files."""
    fill(folder, count, turn_of_two_years)
    begin = perf_counter()
    store = Store.open(folder, State)
    cold = perf_counter() - begin
    saving = seconds(store.save_snapshot)
    for seq in range(count + 1, count + 1 + TURNS_A_DAY):
        store.append(turn_of_two_years(seq), sync=False)
    store.close()
    begin = perf_counter()
    store = Store.open(folder, State)
    warm = perf_counter() - begin
    if store.recovery is not None or store.state.seq != count + TURNS_A_DAY:
        raise SystemExit("the store did not open as it was closed")
    reading = seconds(lambda: sum(1 for _ in store.turns()))
    store.close()
    sizes = [(folder / name).stat().st_size for name in ("history.jsonl", "state.json")]
    return cold, saving, warm, reading, sizes[0], sizes[1]


def year_end(folder: Path, count: int) -> tuple[int, float, float, float]:
    """Slices of archiving two past years with a store in use, the longest and the whole of them, and a bare write."""
    fill(folder, count, turn_of_two_years)
    bare = os.open(folder / "bare", os.O_WRONLY | os.O_CREAT)
    data = bytes(BYTES_A_SLICE)

    def append_bare() -> None:
        os.write(bare, data)
        os.fsync(bare)

    limit = statistics.median(seconds(append_bare) for _ in range(50))
    os.close(bare)
    times = []
    with Store.open(folder, State) as store:
        slices = store.move_past_years(instant(count).year + 1)
        begin = perf_counter()
        for _ in slices:
            times.append(perf_counter() - begin)
            store.append(turn_of_two_years(store.state.seq + 1))
            begin = perf_counter()
        last = store.state.seq
        if sum(1 for _ in store.turns()) != last:
            raise SystemExit("turns were lost on the way to the archive")
    return len(times), max(times), sum(times), limit


def main() -> int:
    """Prints both tables; 1 where a ratio is broken."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="fewer records and rounds, to see that it runs")
    parser.add_argument("--folder", type=Path, help="a folder on the disk to measure (default: the temporary one)")
    options = parser.parse_args()
    counts = (100, 10_000) if options.quick else (100, 100_000, 1_000_000)
    rounds = 100 if options.quick else 2000
    broken = False

    with tempfile.TemporaryDirectory(dir=options.folder) as name:
        print(f"{'records':>10} {'bytes':>6} {'bare ms':>9} {'store ms':>9} {'ratio':>6}")
        for count in counts:
            folder = Path(name) / f"append-{count}"
            bare, stored, size = append_times(folder, count, rounds)
            shutil.rmtree(folder)
            broken |= stored / bare > LIMIT
            print(f"{count:>10,} {size:>6} {bare * 1e3:>9.3f} {stored * 1e3:>9.3f} {stored / bare:>6.2f}")

        count = TWO_YEARS // 10 if options.quick else TWO_YEARS
        cold, saving, warm, reading, history, state = opening(Path(name) / "two-years", count)
        print(f"\n{count:,} turns, history {history / 1e6:.0f} MB, snapshot {state / 1e6:.1f} MB")
        print(f"{'open without snapshot':<32} {cold:>7.3f} s")
        print(f"{'save a snapshot':<32} {saving:>7.3f} s")
        print(f"{'open, snapshot one day old':<32} {warm:>7.3f} s")
        print(f"{'read all turns':<32} {reading:>7.3f} s")
        broken |= warm > cold

        count, longest, whole, limit = year_end(Path(name) / "year-end", count)
        print(
            f"\narchived in use in {count} slices, {whole:.1f} s in all; the longest pause {longest * 1e3:.1f} ms, ",
            end="",
        )
        print(f"a bare synced write of a slice's bytes {limit * 1e3:.1f} ms")
        broken |= longest > LONGEST_PAUSE
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
