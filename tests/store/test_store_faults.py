"""A fault at every single operation of an evening: nothing acknowledged is lost, halved or doubled."""

from __future__ import annotations

import errno
import random
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import pytest

from bot.core.records import Turn
from bot.store import Store
from tests.store.storekit import (
    Crash,
    Evening,
    FailingFiles,
    MortalFiles,
    Tally,
    UnpoweredFiles,
    WatchedFiles,
    confirmation,
    filled,
    fold_of,
    history_of,
    reopened,
)


def _nothing(folder: Path) -> list[Turn]:
    folder.mkdir()
    return []


def _torn(folder: Path) -> list[Turn]:
    turns = filled(folder, 3, snapshot_after=2)
    with history_of(folder).open("ab") as file:
        file.write(b'{"v":1,"crc":')
    return turns


def _unended(folder: Path) -> list[Turn]:
    turns = filled(folder, 3, snapshot_after=2)
    history_of(folder).write_bytes(history_of(folder).read_bytes().removesuffix(b"\n"))
    return turns


def _damaged(folder: Path) -> list[Turn]:
    turns = filled(folder, 4, snapshot_after=3)
    content = history_of(folder).read_bytes().splitlines(keepends=True)
    history_of(folder).write_bytes(b"".join([content[0], b"\0" * 30, *content[2:]]))
    return [turns[0], turns[2], turns[3]]


BEGINNINGS = [_nothing, _torn, _unended, _damaged]
Beginning = Callable[[Path], list[Turn]]


def _operations(tmp_path: Path, begin: Beginning) -> int:
    """How many operations the evening takes when nothing fails."""
    folder = tmp_path / "calm"
    begin(folder)
    files = WatchedFiles()
    evening = Evening(folder, files)
    evening.run()
    assert evening.errors == 0
    assert len(evening.acknowledged) == Evening.TURNS
    return files.count


def _assert_kept(folder: Path, must: list[Turn]) -> list[Turn]:
    """Each turn of ``must`` is in the store once, as it was; a second opening finds the same."""
    turns, state = reopened(folder)
    numbers = [turn.seq for turn in turns]
    assert sorted(set(numbers)) == numbers
    by_number = {turn.seq: turn for turn in turns}
    assert must == [by_number.get(turn.seq) for turn in must]
    assert fold_of(turns) == state
    assert (turns, state) == reopened(folder)
    assert list(folder.glob("*.tmp")) == []
    return turns


@pytest.mark.parametrize("begin", BEGINNINGS)
@pytest.mark.parametrize("code", [errno.EIO, errno.ENOSPC])
@pytest.mark.parametrize("length", [1, 2, 3, 10_000])
def test_failing_operations_lose_nothing_that_was_acknowledged(
    tmp_path: Path, begin: Beginning, code: int, length: int
) -> None:
    """One fails, or two or three in a row, or all from there on; half-way through, where it is a write."""
    for at in range(1, _operations(tmp_path, begin) + 1):
        folder = tmp_path / str(at)
        before = begin(folder)
        fails_from, fails_to = at, at + length
        files = FailingFiles(lambda n, _: fails_from <= n < fails_to, code, half_writes=at % 2 == 0)  # noqa: B023
        evening = Evening(folder, files)
        evening.run()
        (folder / "state.json.tmp").unlink(missing_ok=True)  # left where the clean-up failed as well
        (folder / "history.jsonl.tmp").unlink(missing_ok=True)
        for rest in folder.glob("history.*.tmp"):
            rest.unlink()

        _assert_kept(folder, before + evening.acknowledged)
        if length == 1:
            assert len(evening.acknowledged) == Evening.TURNS


@pytest.mark.parametrize("begin", BEGINNINGS)
def test_a_process_that_dies_at_any_operation_loses_nothing_that_was_acknowledged(
    tmp_path: Path, begin: Beginning
) -> None:
    for at in range(1, _operations(tmp_path, begin) + 1):
        folder = tmp_path / str(at)
        before = begin(folder)
        evening = Evening(folder, MortalFiles(at))
        with pytest.raises(Crash):
            evening.run()

        turns = _assert_kept_after_crash(folder, before + evening.acknowledged)
        # At most the turn that was being written is there without having been acknowledged.
        assert len(turns) <= len(before) + len(evening.acknowledged) + 1


@pytest.mark.parametrize("begin", BEGINNINGS)
@pytest.mark.parametrize("renames_reach_disk", [False, True])
def test_a_power_cut_at_any_operation_loses_nothing_that_was_acknowledged_as_safe(
    tmp_path: Path, begin: Beginning, renames_reach_disk: bool
) -> None:
    """Only turns after the last synced one may go, and a state is never ahead of its history."""
    chance = random.Random(20260302)
    for at in range(1, _operations(tmp_path, begin) + 1):
        folder = tmp_path / str(at)
        before = begin(folder)
        files = UnpoweredFiles(folder, at, renames_reach_disk)
        evening = Evening(folder, files)
        with pytest.raises(Crash):
            evening.run()
        files.cut_power(chance)

        _assert_kept_after_crash(folder, before + evening.safe)


def test_the_power_cut_of_these_tests_does_take_what_was_not_synced(tmp_path: Path) -> None:
    """The harness itself: without syncing, an evening's records are gone."""

    class Careless(UnpoweredFiles):
        def sync(self, fd: int) -> None:
            self.before("sync")

    files = Careless(tmp_path, dies_at=14, renames_reach_disk=True)
    evening = Evening(tmp_path, files)
    with suppress(Crash):
        evening.run()
    assert evening.safe
    files.cut_power(random.Random(1))

    assert len(evening.safe) > len(reopened(tmp_path)[0])


def test_turns_that_a_killed_process_left_unsynced_are_safe_before_anyone_is_told_of_them(tmp_path: Path) -> None:
    class Unsynced(UnpoweredFiles):
        """As if nothing in the folder had reached the disk."""

        def __init__(self, folder: Path) -> None:
            super().__init__(folder, dies_at=1000, renames_reach_disk=False)
            self._bytes = dict.fromkeys(self._bytes, b"")
            self._names = {}

    turns = filled(tmp_path, 3)
    files = Unsynced(tmp_path)
    store = Store.open(tmp_path, Tally, files=files)
    assert store.state == fold_of(turns)
    files.cut_power(random.Random(1))
    store.close()

    assert reopened(tmp_path)[0] == turns


def _assert_kept_after_crash(folder: Path, must: list[Turn]) -> list[Turn]:
    for rest in folder.glob("*.tmp"):  # of no harm: the next one of that name is written over it
        rest.unlink()
    return _assert_kept(folder, must)


def test_a_left_over_temporary_file_is_written_over(tmp_path: Path) -> None:
    (tmp_path / "state.json.tmp").write_bytes(b"x" * 10_000)
    filled(tmp_path, 2, snapshot_after=2)

    assert [confirmation(1), confirmation(2)] == _assert_kept(tmp_path, [])
