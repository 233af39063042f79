"""Appending, reading, and what becomes of a history that isn't whole."""

from __future__ import annotations

import errno
from pathlib import Path

import pytest

from bot.store import Recovery, Store, StoreError, read_only
from tests.store.storekit import (
    FailingFiles,
    HastyFiles,
    Tally,
    WatchedFiles,
    confirmation,
    delivery,
    filled,
    fold_of,
    history_of,
    reopened,
)


def test_turns_and_state_are_there_again_after_reopening(tmp_path: Path) -> None:
    turns = filled(tmp_path, 5)

    assert (turns, fold_of(turns)) == reopened(tmp_path)


def test_an_empty_store_has_no_turns_and_nothing_to_recover(tmp_path: Path) -> None:
    with Store.open(tmp_path, Tally) as store:
        assert list(store.turns()) == []
        assert Tally() == store.state
        assert store.recovery is None


def test_an_append_is_one_write_and_one_sync(tmp_path: Path) -> None:
    files = WatchedFiles()
    with Store.open(tmp_path, Tally, files=files) as store:
        assert files.names == ["open", "sync", "sync_folder"]
        files.names.clear()
        store.append(confirmation(1))
        assert files.names == ["write", "sync"]
        files.names.clear()
        store.append(delivery(2), sync=False)
        assert files.names == ["write"]
        files.names.clear()
        store.save_snapshot()
        assert files.names[0] == "sync"  # a snapshot must not know of turns that the disk doesn't
        store.append(delivery(3), sync=False)
        files.names.clear()
    assert files.names == ["sync"]


def test_a_turn_out_of_order_is_refused(tmp_path: Path) -> None:
    with Store.open(tmp_path, Tally) as store:
        store.append(confirmation(1))
        for seq in (1, 3):
            with pytest.raises(ValueError, match=f"turn {seq} after turn 1"):
                store.append(confirmation(seq))
        assert [confirmation(1)] == list(store.turns())


def test_turns_can_be_read_while_more_are_appended(tmp_path: Path) -> None:
    with Store.open(tmp_path, Tally) as store:
        store.append(confirmation(1))
        reading = store.turns()
        assert confirmation(1) == next(reading)
        store.append(confirmation(2))
        assert [confirmation(1), confirmation(2)] == list(store.turns())


@pytest.mark.parametrize("snapshot_after", [None, 2, 3])
def test_a_torn_last_line_is_cut_off_and_set_aside(tmp_path: Path, snapshot_after: int | None) -> None:
    turns = filled(tmp_path, 3, snapshot_after)
    whole = history_of(tmp_path).read_bytes()
    torn = b'{"v":1,"crc":"0000'
    history_of(tmp_path).write_bytes(whole + torn)

    with Store.open(tmp_path, Tally) as store:
        aside = tmp_path / "history.torn-1"
        assert Recovery(3, 0, True, None, (aside,)) == store.recovery
        assert torn == aside.read_bytes()
        assert whole == history_of(tmp_path).read_bytes()
        store.append(confirmation(4))

    assert ([*turns, confirmation(4)], fold_of([*turns, confirmation(4)])) == reopened(tmp_path)


def test_a_second_torn_line_goes_to_a_file_of_its_own(tmp_path: Path) -> None:
    filled(tmp_path, 1)
    for torn in (b"one", b"two"):
        with history_of(tmp_path).open("ab") as file:
            file.write(torn)
        reopened(tmp_path)

    assert (tmp_path / "history.torn-1").read_bytes() == b"one"
    assert (tmp_path / "history.torn-2").read_bytes() == b"two"


def test_a_last_line_that_lacks_only_its_break_is_kept(tmp_path: Path) -> None:
    turns = filled(tmp_path, 3)
    whole = history_of(tmp_path).read_bytes()
    history_of(tmp_path).write_bytes(whole.removesuffix(b"\n"))

    assert turns == list(read_only(tmp_path, Tally).turns())
    assert turns == reopened(tmp_path)[0]
    assert whole == history_of(tmp_path).read_bytes()


