"""Past years move into archives while the store is in use; whatever fails or dies on the way, nothing is lost."""

from __future__ import annotations

import errno
import gc
import random
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from bot.core.records import Turn
from bot.store import Store, StoreError, year_end
from bot.store.files import Files
from tests.store.storekit import (
    Crash,
    FailingFiles,
    HastyFiles,
    MortalFiles,
    Tally,
    UnpoweredFiles,
    WatchedFiles,
    fold_of,
    history_of,
)
from tests.store.test_store_upkeep import held, turn_at, years

NEW_YEAR = 2027
NOW = datetime(2027, 3, 1, tzinfo=UTC)

DYING = pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
"""What a dead process leaves half done dies once more when Python tidies up after it."""


@pytest.fixture(autouse=True)
def small_slices(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(year_end, "LINES_A_SLICE", 3)
    monkeypatch.setattr(year_end, "BYTES_A_SLICE", 1000)


@dataclass
class NewYear:
    """A store in use on the first days of a year: between two slices somebody confirms a duty."""

    folder: Path
    files: Files
    acknowledged: list[Turn] = field(default_factory=list)
    slices: int = 0

    def run(self) -> None:
        try:
            store = Store.open(self.folder, Tally, files=self.files)
        except StoreError:
            return
        for _ in range(2):  # what failed on one day is tried again on the next
            with suppress(StoreError):
                for _ in store.move_past_years(NEW_YEAR):
                    self.slices += 1
                    self._confirm(store)
            self._confirm(store)
        with suppress(StoreError):
            store.save_snapshot()
        with suppress(StoreError):
            store.close()

    def _confirm(self, store: Store[Tally]) -> None:
        turn = turn_at(store.state.seq + 1, NOW + timedelta(minutes=store.state.seq))
        for _ in range(2):
            with suppress(StoreError):
                store.append(turn)
                self.acknowledged.append(turn)
                return


def test_past_years_are_archived_while_people_go_on_confirming(tmp_path: Path) -> None:
    turns = years(tmp_path)
    new_year = NewYear(tmp_path, HastyFiles())
    new_year.run()
    assert new_year.slices > 10
    assert sorted(path.name for path in tmp_path.glob("history-*")) == [
        f"history-{year}.jsonl" for year in (2024, 2025, 2026)
    ]
    assert len(history_of(tmp_path).read_bytes().splitlines()) == 2 + len(new_year.acknowledged)
    assert held(tmp_path) == turns + new_year.acknowledged


def test_the_store_in_use_reads_appends_and_saves_on_as_before(tmp_path: Path) -> None:
    turns = years(tmp_path)
    more = [turn_at(12, NOW), turn_at(13, NOW)]
    with Store.open(tmp_path, Tally, files=HastyFiles()) as store:
        for _ in store.move_past_years(NEW_YEAR):
            pass
        assert list(store.turns()) == turns
        store.append(more[0])
        store.save_snapshot()
        store.append(more[1])
        assert list(store.turns()) == turns + more
        assert store.state == fold_of(turns + more)
    assert held(tmp_path) == turns + more


def test_without_past_years_nothing_is_written(tmp_path: Path) -> None:
    years(tmp_path)
    files = WatchedFiles()
    with Store.open(tmp_path, Tally, files=files) as store:
        before = files.count
        assert list(store.move_past_years(2024)) == []
        assert files.count == before


def test_years_that_join_an_archive_come_after_what_it_holds(tmp_path: Path) -> None:
    """The year was archived by a start while the clock ran ahead, and then went on."""
    turns = years(tmp_path)
    with Store.open(tmp_path, Tally, files=HastyFiles()) as store:
        for _ in store.move_past_years(2026):
            pass
        assert [path.name for path in sorted(tmp_path.glob("history-*"))] == [
            "history-2024.jsonl",
            "history-2025.jsonl",
        ]
        for _ in store.move_past_years(NEW_YEAR + 1):
            pass
        assert list(store.turns()) == turns
    assert history_of(tmp_path).read_bytes() == b""
    assert held(tmp_path) == turns


def test_a_store_that_is_closed_in_the_middle_is_as_it_was(tmp_path: Path) -> None:
    turns = years(tmp_path)
    with Store.open(tmp_path, Tally, files=HastyFiles()) as store:
        slices = store.move_past_years(NEW_YEAR)
        for _ in range(6):
            next(slices)
        assert list(tmp_path.glob("*.tmp"))
    assert not list(tmp_path.glob("*.tmp"))
    assert held(tmp_path) == turns


def test_a_history_that_the_disk_has_spoilt_is_not_thrown_away(tmp_path: Path) -> None:
    turns = years(tmp_path, snapshot=False)
    with Store.open(tmp_path, Tally, files=HastyFiles()) as store:
        content = history_of(tmp_path).read_bytes()
        history_of(tmp_path).write_bytes(content.replace(b"2027-02-02", b"2027-02-03"))
        with pytest.raises(StoreError, match="the file has changed since it was written"):
            for _ in store.move_past_years(NEW_YEAR):
                pass
        history_of(tmp_path).write_bytes(content)
    assert held(tmp_path) == turns


def _operations(folder: Path) -> int:
    years(folder)
    files = WatchedFiles()
    NewYear(folder, files).run()
    return files.count


@pytest.mark.parametrize("code", [errno.EIO, errno.ENOSPC])
@pytest.mark.parametrize("length", [1, 2, 10_000])
def test_a_failing_operation_loses_nothing_and_the_next_start_finishes(tmp_path: Path, code: int, length: int) -> None:
    for at in range(1, _operations(tmp_path / "calm") + 1):
        folder = tmp_path / str(at)
        turns = years(folder)
        new_year = NewYear(folder, FailingFiles(lambda n, _: at <= n < at + length, code, half_writes=True))  # noqa: B023
        new_year.run()
        with Store.open(folder, Tally, files=HastyFiles()) as store:
            there = list(store.turns())
        _all_there(there, turns + new_year.acknowledged)
        assert held(folder) == there
        later = NewYear(folder, HastyFiles())
        later.run()
        assert held(folder) == there + later.acknowledged
        assert len(history_of(folder).read_bytes().splitlines()) == 2 + len(there + later.acknowledged) - len(turns)


@DYING
def test_a_process_that_dies_at_any_operation_loses_nothing(tmp_path: Path) -> None:
    for at in range(1, _operations(tmp_path / "calm") + 1):
        folder = tmp_path / str(at)
        turns = years(folder)
        new_year = NewYear(folder, MortalFiles(at))
        with pytest.raises(Crash):
            new_year.run()
        _let_go()
        _all_there(_found(folder), turns + new_year.acknowledged)


@DYING
@pytest.mark.parametrize("renames_reach_disk", [False, True])
def test_a_power_cut_at_any_operation_loses_nothing(tmp_path: Path, renames_reach_disk: bool) -> None:
    chance = random.Random(20260302)
    for at in range(1, _operations(tmp_path / "calm") + 1):
        folder = tmp_path / str(at)
        turns = years(folder)
        files = UnpoweredFiles(folder, at, renames_reach_disk)
        new_year = NewYear(folder, files)
        with pytest.raises(Crash):
            new_year.run()
        _let_go()
        files.cut_power(chance)
        for rest in folder.glob("*.tmp"):
            rest.unlink()
        _all_there(_found(folder), turns + new_year.acknowledged)


def _all_there(kept: list[Turn], acknowledged: list[Turn]) -> None:
    """Every acknowledged turn is kept, once; the one that nobody was told of may be there too."""
    assert kept[: len(acknowledged)] == acknowledged
    assert len(kept) - len(acknowledged) in (0, 1)


def _found(folder: Path) -> list[Turn]:
    """What the next start finds: all whole, but for the line that was being written."""
    with Store.open(folder, Tally, files=HastyFiles()) as store:
        found = store.recovery
        assert found is None or (found.set_aside, found.snapshot_problem) == (0, None)
    return held(folder)


def _let_go() -> None:
    """What the dead process had open, as the operating system would; its store and slices hold each other."""
    gc.collect()
