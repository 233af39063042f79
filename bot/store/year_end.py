"""Moving past years out of a history in use, a slice at a time, so that nobody who writes to the helper waits for it.

Every slice but the last only reads the history and writes beside it; whatever fails, or is cut off, leaves the store
as it was. The last one puts the files in their places as a start would: the archives are safe under their names
before the history gives up what they hold, and a crash in between leaves turns in both, which reading knows.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from bot.store.archive import ARCHIVE_NAME, chunks, drop_snapshot, past_of
from bot.store.errors import StoreError, explain
from bot.store.files import Files, write_all
from bot.store.history import Extent, History, read_pieces
from bot.store.lines import LineFormat

LINES_A_SLICE = 500
BYTES_A_SLICE = 1 << 18
"""Each is on the disk before the next, so that no sync has much to write."""


@dataclass(slots=True)
class Moved:
    """What became of a history: the archives that were written, what is left of it, and the last turn before that."""

    archives: dict[Path, Extent] = field(default_factory=dict)
    left: Extent = field(default_factory=Extent)
    last: int = 0


class YearEnd:
    """Moves the turns before ``year`` out of ``history``, which is open and goes on being added to."""

    def __init__(self, history: History, files: Files, lines: LineFormat, year: int) -> None:
        self._history = history
        self._path = history.path
        self._files = files
        self._lines = lines
        self._past = past_of(self._path.parent, year)
        self._moved = Moved()
        self.half = False
        self._read = Extent()
        self._beside: list[Path] = []

    def slices(self) -> Iterator[Moved | None]:
        """One slice at each step; the last gives what was moved, and the history is to be reopened then.

        Raises ``StoreError``, and then the history is as it was; where ``half`` is set, though, an archive holds some
        of its turns as well, which only the next start puts right.
        """
        try:
            yield from self._look()
            if self._past.by_year:
                for year, (start, end) in self._past.by_year.items():
                    yield from self._write_archive(self._path.with_name(ARCHIVE_NAME.format(year)), start, end)
                yield from self._write_rest()
        except OSError as error:
            raise explain(error, self._path.parent) from error
        finally:
            for written in self._beside:
                with contextlib.suppress(OSError):  # in the end they have taken their places
                    self._files.remove(written)

    def _look(self) -> Iterator[None]:
        """Find where the past years end."""
        pieces = read_pieces(self._path, self._lines, Extent(), last_seq=0, end=self._history.extent.length)
        for number, piece in enumerate(pieces, 1):
            if not self._past.take(piece):
                return
            if number % LINES_A_SLICE == 0:
                yield

    def _write_archive(self, archive: Path, start: int, end: int) -> Iterator[None]:
        extent = Extent()
        fd = self._open_beside(archive)
        try:
            for chunk in chunks(archive, 0, size=BYTES_A_SLICE) if archive.exists() else ():
                extent = self._write(fd, chunk, extent)
                yield
            for chunk in chunks(self._path, start, end, BYTES_A_SLICE):
                extent = self._write(fd, chunk, extent)
                self._read = self._read.plus(chunk)
                yield
        finally:
            self._files.close(fd)
        self._moved.archives[archive] = extent

    def _write_rest(self) -> Iterator[Moved | None]:
        """Copy what is to stay, with what is added meanwhile."""
        fd = self._open_beside(self._path)
        try:
            copied = self._past.end
            while (there := self._history.extent.length) - copied > BYTES_A_SLICE:
                self._copy_rest(fd, copied, copied + BYTES_A_SLICE)
                copied += BYTES_A_SLICE
                yield None
            self._history.sync()
            self._copy_rest(fd, copied, there)
        finally:
            self._files.close(fd)
        if (self._read.length, self._read.crc) != (self._history.extent.length, self._history.extent.crc):
            raise StoreError(f"{self._path}: the file has changed since it was written; start Vatside again")
        self._moved.last = self._past.last
        self._put_in_place()
        yield self._moved

    def _copy_rest(self, fd: int, start: int, end: int) -> None:
        for chunk in chunks(self._path, start, end):
            self._moved.left = self._write(fd, chunk, self._moved.left)
            self._read = self._read.plus(chunk)

    def _put_in_place(self) -> None:
        folder = self._path.parent
        drop_snapshot(folder, self._files)
        self.half = True
        for archive in self._moved.archives:
            self._files.replace(_beside(archive), archive)
        self._files.sync_folder(folder)
        self._files.replace(_beside(self._path), self._path)
        self.half = False
        self._history.replaced(self._moved.left)

    def _open_beside(self, target: Path) -> int:
        path = _beside(target)
        fd = self._files.open_new(path)
        self._beside.append(path)
        return fd

    def _write(self, fd: int, chunk: bytes, extent: Extent) -> Extent:
        write_all(self._files, fd, chunk)
        self._files.sync(fd)
        return extent.plus(chunk)


def _beside(target: Path) -> Path:
    return target.with_name(target.name + ".tmp")
