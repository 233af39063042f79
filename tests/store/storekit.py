"""What the tests of the store share: turns, a small state, and file systems that fail on demand."""

from __future__ import annotations

import errno
import os
import random
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

from msgspec import Struct, field

from bot.core.records import Confirmed, Delivered, Outgoing, Turn
from bot.store import Store, StoreError
from bot.store.files import Files
from bot.store.history import HISTORY_NAME

START = datetime(2026, 3, 2, 21, 30, tzinfo=UTC)


class Tally(Struct):
    """A state that tells any two histories apart: the number of each turn and the last time of each duty."""

    seq: int = 0
    seqs: list[int] = field(default_factory=list)
    last: dict[str, datetime] = field(default_factory=dict)

    def apply(self, turn: Turn) -> None:
        self.seq = turn.seq
        self.seqs.append(turn.seq)
        for change in turn.changes:
            if isinstance(change, Confirmed):
                self.last[f"{change.duty}|{change.fryer}"] = change.done_at


def confirmation(seq: int) -> Turn:
    """A turn that confirms a duty and answers, with a text that needs escaping and more than ASCII."""
    at = START + timedelta(minutes=seq)
    done = Confirmed(seq, "pad_change", str(seq % 3 + 1), at, None, "unscheduled", "ben")
    said = Outgoing(seq, at, "ben", "reply", f'Anotado: "¿almohadilla?" {{"v":1}}\n{seq}')
    return Turn(seq, at, (done,), (said,), cause=f"tg:{seq}")


def delivery(seq: int) -> Turn:
    """A turn that only says that a message arrived."""
    return Turn(seq, START + timedelta(minutes=seq), (Delivered(seq),))


def fold_of(turns: list[Turn]) -> Tally:
    """The state that ``turns`` add up to."""
    state = Tally()
    for turn in turns:
        state.apply(turn)
    return state


class HastyFiles(Files):
    """Waits for no disk: what a test needs that cuts no real power and would sync thousands of times."""

    def sync(self, fd: int) -> None:
        os.fstat(fd)

    def sync_folder(self, path: Path) -> None:
        path.stat()


def filled(folder: Path, count: int, snapshot_after: int | None = None) -> list[Turn]:
    """Make a store of ``count`` turns, with a snapshot after one of them; its turns."""
    turns = [confirmation(n) for n in range(1, count + 1)]
    with Store.open(folder, Tally, files=HastyFiles()) as store:
        for turn in turns:
            store.append(turn)
            if turn.seq == snapshot_after:
                store.save_snapshot()
    return turns


def reopened(folder: Path) -> tuple[list[Turn], Tally]:
    """What a store holds when it is opened again."""
    with Store.open(folder, Tally, files=HastyFiles()) as store:
        return list(store.turns()), store.state


class Crash(BaseException):
    """The process is gone; nothing of it runs on."""


class WatchedFiles(HastyFiles):
    """Calls ``before`` ahead of every operation, with its name, and notes and counts them."""

    def __init__(self) -> None:
        self.names: list[str] = []
        self.count = 0

    def before(self, operation: str) -> None:
        self.names.append(operation)
        self.count += 1

    def make_folder(self, path: Path) -> None:
        self.before("make_folder")
        super().make_folder(path)

    def open_append(self, path: Path) -> int:
        self.before("open")
        return super().open_append(path)

    def open_new(self, path: Path) -> int:
        self.before("open")
        return super().open_new(path)

    def write(self, fd: int, data: bytes) -> int:
        self.before("write")
        return super().write(fd, data)

    def sync(self, fd: int) -> None:
        self.before("sync")
        super().sync(fd)

    def truncate(self, fd: int, length: int) -> None:
        self.before("truncate")
        super().truncate(fd, length)

    def replace(self, source: Path, target: Path) -> None:
        self.before("replace")
        super().replace(source, target)

    def remove(self, path: Path) -> None:
        self.before("remove")
        super().remove(path)

    def restrict(self, path: Path, mode: int) -> None:
        self.before("restrict")
        super().restrict(path, mode)

    def sync_folder(self, path: Path) -> None:
        self.before("sync_folder")
        super().sync_folder(path)


