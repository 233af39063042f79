"""Past years move into archives and old talk goes, whatever fails on the way; records stay for ever."""

from __future__ import annotations

import errno
import random
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from msgspec.structs import replace

from bot.core.records import Asked, Confirmed, LanguageChosen, NoteLeft, Turn, WalkMoved
from bot.core.state import State
from bot.store import Store, StoreError, Upkeep, read_only
from bot.store.files import Files
from tests.store.storekit import (
    Crash,
    FailingFiles,
    HastyFiles,
    MortalFiles,
    Tally,
    UnpoweredFiles,
    WatchedFiles,
    confirmation,
    fold_of,
    history_of,
)

NOW = datetime(2027, 3, 1, tzinfo=UTC)
LONG = timedelta(days=4000)
"""So that nothing is dropped."""


def turn_at(seq: int, at: datetime) -> Turn:
    return replace(confirmation(seq), at=at)


def years(folder: Path, snapshot: bool = True) -> list[Turn]:
    """A store with turns of 2024, 2025 and 2026, and two of 2027; its turns."""
    firsts = [datetime(year, month, 5, 12, tzinfo=UTC) for year in (2024, 2025, 2026) for month in (2, 7, 12)]
    firsts += [datetime(2027, 1, 2, tzinfo=UTC), datetime(2027, 2, 2, tzinfo=UTC)]
    turns = [turn_at(seq, at) for seq, at in enumerate(firsts, 1)]
    with Store.open(folder, Tally, files=HastyFiles()) as store:
        for turn in turns:
            store.append(turn)
        if snapshot:
            store.save_snapshot()
    return turns


def open_with_upkeep(folder: Path, files: Files, now: datetime = NOW, keep: timedelta = LONG) -> Store[Tally]:
    return Store.open(folder, Tally, files=files, upkeep=Upkeep(now, keep))


def held(folder: Path) -> list[Turn]:
    """Every turn that a store holds; it must be whole, and its state their sum."""
    with Store.open(folder, Tally, files=HastyFiles()) as store:
        turns = list(store.turns())
        assert store.recovery is None
        assert store.state == fold_of(turns)
    assert list(read_only(folder, Tally).turns()) == turns
    return turns


def test_a_start_moves_past_years_into_archives_and_nothing_is_lost(tmp_path: Path) -> None:
    turns = years(tmp_path)
    with open_with_upkeep(tmp_path, HastyFiles()) as store:
        assert store.upkeep is not None
        assert [path.name for path in store.upkeep.archived] == [f"history-{y}.jsonl" for y in (2024, 2025, 2026)]
        assert list(store.turns()) == turns
        assert store.recovery is None
    assert len(history_of(tmp_path).read_bytes().splitlines()) == 2
    assert held(tmp_path) == turns


def test_appending_and_saving_go_on_after_archiving(tmp_path: Path) -> None:
    turns = years(tmp_path)
    with open_with_upkeep(tmp_path, HastyFiles()) as store:
        store.append(turn_at(12, NOW))
        store.save_snapshot()
        store.append(turn_at(13, NOW))
    assert held(tmp_path) == [*turns, turn_at(12, NOW), turn_at(13, NOW)]


def test_a_second_start_in_the_same_year_rewrites_nothing(tmp_path: Path) -> None:
    years(tmp_path)
    open_with_upkeep(tmp_path, HastyFiles()).close()
    with Store.open(tmp_path, Tally, files=HastyFiles()) as store:
        store.save_snapshot()
    files = WatchedFiles()
    with open_with_upkeep(tmp_path, files) as store:
        assert store.upkeep is not None
        assert not store.upkeep.changed
    assert "replace" not in files.names


