"""Opening a store, or being told in one line why not."""

from __future__ import annotations

import errno
import os
import stat
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from bot.store import Recovery, Store, StoreBusy, StoreError, read_only
from bot.store.files import Files
from tests.store.storekit import FailingFiles, Tally, confirmation, filled, fold_of, history_of


def _mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def _content(folder: Path) -> dict[str, tuple[bytes, int]]:
    return {path.name: (path.read_bytes(), path.stat().st_mtime_ns) for path in folder.iterdir()}


@contextmanager
def _as_nobody() -> Iterator[None]:
    """Permissions don't bind the superuser, as whom tests may run."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that every user can reach, unlike pytest's own."""
    with tempfile.TemporaryDirectory() as name:
        Path(name).chmod(0o755)
        yield Path(name)


def test_folders_and_files_are_for_this_user_alone(tmp_path: Path) -> None:
    folder = tmp_path / "new" / "kitchen"
    filled(folder, 2, snapshot_after=2)

    assert [_mode(folder.parent), _mode(folder)] == [0o700, 0o700]
    assert {path.name: _mode(path) for path in folder.iterdir()} == {
        "history.jsonl": 0o600,
        "state.json": 0o600,
        "lock": 0o600,
    }


def test_a_new_folder_and_a_new_file_are_made_safe_by_their_folders(tmp_path: Path) -> None:
    class Noting(Files):
        def sync_folder(self, path: Path) -> None:
            synced.append(path)
            super().sync_folder(path)

    synced: list[Path] = []
    Store.open(tmp_path / "a" / "b", Tally, files=Noting()).close()

    assert [tmp_path, tmp_path / "a", tmp_path / "a" / "b"] == synced


