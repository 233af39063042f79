"""The records of one kitchen: every turn ever acknowledged, and the state that they add up to.

A turn is written to the history, and made safe there, before it changes the state; so nothing is ever
acknowledged that is not on the disk.
"""

from __future__ import annotations

import errno
import os
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from types import TracebackType
from typing import Generic, Self

from filelock import FileLock

from bot.core.records import Turn
from bot.store.errors import StoreError, explain
from bot.store.files import Files, make_folders
from bot.store.folding import S, fold
from bot.store.history import HISTORY_NAME, Extent, History, read_pieces
from bot.store.lines import LineFormat
from bot.store.lock import take_lock
from bot.store.migrations import MIGRATIONS, Migration
from bot.store.repair import Recovery, diagnose, repair
from bot.store.snapshot import SNAPSHOT_NAME, SNAPSHOT_VERSION, Snapshot, write_snapshot


class Records(Generic[S]):
    """The records of a folder as they stood when it was opened; ``read_only`` makes one.

    ``recovery`` is None where nothing was wrong with them.
    """

    def __init__(
        self, folder: Path, state: S, recovery: Recovery | None, lines: LineFormat, size: int, damaged: int
    ) -> None:
        self.folder = folder
        self.state = state
        self.recovery = recovery
        self._lines = lines
        self._size = size
        self._damaged = damaged

    def turns(self) -> Iterator[Turn]:
        """Every turn of the history, oldest first, without those that were set aside as damaged.

        Raises ``StoreError`` where the file can't be read, or was damaged after it was opened.
        """
        history = self.folder / HISTORY_NAME
        allowed = self._damaged
        try:
            for piece in read_pieces(history, self._lines, Extent(), last_seq=0, end=self._size):
                if piece.turn is not None:
                    yield piece.turn
                    continue
                allowed -= 1
                if allowed < 0:
                    raise StoreError(f"{history}: the file has changed since it was opened; start Vatside again")
        except OSError as error:
            raise explain(error, history) from error


class Store(Records[S]):
    """The records of a folder, open for writing by this process alone. ``Store.open`` makes one."""

    def __init__(
        self,
        folder: Path,
        state: S,
        recovery: Recovery | None,
        lines: LineFormat,
        history: History,
        lock: FileLock,
        files: Files,
        fold_version: int,
    ) -> None:
        super().__init__(folder, state, recovery, lines, history.extent.length, damaged=0)
        self._history = history
        self._lock = lock
        self._files = files
        self._fold_version = fold_version

    @classmethod
    def open(
        cls,
        folder: Path,
        empty: Callable[[], S],
        *,
        fold_version: int = 1,
        migrations: Sequence[Migration] = MIGRATIONS,
        files: Files | None = None,
    ) -> Store[S]:
        """The store in ``folder``, which is made if it isn't there; whatever is damaged in it is set aside.

        ``empty`` makes the state before the first turn. ``fold_version`` is to be raised whenever ``apply`` comes
        to make another state of the same turns: states saved under another number are not used.

        Raises ``StoreBusy`` where another process has it open, and ``StoreError`` where the folder can't be used
        or a newer version of Vatside wrote in it; nothing in it is changed then.
        """
        files = files or Files()
        lines = LineFormat(migrations)
        try:
            make_folders(files, folder)
        except OSError as error:
            raise explain(error, folder) from error
        lock = take_lock(folder)
        try:
            folded = fold(folder, empty, files, lines, fold_version)
            extent, recovery = repair(folder, folded, files, lines)
            history = History(folder / HISTORY_NAME, files, lines, extent)
        except BaseException as error:
            lock.release()
            if isinstance(error, OSError):
                raise explain(error, folder) from error
            raise
        return cls(folder, folded.state, recovery, lines, history, lock, files, fold_version)

    def append(self, turn: Turn, *, sync: bool = True) -> None:
        """Write ``turn`` to the history, then apply it to the state.

        With ``sync`` it is on the disk when this returns. Without, a power cut may still take it, though never a
        crash of the process; meant for turns that only say that a message was delivered.

        Raises ``StoreError``, and then neither the history nor the state has changed; the same turn may be tried
        again. Raises ``ValueError`` where the turn's number doesn't follow the last one.
        """
        if turn.seq != self.state.seq + 1:
            raise ValueError(f"turn {turn.seq} after turn {self.state.seq}")
        self._mend()
        self._history.append(turn, sync=sync)
        self._size = self._history.extent.length
        self.state.apply(turn)

    def save_snapshot(self) -> None:
        """Save the state, so that the next start need only read the turns after this one.

        Raises ``StoreError``; the records are as safe as before then, and the store can be used on.
        """
        self._mend()
        self._history.sync()
        extent = self._history.extent
        snapshot = Snapshot(
            v=SNAPSHOT_VERSION,
            fold=self._fold_version,
            format=self._lines.version,
            seq=self.state.seq,
            history_bytes=extent.length,
            history_crc=extent.crc,
            history_lines=extent.lines,
            state=self.state,
        )
        path = self.folder / SNAPSHOT_NAME
        try:
            write_snapshot(path, self._files, snapshot)
        except OSError as error:
            raise explain(error, path) from error

    def close(self) -> None:
        """Make every turn safe and let the folder go. Raises ``StoreError`` where the first can't be done."""
        try:
            self._history.close()
        finally:
            self._lock.release()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _mend(self) -> None:
        """After a failure of the disk, go over the history again before it is used."""
        if self._history.broken:
            self._history.reopen()


def read_only(
    folder: Path,
    empty: Callable[[], S],
    *,
    fold_version: int = 1,
    migrations: Sequence[Migration] = MIGRATIONS,
) -> Records[S]:
    """The records in ``folder``, while another process may be writing there and even where nothing may be written.

    Damaged lines are left out and left alone; ``recovery`` tells of them. Raises ``StoreError``.
    """
    lines = LineFormat(migrations)
    try:
        if not (folder / HISTORY_NAME).exists():
            code = errno.ENOENT if folder.is_dir() or not folder.exists() else errno.ENOTDIR
            raise OSError(code, os.strerror(code))
        folded = fold(folder, empty, Files(), lines, fold_version)
    except OSError as error:
        raise explain(error, folder) from error
    damaged = folded.damaged + folded.torn
    return Records(folder, folded.state, diagnose(folded), lines, folded.size, damaged)