def test_turns_after_a_clock_that_was_set_back_stay_in_order(tmp_path: Path) -> None:
    """A turn of 2026 that comes after one of 2027 counts as of 2027; one more start a year later takes both."""
    turns = [
        turn_at(1, datetime(2026, 5, 1, tzinfo=UTC)),
        turn_at(2, datetime(2027, 1, 1, 1, tzinfo=UTC)),
        turn_at(3, datetime(2026, 12, 31, 23, tzinfo=UTC)),
    ]
    with Store.open(tmp_path, Tally, files=HastyFiles()) as store:
        for turn in turns:
            store.append(turn)
    open_with_upkeep(tmp_path, HastyFiles()).close()
    assert held(tmp_path) == turns
    open_with_upkeep(tmp_path, HastyFiles(), datetime(2028, 1, 1, tzinfo=UTC)).close()
    assert held(tmp_path) == turns
    assert len((tmp_path / "history-2027.jsonl").read_bytes().splitlines()) == 2


def test_late_turns_of_a_year_join_its_archive(tmp_path: Path) -> None:
    """The clock had run ahead, the year was archived, and then the clock was put right."""
    turns = [turn_at(1, datetime(2026, 12, 30, tzinfo=UTC)), turn_at(2, datetime(2026, 12, 31, tzinfo=UTC))]
    with Store.open(tmp_path, Tally, files=HastyFiles()) as store:
        store.append(turns[0])
    with open_with_upkeep(tmp_path, HastyFiles()) as store:
        store.append(turns[1])
    open_with_upkeep(tmp_path, HastyFiles()).close()
    assert len((tmp_path / "history-2026.jsonl").read_bytes().splitlines()) == 2
    assert held(tmp_path) == turns


def test_damage_in_an_archive_is_found_at_the_next_start_and_costs_one_line(tmp_path: Path) -> None:
    turns = years(tmp_path)
    with open_with_upkeep(tmp_path, HastyFiles()) as store:
        store.save_snapshot()
    archive = tmp_path / "history-2025.jsonl"
    lines = archive.read_bytes().splitlines(keepends=True)
    archive.write_bytes(b"".join([lines[0], lines[1].replace(b"pad_change", b"pad_chance"), lines[2]]))

    with Store.open(tmp_path, Tally, files=HastyFiles()) as store:
        assert store.recovery is not None
        assert (store.recovery.set_aside, store.recovery.kept) == (1, 10)
        assert {path.name for path in store.recovery.files} == {"history-2025.damaged-1.jsonl", "state.aside-1.json"}
        assert list(store.turns()) == [turn for turn in turns if turn.seq != 5]
    assert held(tmp_path) == [turn for turn in turns if turn.seq != 5]


def test_an_archive_that_was_taken_away_is_noticed(tmp_path: Path) -> None:
    years(tmp_path)
    with open_with_upkeep(tmp_path, HastyFiles()) as store:
        store.save_snapshot()
    (tmp_path / "history-2024.jsonl").unlink()
    with Store.open(tmp_path, Tally, files=HastyFiles()) as store:
        assert store.recovery is not None
        assert store.recovery.snapshot_problem == "it belongs to another history, or the history is damaged"


def test_a_reader_that_opened_before_the_archiving_is_told_to_open_again(tmp_path: Path) -> None:
    years(tmp_path)
    records = read_only(tmp_path, Tally)
    open_with_upkeep(tmp_path, HastyFiles()).close()
    with pytest.raises(StoreError, match="the file was replaced since it was opened; try again"):
        list(records.turns())


# --- old talk ---


def talk(seq: int, at: datetime) -> Turn:
    changes = (
        Confirmed(seq, "pad_change", "1", at, None, "unscheduled", "ben"),
        NoteLeft(seq + 100, "the note stays", "ben"),
        LanguageChosen("ben", "es"),
        Asked("ben", "ben", ()),
        WalkMoved("ben", "ben", "guide.drain", "1", 2),
    )
    return replace(turn_at(seq, at), changes=changes)


def test_talk_older_than_the_limit_goes_and_its_records_and_numbers_stay(tmp_path: Path) -> None:
    days = (500, 401, 399, 1)
    turns = [talk(seq, NOW - timedelta(days=back)) for seq, back in enumerate(days, 1)]
    with Store.open(tmp_path, Tally, files=HastyFiles()) as store:
        for turn in turns:
            store.append(turn)
    with open_with_upkeep(tmp_path, HastyFiles(), keep=timedelta(days=400)) as store:
        kept = list(store.turns())
        assert store.upkeep is not None
        assert store.upkeep.stripped == 2
    assert kept[2:] == turns[2:]
    for before, after in zip(turns[:2], kept[:2], strict=True):
        assert after.changes == before.changes[:3]
        assert [(m.number, m.key, m.text) for m in after.out] == [(m.number, m.key, "") for m in before.out]
    assert held(tmp_path) == kept