@pytest.mark.parametrize("snapshot_after", [None, 1, 2, 4])
def test_a_damaged_line_is_set_aside_with_a_copy_of_the_whole_file(tmp_path: Path, snapshot_after: int | None) -> None:
    turns = filled(tmp_path, 4, snapshot_after)
    lines = history_of(tmp_path).read_bytes().splitlines(keepends=True)
    damaged = b"".join([lines[0], lines[1], lines[2].replace(b"pad_change", b"pad_chonge"), lines[3]])
    history_of(tmp_path).write_bytes(damaged)
    good = [turns[0], turns[1], turns[3]]

    with Store.open(tmp_path, Tally) as store:
        copy = tmp_path / "history.damaged-1.jsonl"
        assert store.recovery is not None
        assert (store.recovery.kept, store.recovery.set_aside, store.recovery.torn) == (3, 1, False)
        assert copy in store.recovery.files
        assert damaged == copy.read_bytes()
        assert good == list(store.turns())
        assert fold_of(good) == store.state
        assert b"".join([lines[0], lines[1], lines[3]]) == history_of(tmp_path).read_bytes()
        store.append(confirmation(5))

    with Store.open(tmp_path, Tally) as store:
        assert store.recovery is None
        assert [*good, confirmation(5)] == list(store.turns())


def test_an_earlier_copy_of_a_damaged_file_is_never_overwritten(tmp_path: Path) -> None:
    filled(tmp_path, 2)
    (tmp_path / "history.damaged-1.jsonl").write_bytes(b"earlier")
    with history_of(tmp_path).open("ab") as file:
        file.write(b"rubbish\n")

    with Store.open(tmp_path, Tally) as store:
        assert Recovery(2, 1, False, None, (tmp_path / "history.damaged-2.jsonl",)) == store.recovery
    assert (tmp_path / "history.damaged-1.jsonl").read_bytes() == b"earlier"


def test_a_disk_too_full_to_repair_gets_one_copy_of_the_damaged_file_not_one_at_each_start(tmp_path: Path) -> None:
    filled(tmp_path, 2)
    with history_of(tmp_path).open("ab") as file:
        file.write(b"rubbish\n")

    class NoRoomForAnother(HastyFiles):
        def replace(self, source: Path, target: Path) -> None:
            if target == history_of(tmp_path):
                raise OSError(errno.ENOSPC, "No space left on device")
            super().replace(source, target)

    for _ in range(3):
        with pytest.raises(StoreError, match="the disk is full"):
            Store.open(tmp_path, Tally, files=NoRoomForAnother())

    assert [path.name for path in tmp_path.glob("history.damaged-*")] == ["history.damaged-1.jsonl"]
    assert [confirmation(1), confirmation(2)] == reopened(tmp_path)[0]


def test_a_block_that_a_disk_repeats_is_counted_once(tmp_path: Path) -> None:
    turns = filled(tmp_path, 3)
    lines = history_of(tmp_path).read_bytes().splitlines(keepends=True)
    history_of(tmp_path).write_bytes(b"".join([lines[0], lines[1], lines[0], lines[1], lines[2]]))

    assert (turns, fold_of(turns)) == reopened(tmp_path)


def test_a_file_that_changes_under_an_open_store_is_reported_not_read_past(tmp_path: Path) -> None:
    filled(tmp_path, 3)
    with Store.open(tmp_path, Tally) as store:
        content = history_of(tmp_path).read_bytes()
        history_of(tmp_path).write_bytes(content.replace(b"pad_change", b"pad_chonge", 1))

        with pytest.raises(StoreError, match="has changed since it was opened"):
            list(store.turns())


def _only(name: str, *nth: int):  # type: ignore[no-untyped-def]
    """Whether this is one of the ``nth`` operations of that name, from 1."""
    seen = 0

    def fails(count: int, operation: str) -> bool:
        nonlocal seen
        seen += operation == name
        return operation == name and seen in nth

    return fails


