"""The records of one kitchen: every turn ever acknowledged, and the state that they add up to.

A turn is written to the history, and made safe there, before it changes the state; so nothing is ever
acknowledged that is not on the disk.
"""

from __future__ import annotations

import errno
import os
from collections.abc import Callable, Generator, Iterator, Sequence
from pathlib import Path
from types import TracebackType
from typing import Generic, Self

from filelock import FileLock

from bot.core.records import Turn
from bot.store.errors import StoreError, explain
from bot.store.evidence import keep_photo
from bot.store.files import Files, make_folders
from bot.store.folding import Folded, Part, S, fold
from bot.store.history import HISTORY_NAME, Extent, History, read_pieces
from bot.store.lines import LineFormat
from bot.store.lock import take_lock
from bot.store.migrations import MIGRATIONS, Migration
from bot.store.repair import Recovery, diagnose, repair
from bot.store.rewriting import parts_of
from bot.store.snapshot import SNAPSHOT_NAME, SNAPSHOT_VERSION, Snapshot, write_snapshot
from bot.store.upkeep import Kept, Upkeep, keep_up
from bot.store.year_end import Moved, YearEnd

TRIES = 5


class Records(Generic[S]):
    """The records of a folder as they stood when it was opened; ``read_only`` makes one.

    ``recovery`` is None where nothing was wrong with them.
    """

    def __init__(self, folder: Path, folded: Folded[S], recovery: Recovery | None, lines: LineFormat) -> None:
        self.folder = folder
        self.state = folded.state
        self.recovery = recovery
        self._lines = lines
        self._parts = folded.parts
        self._identities = [_identity(part.path) for part in folded.parts]

    def turns(self) -> Iterator[Turn]:
        """Every turn, those of the archives first, oldest first, without those that were set aside as damaged.

        Raises ``StoreError`` where a file can't be read, or was damaged or replaced after it was opened.
        """
        last = 0
        for part, identity in zip(self._parts, self._identities, strict=True):
            allowed = part.lost
            archived = last
            if _identity(part.path) != identity:
                raise StoreError(f"{part.path}: the file was replaced since it was opened; try again")
            try:
                for piece in read_pieces(part.path, self._lines, Extent(), last, self._size(part), archived):
                    if piece.turn is not None:
                        last = piece.turn.seq
                        yield piece.turn
                    elif not piece.archived:
                        allowed -= 1
                    if allowed < 0:
                        raise StoreError(f"{part.path}: the file has changed since it was opened; start Vatside again")
            except OSError as error:
                raise explain(error, part.path) from error

    def _size(self, part: Part) -> int:
        """How many bytes of a file belong to these records."""
        return part.size