def test_a_message_that_was_never_delivered_keeps_its_text(tmp_path: Path) -> None:
    with Store.open(tmp_path, State, files=HastyFiles()) as store:
        store.append(talk(1, NOW - timedelta(days=500)))
    with Store.open(tmp_path, State, files=HastyFiles(), upkeep=Upkeep(NOW, timedelta(days=400))) as store:
        assert [m.text for m in store.state.outbox.values()] == [talk(1, NOW).out[0].text]


def test_talk_is_looked_for_again_only_after_a_month(tmp_path: Path) -> None:
    with Store.open(tmp_path, Tally, files=HastyFiles()) as store:
        for seq, back in enumerate((500, 395, 370), 1):
            store.append(talk(seq, NOW - timedelta(days=back)))
    keep, stripped = timedelta(days=400), []
    for later in (0, 10, 31):
        with open_with_upkeep(tmp_path, HastyFiles(), NOW + timedelta(days=later), keep) as store:
            assert store.upkeep is not None
            stripped.append(store.upkeep.stripped)
            store.save_snapshot()
    assert stripped == [1, 0, 2]


# --- faults at every operation ---


def _archive(folder: Path, files: Files) -> None:
    """One start with upkeep, a turn more, and a snapshot; failures are taken as the helper takes them."""
    try:
        store = open_with_upkeep(folder, files)
    except StoreError:
        return
    try:
        store.save_snapshot()
        store.close()
    except StoreError:
        store.close()


def _operations(tmp_path: Path) -> int:
    years(tmp_path / "calm")
    files = WatchedFiles()
    _archive(tmp_path / "calm", files)
    return files.count


@pytest.mark.parametrize("code", [errno.EIO, errno.ENOSPC])
@pytest.mark.parametrize("length", [1, 2, 10_000])
def test_a_failing_operation_during_upkeep_loses_nothing_and_the_next_start_finishes(
    tmp_path: Path, code: int, length: int
) -> None:
    for at in range(1, _operations(tmp_path) + 1):
        folder = tmp_path / str(at)
        turns = years(folder)
        _quietly(lambda: _archive(folder, FailingFiles(lambda n, _: at <= n < at + length, code, half_writes=True)))  # noqa: B023
        assert held(folder) == turns
        _archive(folder, HastyFiles())
        assert held(folder) == turns
        assert len(history_of(folder).read_bytes().splitlines()) == 2


def test_a_process_that_dies_at_any_operation_of_upkeep_loses_nothing(tmp_path: Path) -> None:
    for at in range(1, _operations(tmp_path) + 1):
        folder = tmp_path / str(at)
        turns = years(folder)
        with pytest.raises(Crash):
            _archive(folder, MortalFiles(at))
        assert held(folder) == turns
        _archive(folder, HastyFiles())
        assert held(folder) == turns


@pytest.mark.parametrize("renames_reach_disk", [False, True])
def test_a_power_cut_at_any_operation_of_upkeep_loses_nothing(tmp_path: Path, renames_reach_disk: bool) -> None:
    chance = random.Random(20260302)
    for at in range(1, _operations(tmp_path) + 1):
        folder = tmp_path / str(at)
        turns = years(folder)
        files = UnpoweredFiles(folder, at, renames_reach_disk)
        with pytest.raises(Crash):
            _archive(folder, files)
        files.cut_power(chance)
        for rest in folder.glob("*.tmp"):
            rest.unlink()
        assert held(folder) == turns
        _archive(folder, HastyFiles())
        assert held(folder) == turns


def _quietly(work: Callable[[], None]) -> None:
    """A store that can't be closed safely says so; what matters here is what it holds afterwards."""
    try:
        work()
    except StoreError as error:
        assert str(error)