@pytest.mark.parametrize(
    ("files", "message"),
    [
        (FailingFiles(_only("write", 2), errno.ENOSPC), "the disk is full; nothing was recorded; free some space"),
        (FailingFiles(_only("write", 2), errno.EIO), "the disk reported a fault"),
        (FailingFiles(_only("write", 2), half_writes=True), "took only part of a record"),
        (FailingFiles(_only("sync", 3), errno.EIO), "the disk reported a fault"),
        (FailingFiles(_only("sync", 3), errno.ENOSPC), "the disk is full"),
        (FailingFiles(lambda n, name: n in (6, 7), half_writes=True), "took only part of a record"),
    ],
)
def test_after_a_failed_append_nothing_of_it_is_there_and_the_next_one_works(
    tmp_path: Path, files: FailingFiles, message: str
) -> None:
    """The last case fails to cut the half line off as well."""
    with Store.open(tmp_path, Tally, files=files) as store:
        store.append(confirmation(1))
        with pytest.raises(StoreError, match=message) as failure:
            store.append(confirmation(2))
        assert "\n" not in str(failure.value)
        assert [confirmation(1)] == list(store.turns())
        assert fold_of([confirmation(1)]) == store.state

        store.append(confirmation(2))

    assert [confirmation(1), confirmation(2)] == reopened(tmp_path)[0]


def test_after_a_failed_sync_the_file_is_gone_over_before_anything_is_appended(tmp_path: Path) -> None:
    """A turn that was acknowledged unsynced and then lost by the disk is written again."""
    files = FailingFiles(_only("sync", 3))
    with Store.open(tmp_path, Tally, files=files) as store:
        store.append(confirmation(1))
        safe = history_of(tmp_path).read_bytes()
        store.append(delivery(2), sync=False)
        with pytest.raises(StoreError):
            store.append(confirmation(3))
        history_of(tmp_path).write_bytes(safe)  # what a failed sync may do to the turn before

        store.append(confirmation(3))

    assert [confirmation(1), delivery(2), confirmation(3)] == reopened(tmp_path)[0]


def test_after_a_failed_sync_the_file_is_synced_even_for_a_turn_that_needs_none(tmp_path: Path) -> None:
    files = FailingFiles(_only("sync", 2))
    with Store.open(tmp_path, Tally, files=files) as store:
        store.append(delivery(1), sync=False)
        with pytest.raises(StoreError):
            store.append(confirmation(2))
        files.names.clear()
        store.append(delivery(2), sync=False)
        assert files.names == ["open", "truncate", "write", "sync", "sync_folder", "write"]


def test_after_a_failed_sync_a_file_that_lost_safe_turns_is_not_appended_to(tmp_path: Path) -> None:
    files = FailingFiles(_only("sync", 4))
    store = Store.open(tmp_path, Tally, files=files)
    store.append(confirmation(1))
    store.append(confirmation(2))
    with pytest.raises(StoreError):
        store.append(confirmation(3))
    content = history_of(tmp_path).read_bytes()
    lost = content[: len(content) // 2 + 10]
    history_of(tmp_path).write_bytes(lost)

    for _ in range(2):
        with pytest.raises(StoreError, match="start Vatside again"):
            store.append(confirmation(3))
    with pytest.raises(StoreError, match="start Vatside again"):
        store.close()
    assert lost == history_of(tmp_path).read_bytes()
    assert [confirmation(1)] == reopened(tmp_path)[0]


def test_a_disk_that_does_not_keep_what_it_takes_is_not_appended_to(tmp_path: Path) -> None:
    class Lying(FailingFiles):
        def write(self, fd: int, data: bytes) -> int:
            return super().write(fd, data if data.count(b"\n") == 1 else b"\0" * len(data))

    store = Store.open(tmp_path, Tally, files=Lying(_only("sync", 2)))
    store.append(delivery(1), sync=False)
    store.append(delivery(2), sync=False)
    with pytest.raises(StoreError, match="the disk reported a fault"):
        store.append(confirmation(3))
    with pytest.raises(StoreError, match="does not keep what is written"):
        store.append(confirmation(3))
    with pytest.raises(StoreError, match="does not keep what is written"):
        store.close()


def test_a_disk_that_fails_for_good_fails_every_append_and_keeps_what_was_acknowledged(tmp_path: Path) -> None:
    dead = False
    files = FailingFiles(lambda count, name: dead)
    store = Store.open(tmp_path, Tally, files=files)
    store.append(confirmation(1))
    dead = True
    for _ in range(3):
        with pytest.raises(StoreError):
            store.append(confirmation(2))
    with pytest.raises(StoreError):
        store.close()

    assert [confirmation(1)] == reopened(tmp_path)[0]