class FailingFiles(WatchedFiles):
    """Fails at chosen operations; a failing write may have put half of its bytes down first."""

    def __init__(self, fails: Callable[[int, str], bool], code: int = errno.EIO, half_writes: bool = False) -> None:
        super().__init__()
        self._fails = fails
        self._code = code
        self._half_writes = half_writes

    def before(self, operation: str) -> None:
        super().before(operation)
        if self._fails(self.count, operation):
            raise OSError(self._code, os.strerror(self._code))

    def write(self, fd: int, data: bytes) -> int:
        try:
            return super().write(fd, data)
        except OSError:
            if self._half_writes:
                return os.write(fd, data[: len(data) // 2])
            raise


class MortalFiles(WatchedFiles):
    """Dies at the operation ``dies_at``: before it, or half-way through a write. Nothing works afterwards."""

    def __init__(self, dies_at: int) -> None:
        super().__init__()
        self._dies_at = dies_at

    def before(self, operation: str) -> None:
        super().before(operation)
        if self.count >= self._dies_at:
            raise Crash

    def write(self, fd: int, data: bytes) -> int:
        try:
            return super().write(fd, data)
        except Crash:
            if self.count == self._dies_at:
                os.write(fd, data[: len(data) // 2])
            raise


class UnpoweredFiles(MortalFiles):
    """Dies like ``MortalFiles``; ``cut_power`` then leaves on the disk only what was made safe, and some more.

    A file's bytes are safe once it was synced, its name once its folder was. What was not may be there or not:
    ``renames_reach_disk`` makes every name safe at once, and a random part of the bytes added since the last
    sync stays.
    """

    def __init__(self, folder: Path, dies_at: int, renames_reach_disk: bool) -> None:
        super().__init__(dies_at)
        self._folder = folder
        self._eager = renames_reach_disk
        self._bytes: dict[int, bytes] = {}
        self._held: list[int] = []  # open descriptors keep a file's number from being given to another
        self._names: dict[str, int] = {}
        for path in self._files_there():
            self._bytes[self._hold(path)] = path.read_bytes()
        self._names = self._names_now()

    def open_append(self, path: Path) -> int:
        fd = super().open_append(path)
        self._bytes.setdefault(self._hold(path), b"")
        return fd

    def open_new(self, path: Path) -> int:
        fd = super().open_new(path)
        self._bytes.setdefault(self._hold(path), b"")
        return fd

    def sync(self, fd: int) -> None:
        super().sync(fd)
        status = os.fstat(fd)
        self._bytes[status.st_ino] = os.pread(fd, status.st_size, 0)

    def sync_folder(self, path: Path) -> None:
        super().sync_folder(path)
        if path == self._folder:
            self._names = self._names_now()

    def cut_power(self, chance: random.Random) -> None:
        names = self._names_now() if self._eager else self._names
        now = {path.stat().st_ino: path.read_bytes() for path in self._files_there()}
        for path in self._files_there():
            path.unlink()
        for name, number in names.items():
            safe = self._bytes[number]
            added = now.get(number, b"")[len(safe) :] if now.get(number, b"").startswith(safe) else b""
            (self._folder / name).write_bytes(safe + added[: chance.randint(0, len(added))])
        for fd in self._held:
            os.close(fd)

    def _hold(self, path: Path) -> int:
        fd = os.open(path, os.O_RDONLY)
        self._held.append(fd)
        return os.fstat(fd).st_ino

    def _files_there(self) -> Iterator[Path]:
        yield from ((path for path in self._folder.iterdir() if path.name != "lock") if self._folder.is_dir() else ())

    def _names_now(self) -> dict[str, int]:
        return {path.name: path.stat().st_ino for path in self._files_there()}


class Evening:
    """A sequence of appends, snapshots and reopenings on one folder, and what was acknowledged in it.

    A turn that fails is tried once more, as a person would who is told that it wasn't saved.
    """

    SITTINGS = ("aadas", "daasaad", "as")
    """What is done between an opening and the next: a confirmation, a delivery, a snapshot."""
    TURNS = 11

    def __init__(self, folder: Path, files: Files) -> None:
        self.folder = folder
        self.files = files
        self.acknowledged: list[Turn] = []
        self.safe: list[Turn] = []
        self.errors = 0

    def run(self) -> None:
        """Goes through with it all, whatever fails on the way."""
        for actions in self.SITTINGS:
            store = self._open()
            if store is None:
                continue
            for action in actions:
                self._act(store, action)
            self._attempt(store.close)

    def _open(self) -> Store[Tally] | None:
        for _ in range(2):
            try:
                return Store.open(self.folder, Tally, files=self.files)
            except StoreError:
                self.errors += 1
        return None

    def _act(self, store: Store[Tally], action: str) -> None:
        if action == "s":
            self._attempt(store.save_snapshot)
            return
        seq = store.state.seq + 1
        turn = confirmation(seq) if action == "a" else delivery(seq)
        for _ in range(2):
            if self._attempt(lambda: store.append(turn, sync=action == "a")):
                self.acknowledged.append(turn)
                if action == "a":
                    self.safe = list(self.acknowledged)
                return

    def _attempt(self, action: Callable[[], None]) -> bool:
        try:
            action()
        except StoreError:
            self.errors += 1
            return False
        return True


def history_of(folder: Path) -> Path:
    """The history file of a store."""
    return folder / HISTORY_NAME
