"""The saved state: it saves time, and is never believed against the history."""

from __future__ import annotations

import errno
import json
from collections.abc import Callable
from pathlib import Path

import pytest
from msgspec import Struct
from tinydb import TinyDB

from bot.core.records import Confirmed, Turn
from bot.core.state import State
from bot.store import Recovery, Store, StoreError
from bot.store.files import Files
from bot.store.snapshot import SafeJSONStorage
from tests.store.storekit import FailingFiles, Tally, confirmation, filled, fold_of, history_of, reopened


class Counting(Tally):
    """A state that can't be saved right: it forgets how many turns were applied to it."""

    def apply(self, turn: Turn) -> None:
        super().apply(turn)
        applied.append(turn.seq)


applied: list[int] = []


def test_after_a_snapshot_only_later_turns_are_folded_again(tmp_path: Path) -> None:
    turns = filled(tmp_path, 5, snapshot_after=3)
    applied.clear()

    with Store.open(tmp_path, Counting) as store:
        assert applied == [4, 5]
        assert fold_of(turns).seqs == store.state.seqs
        assert fold_of(turns).last == store.state.last
        assert store.recovery is None


def test_the_state_of_the_helper_comes_back_from_a_snapshot_as_it_was(tmp_path: Path) -> None:
    with Store.open(tmp_path, State) as store:
        for seq in range(1, 6):
            store.append(confirmation(seq))
        store.save_snapshot()
        before = store.state

    with Store.open(tmp_path, State) as store:
        assert before == store.state
        assert store.recovery is None


def test_a_snapshot_is_one_tinydb_document(tmp_path: Path) -> None:
    filled(tmp_path, 2, snapshot_after=2)

    with TinyDB(tmp_path / "state.json", Files(), storage=SafeJSONStorage) as db:
        (document,) = db.table("snapshot").all()
    assert document["seq"] == 2
    assert history_of(tmp_path).stat().st_size == document["history_bytes"]


def test_a_missing_snapshot_is_nothing_to_report(tmp_path: Path) -> None:
    turns = filled(tmp_path, 3, snapshot_after=2)
    (tmp_path / "state.json").unlink()

    with Store.open(tmp_path, Tally) as store:
        assert fold_of(turns) == store.state
        assert store.recovery is None


def _edit(change: Callable[[dict[str, object]], None]) -> Callable[[bytes], bytes]:
    def edited(content: bytes) -> bytes:
        tables = json.loads(content)
        change(tables["snapshot"]["1"])
        return json.dumps(tables).encode()

    return edited


@pytest.mark.parametrize(
    "spoil",
    [
        lambda content: b"",
        lambda content: content[:-20],
        lambda content: b"[]",
        lambda content: b"{}",
        lambda content: b'{"snapshot": 3}',
        lambda content: b'{"snapshot": {"1": 3}}',
        lambda content: b'{"snapshot": {"1": {"v": 1}}}',
        lambda content: content + b"x",
        lambda content: content.replace(b"pad_change|3", b"pad_change|1"),
        _edit(lambda document: document.update(v=3)),
        _edit(lambda document: document.update(seq=1)),
        _edit(lambda document: document.update(state={"seq": 2})),
    ],
)
def test_a_damaged_snapshot_is_set_aside_and_the_state_comes_from_history(
    tmp_path: Path, spoil: Callable[[bytes], bytes]
) -> None:
    turns = filled(tmp_path, 4, snapshot_after=2)
    path = tmp_path / "state.json"
    spoilt = spoil(path.read_bytes())
    path.write_bytes(spoilt)

    with Store.open(tmp_path, Tally) as store:
        aside = tmp_path / "state.aside-1.json"
        assert store.recovery is not None
        assert (4, 0, (aside,)) == (store.recovery.kept, store.recovery.set_aside, store.recovery.files)
        assert spoilt == aside.read_bytes()
        assert fold_of(turns) == store.state
        store.save_snapshot()
    with Store.open(tmp_path, Tally) as store:
        assert store.recovery is None