class Store(Records[S]):
    """The records of a folder, open for writing by this process alone. ``Store.open`` makes one.

    ``upkeep`` says what was done at opening, or is None where none was asked for.
    """

    def __init__(
        self,
        folder: Path,
        folded: Folded[S],
        recovery: Recovery | None,
        lines: LineFormat,
        history: History,
        lock: FileLock,
        files: Files,
        fold_version: int,
        upkeep: Kept | None,
    ) -> None:
        super().__init__(folder, folded, recovery, lines)
        self.upkeep = upkeep
        self._history = history
        self._archives = tuple((part.path.name, *_figures(part.extent)) for part in folded.archives)
        self._stripped_to = upkeep.stripped_to if upkeep is not None else folded.stripped_to
        self._lock = lock
        self._files = files
        self._fold_version = fold_version
        self._half_moved = False
        self._moving: Generator[None] | None = None

    @classmethod
    def open(
        cls,
        folder: Path,
        empty: Callable[[], S],
        *,
        fold_version: int = 1,
        migrations: Sequence[Migration] = MIGRATIONS,
        files: Files | None = None,
        upkeep: Upkeep | None = None,
    ) -> Store[S]:
        """The store in ``folder``, which is made if it isn't there; whatever is damaged in it is set aside.

        ``empty`` makes the state before the first turn. ``fold_version`` is to be raised whenever ``apply`` comes
        to make another state of the same turns: states saved under another number are not used. With ``upkeep``,
        past years are archived and old talk is dropped first; where that fails, the store is opened all the same.

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
        kept = None
        try:
            folded = fold(folder, empty, files, lines, fold_version)
            recovery = repair(folder, folded, files, lines)
            if upkeep is not None and folded.history.path.exists():
                unsent = getattr(folded.state, "outbox", ())
                kept = keep_up(folder, upkeep, files, lines, folded.stripped_to, unsent)
                if kept.changed:
                    folded = fold(folder, empty, files, lines, fold_version)
                    repair(folder, folded, files, lines)
            history = History(folder / HISTORY_NAME, files, lines, folded.history.extent)
        except BaseException as error:
            lock.release()
            if isinstance(error, OSError):
                raise explain(error, folder) from error
            raise
        return cls(folder, folded, recovery, lines, history, lock, files, fold_version, kept)

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
        self.state.apply(turn)

    def keep_photo(self, entry: int, photo: bytes) -> str:
        """Keep a photo with a log entry, safe on the disk; the name of its file.

        Raises ``StoreError``, and ``ValueError`` for what is no photo, too large, or one too many.
        """
        return keep_photo(self.folder, entry, photo, self._files)

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
            archives=self._archives,
            stripped_to=self._stripped_to,
        )
        path = self.folder / SNAPSHOT_NAME
        try:
            write_snapshot(path, self._files, snapshot)
        except OSError as error:
            raise explain(error, path) from error

    def move_past_years(self, year: int) -> Iterator[None]:
        """Move the turns of all years before ``year`` into archives while the store is in use, a slice at each step.

        Other things may be done with the store between two steps. Raises ``StoreError``; nothing is lost by it.
        """
        if self._moving is not None:
            self._moving.close()
        self._moving = self._move(year)
        return self._moving

    def _move(self, year: int) -> Generator[None]:
        if self._half_moved:
            return
        year_end = YearEnd(self._history, self._files, self._lines, year)
        try:
            for moved in year_end.slices():
                if moved is not None:
                    self._adopt(moved)
                    self._mend()
                yield
                if moved is not None:
                    self.save_snapshot()
        finally:
            self._half_moved = year_end.half

    def close(self) -> None:
        """Make every turn safe and let the folder go. Raises ``StoreError`` where the first can't be done."""
        try:
            if self._moving is not None:
                self._moving.close()
            self._history.close()
        finally:
            self._lock.release()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _adopt(self, moved: Moved) -> None:
        """Go on with the files that took the place of the history."""
        archives = {part.path: part for part in self._parts[:-1]}
        for path, extent in moved.archives.items():
            archives[path] = Part(path, extent, extent.length, extent.lines)
        old = tuple(archives[path] for path in sorted(archives))
        left = moved.left
        self._parts = (*old, Part(self._history.path, left, left.length, left.lines, after=moved.last))
        self._identities = [_identity(part.path) for part in self._parts]
        self._archives = tuple((part.path.name, *_figures(part.extent)) for part in old)

    def _size(self, part: Part) -> int:
        return self._history.extent.length if part is self._parts[-1] else part.size

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
        folded = _steady_fold(folder, empty, lines, fold_version)
    except OSError as error:
        raise explain(error, folder) from error
    return Records(folder, folded, diagnose(folded), lines)


def _steady_fold(folder: Path, empty: Callable[[], S], lines: LineFormat, fold_version: int) -> Folded[S]:
    """Fold files that another process may replace meanwhile: a start of the helper archives past years."""
    for _ in range(TRIES):
        before = {path: _identity(path) for path in parts_of(folder)}
        folded = fold(folder, empty, Files(), lines, fold_version)
        if before == {path: _identity(path) for path in parts_of(folder)}:
            return folded
    raise StoreError(f"{folder}: another process is rewriting the records; try again in a minute")


def _identity(path: Path) -> int | None:
    """What tells a file from one that has taken its place; None where there is none."""
    try:
        return path.stat().st_ino
    except FileNotFoundError:
        return None


def _figures(extent: Extent) -> tuple[int, int, int]:
    return extent.length, extent.crc, extent.lines
