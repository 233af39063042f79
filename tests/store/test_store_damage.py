"""Bytes changed, lost and added at random: the store opens, and every line they missed is there."""

from __future__ import annotations

import shutil
import tempfile
from itertools import pairwise
from pathlib import Path

from hypothesis import given, strategies as st

from bot.core.records import Turn
from bot.store import Store, read_only
from tests.store.storekit import HastyFiles, Tally, confirmation, filled, fold_of, history_of, reopened

COUNT = 8

Splice = tuple[float, int, bytes]
"""Where (0 to 1 of the file), how many bytes go, and what comes instead."""

splices = st.lists(
    st.tuples(
        st.floats(0, 1),
        st.one_of(st.integers(0, 3), st.integers(0, 600)),
        st.one_of(st.binary(max_size=3), st.sampled_from([b"\n", b"\0" * 64, b'{"v":1,"crc":"', b"}\n{"])),
    ),
    min_size=1,
    max_size=4,
)


def _damage(content: bytes, cuts: list[Splice]) -> tuple[bytes, set[int]]:
    """The damaged content, and the numbers (from 1) of the lines that came through in one piece."""
    owned: list[tuple[int, int]] = []  # for each byte: its value and its place in the original, or -1
    owned.extend((byte, place) for place, byte in enumerate(content))
    for where, length, instead in cuts:
        start = int(where * len(owned))
        owned[start : start + length] = [(byte, -1) for byte in instead]
    places = [place for _, place in owned]
    joins = {a for a, b in pairwise(places) if b == a + 1}
    present = set(places)
    untouched: set[int] = set()
    start = 0
    for number, line in enumerate(content.splitlines(keepends=True), 1):
        end = start + len(line)
        if all(place in joins for place in range(start, end - 1)) and end - 1 in present:
            untouched.add(number)
        start = end
    return bytes(byte for byte, _ in owned), untouched


@given(cuts=splices, snapshot_after=st.sampled_from([None, 3, COUNT]))
def test_every_undamaged_line_is_kept_and_no_other_record_appears(
    cuts: list[Splice], snapshot_after: int | None
) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        originals = filled(folder, COUNT, snapshot_after)
        damaged, untouched = _damage(history_of(folder).read_bytes(), cuts)
        history_of(folder).write_bytes(damaged)

        read = list(read_only(folder, Tally).turns())
        with Store.open(folder, Tally, files=HastyFiles()) as store:
            turns = list(store.turns())
            assert fold_of(turns) == store.state
            kept = history_of(folder).read_bytes()
            aside = [path.read_bytes() for path in folder.glob("history.*-1*")]
            following = confirmation(store.state.seq + 1)
            store.append(following)

        assert read == turns
        assert untouched <= {turn.seq for turn in turns}
        assert all(turn == originals[turn.seq - 1] for turn in turns)
        # Not one byte is thrown away: the file is as it was, or a copy is, or what was cut off it lies beside it.
        assert damaged in (kept, kept.removesuffix(b"\n"), *aside, *(kept + torn for torn in aside))
        with Store.open(folder, Tally, files=HastyFiles()) as store:
            assert store.recovery is None
            assert [*turns, following] == list(store.turns())


@given(cuts=splices)
def test_a_snapshot_damaged_in_any_way_never_changes_the_state(cuts: list[Splice]) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        turns: list[Turn] = filled(folder, COUNT, snapshot_after=5)
        path = folder / "state.json"
        path.write_bytes(_damage(path.read_bytes(), cuts)[0])

        assert (turns, fold_of(turns)) == reopened(folder)


def test_a_copy_of_a_store_is_a_store(tmp_path: Path) -> None:
    """A backup is a copy of the folder, made at any time."""
    turns = filled(tmp_path / "kitchen", 3, snapshot_after=2)
    shutil.copytree(tmp_path / "kitchen", tmp_path / "backup")

    assert (turns, fold_of(turns)) == reopened(tmp_path / "backup")