def test_a_snapshot_folded_by_other_rules_is_set_aside(tmp_path: Path) -> None:
    turns = filled(tmp_path, 3, snapshot_after=3)

    with Store.open(tmp_path, Tally, fold_version=2) as store:
        aside = tmp_path / "state.aside-1.json"
        assert Recovery(3, 0, False, "another version of Vatside wrote it", (aside,)) == store.recovery
        assert fold_of(turns) == store.state


def test_a_snapshot_of_a_state_with_other_fields_is_set_aside(tmp_path: Path) -> None:
    class Bare(Struct, forbid_unknown_fields=True):
        seq: int = 0

        def apply(self, turn: Turn) -> None:
            self.seq = turn.seq

    filled(tmp_path, 3, snapshot_after=3)

    with Store.open(tmp_path, Bare) as store:
        assert Bare(3) == store.state
        assert store.recovery is not None


def test_a_snapshot_beside_a_history_put_back_from_a_backup_is_set_aside(tmp_path: Path) -> None:
    """Shorter than the snapshot knows of, or as long but another one: either way the history is believed."""
    filled(tmp_path / "one", 3, snapshot_after=3)
    short = b"".join(history_of(tmp_path / "one").read_bytes().splitlines(keepends=True)[:2])
    history_of(tmp_path / "one").write_bytes(short)
    assert fold_of([confirmation(1), confirmation(2)]) == reopened(tmp_path / "one")[1]

    filled(tmp_path / "two", 3, snapshot_after=3)
    with Store.open(tmp_path / "other", Tally) as store:
        for seq in (1, 2, 3, 4):
            turn = confirmation(seq)
            done = turn.changes[0]
            assert isinstance(done, Confirmed)
            other = Confirmed(seq, "boil_out", "9", done.done_at, None, "late", "ana")
            store.append(Turn(seq, turn.at, (other,), turn.out))
        expected = store.state
    history_of(tmp_path / "two").write_bytes(history_of(tmp_path / "other").read_bytes())
    assert expected == reopened(tmp_path / "two")[1]


def test_a_snapshot_on_a_disk_that_takes_less_and_less_fails_as_on_a_full_one(tmp_path: Path) -> None:
    armed = False
    files = FailingFiles(lambda count, name: armed and name == "write", half_writes=True)
    with Store.open(tmp_path, Tally, files=files) as store:
        store.append(confirmation(1))
        armed = True
        with pytest.raises(StoreError, match=r"state\.json: the disk is full"):
            store.save_snapshot()


@pytest.mark.parametrize("operation", ["open", "write", "sync", "replace", "sync_folder"])
def test_a_snapshot_that_fails_leaves_a_whole_one_and_no_temporary_file(tmp_path: Path, operation: str) -> None:
    turns = filled(tmp_path, 3, snapshot_after=1)
    armed = False
    files = FailingFiles(lambda count, name: armed and name == operation, errno.ENOSPC)

    store = Store.open(tmp_path, Tally, files=files)
    armed = True
    with pytest.raises(StoreError, match=r"state\.json: the disk is full"):
        store.save_snapshot()
    armed = False
    store.append(confirmation(4))
    store.close()

    assert sorted(path.name for path in tmp_path.iterdir()) == ["history.jsonl", "lock", "state.json"]
    with Store.open(tmp_path, Tally) as store:
        assert store.recovery is None
        assert fold_of([*turns, confirmation(4)]) == store.state


def test_a_snapshot_replaces_whatever_lies_there(tmp_path: Path) -> None:
    """Damage that comes while the store is open needs no attention: the next snapshot is a new file."""
    turns = filled(tmp_path, 2)
    with Store.open(tmp_path, Tally) as store:
        (tmp_path / "state.json").write_bytes(b"\0" * 10)
        store.save_snapshot()

    with Store.open(tmp_path, Tally) as store:
        assert store.recovery is None
        assert fold_of(turns) == store.state