def test_a_file_system_that_can_not_sync_folders_is_forgiven_but_not_one_that_fails_to(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = os.fsync
    code = errno.EINVAL

    def fsync(fd: int) -> None:
        if stat.S_ISDIR(os.fstat(fd).st_mode):
            raise OSError(code, os.strerror(code))
        real(fd)

    monkeypatch.setattr(os, "fsync", fsync)
    with Store.open(tmp_path, Tally) as store:
        store.save_snapshot()
        code = errno.EIO
        with pytest.raises(StoreError, match="the disk reported a fault"):
            store.save_snapshot()


def test_a_second_store_on_the_same_folder_is_refused_until_the_first_is_closed(tmp_path: Path) -> None:
    with (
        Store.open(tmp_path, Tally),
        pytest.raises(StoreBusy, match="another Vatside process is using these records; stop it first"),
    ):
        Store.open(tmp_path, Tally)
    Store.open(tmp_path, Tally).close()


def test_a_store_can_be_closed_by_another_thread_than_opened_it(tmp_path: Path) -> None:
    store = Store.open(tmp_path, Tally)
    closing = threading.Thread(target=store.close)
    closing.start()
    closing.join()

    Store.open(tmp_path, Tally).close()


_HOLD = """
import sys
from pathlib import Path
sys.path.insert(0, {root!r})
from tests.store.storekit import Tally
from bot.store import Store
store = Store.open(Path({folder!r}), Tally)
print("open", flush=True)
sys.stdin.read()
"""


def test_another_process_that_holds_the_store_shuts_this_one_out_but_not_its_readers(tmp_path: Path) -> None:
    turns = filled(tmp_path, 3)
    script = _HOLD.format(root=str(Path(__file__).parents[2]), folder=str(tmp_path))
    with subprocess.Popen(
        [sys.executable, "-c", script], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == "open\n"
        with pytest.raises(StoreBusy):
            Store.open(tmp_path, Tally)
        assert turns == list(read_only(tmp_path, Tally).turns())
        other.kill()
    Store.open(tmp_path, Tally).close()


def test_a_failed_opening_lets_the_lock_go(tmp_path: Path) -> None:
    with pytest.raises(StoreError) as failure:
        Store.open(tmp_path, Tally, files=FailingFiles(lambda count, name: name == "sync_folder"))
    Store.open(tmp_path, Tally).close()
    assert "the disk reported a fault" in str(failure.value)


@pytest.mark.parametrize("inside", ["", "inside"])
def test_a_file_in_place_of_the_folder_is_named(tmp_path: Path, inside: str) -> None:
    path = tmp_path / "records"
    path.write_text("not a folder")

    with pytest.raises(StoreError, match=r"records.*: not a folder; choose a folder"):
        Store.open(path / inside, Tally)
    with pytest.raises(StoreError, match=r"records.*: (not a folder|no such file or folder); "):
        read_only(path / inside, Tally)


def test_a_folder_without_permission_to_write_says_so(open_folder: Path) -> None:
    filled(open_folder / "records", 1)
    (open_folder / "records").chmod(0o555)
    with _as_nobody():
        for folder in (open_folder / "records", open_folder / "records" / "new"):
            with pytest.raises(StoreError, match="no permission; give this user the right"):
                Store.open(folder, Tally)
    (open_folder / "records").chmod(0o755)


def test_records_in_a_folder_that_may_not_be_written_can_be_read(open_folder: Path) -> None:
    folder = open_folder / "records"
    turns = filled(folder, 3, snapshot_after=2)
    (folder / "lock").unlink()
    for path in folder.iterdir():
        path.chmod(0o444)
    folder.chmod(0o555)
    before = _content(folder)

    with _as_nobody():
        records = read_only(folder, Tally)
        assert turns == list(records.turns())
        assert fold_of(turns) == records.state
    assert before == _content(folder)
    folder.chmod(0o755)


@pytest.mark.parametrize(
    ("code", "message"),
    [
        (errno.EROFS, "read-only; make it writable"),
        (errno.ENOSPC, "the disk is full; nothing was recorded; free some space"),
        (errno.EACCES, "no permission; give this user the right"),
        (errno.EMFILE, "Too many open files; "),
    ],
)
def test_what_the_system_refuses_is_one_line_with_advice(tmp_path: Path, code: int, message: str) -> None:
    with pytest.raises(StoreError, match=message) as failure:
        Store.open(tmp_path, Tally, files=FailingFiles(lambda count, name: name == "open", code))
    assert "\n" not in str(failure.value)


@pytest.mark.parametrize("folder", ["missing", "empty"])
def test_reading_a_folder_that_holds_no_records_says_so(tmp_path: Path, folder: str) -> None:
    (tmp_path / "empty").mkdir()

    with pytest.raises(StoreError, match=rf"{folder}: no such file or folder; check the name"):
        read_only(tmp_path / folder, Tally)
    assert [path.name for path in tmp_path.iterdir()] == ["empty"]


def test_a_reader_tells_of_damage_and_leaves_it_alone(tmp_path: Path) -> None:
    turns = filled(tmp_path, 4, snapshot_after=4)
    lines = history_of(tmp_path).read_bytes().splitlines(keepends=True)
    history_of(tmp_path).write_bytes(b"".join([lines[0], b"x" * (len(lines[1]) - 1) + b"\n", *lines[2:], b'{"v":1,']))
    before = _content(tmp_path)

    records = read_only(tmp_path, Tally)

    good = [turns[0], turns[2], turns[3]]
    problem = "it belongs to another history, or the history is damaged"
    assert Recovery(3, 1, True, problem) == records.recovery
    assert good == list(records.turns())
    assert fold_of(good) == records.state
    assert before == _content(tmp_path)


def test_a_reader_sees_the_records_as_they_were_when_it_opened_them(tmp_path: Path) -> None:
    with Store.open(tmp_path, Tally) as store:
        store.append(confirmation(1))
        records = read_only(tmp_path, Tally)
        store.append(confirmation(2))
        store.save_snapshot()

        assert [confirmation(1)] == list(records.turns())
        assert [confirmation(1), confirmation(2)] == list(read_only(tmp_path, Tally).turns())
