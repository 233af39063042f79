"""The history file: one line per turn, only ever added to, and the truth about everything that was logged.

Reading never changes it; putting a damaged one right is the business of ``bot.store.repair``.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO
from zlib import crc32

from bot.core.records import Turn
from bot.store.errors import StoreError, explain
from bot.store.files import Files
from bot.store.lines import LineFormat, split_at_frames

HISTORY_NAME = "history.jsonl"

_CHUNK = 1 << 20
_CLOSED = -1


@dataclass(frozen=True, slots=True)
class Extent:
    """The first ``length`` bytes of a history: their checksum and how many lines they hold."""

    length: int = 0
    crc: int = 0
    lines: int = 0

    def plus(self, more: bytes) -> Extent:
        """The extent with one more line, or any other bytes that follow."""
        return Extent(self.length + len(more), crc32(more, self.crc), self.lines + more.count(b"\n"))


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece of a history file: a turn, or bytes that are none.

    ``raw`` is as the file has it, with the line break if there is one. ``in_place`` is False for a turn that
    damage has joined to other bytes. ``archived`` marks a turn that an archive holds already.
    """

    raw: bytes
    turn: Turn | None
    in_place: bool = True
    archived: bool = False

    @property
    def ended(self) -> bool:
        """Whether a line break ends it; only the last line may lack one, where its write was cut short."""
        return self.raw.endswith(b"\n")


def measure(path: Path, length: int | None = None) -> Extent:
    """The extent of the first ``length`` bytes of a file (all of them if None; fewer if it is shorter).

    Raises ``OSError``.
    """
    size = crc = lines = 0
    with path.open("rb") as file:
        while chunk := file.read(_CHUNK if length is None else min(_CHUNK, length - size)):
            size += len(chunk)
            crc = crc32(chunk, crc)
            lines += chunk.count(b"\n")
    return Extent(size, crc, lines)


def read_pieces(
    path: Path, lines: LineFormat, start: Extent, last_seq: int, end: int | None = None, archived: int = 0
) -> Iterator[Piece]:
    """The pieces of a history file from ``start`` (after the turn ``last_seq``) to the byte ``end``, in order.

    A turn whose number doesn't follow that of the one before is no turn: a disk has repeated a block. Turns up to
    the number ``archived`` may stand here once more, where archiving them was cut short.
    Raises ``OSError``, and ``StoreError`` with the line's number where a line is whole but means nothing here.
    """
    with path.open("rb") as file:
        yield from pieces_of(file, path, lines, start, last_seq, end, archived)


def pieces_of(
    file: BinaryIO,
    path: Path,
    lines: LineFormat,
    start: Extent,
    last_seq: int,
    end: int | None = None,
    archived: int = 0,
) -> Iterator[Piece]:
    """As ``read_pieces``, of a file that is open; ``path`` is what it is called where something is wrong."""
    left = (os.fstat(file.fileno()).st_size if end is None else end) - start.length
    number = start.lines

    def piece(raw: bytes, in_place: bool = True) -> Piece:
        nonlocal last_seq
        try:
            turn = lines.decode(raw.removesuffix(b"\n"))
        except StoreError as error:
            raise type(error)(f"{path}:{number}: {error}") from error
        if turn is None or turn.seq <= last_seq:
            return Piece(raw, None, in_place, archived=turn is not None and turn.seq <= archived)
        last_seq = turn.seq
        return Piece(raw, turn, in_place)

    file.seek(start.length)
    while left > 0 and (raw := file.readline(left)):
        left -= len(raw)
        number += 1
        found = piece(raw)
        if found.turn is None and not found.archived and len(parts := list(split_at_frames(raw))) > 1:
            yield from (piece(part, in_place=False) for part in parts)
        else:
            yield found


class History:
    """A history file that is open for adding to; everything in it was checked up to ``extent``.

    After a failed write the file is cut back to what was acknowledged, and the next append may work. After a
    failed sync the operating system may have thrown away what it had not yet written and call the file clean, so
    nothing is appended any more until ``reopen`` has gone over the file again.
    """

    def __init__(self, path: Path, files: Files, lines: LineFormat, extent: Extent) -> None:
        """Opens the file, making it if need be, and makes it safe on the disk with its name. Raises ``OSError``.

        A process that was killed may have left turns that were read from the system's memory and are not on the
        disk yet; nobody may be told of them before they are.
        """
        self.path = path
        self.extent = extent
        self.broken = False
        self._files = files
        self._lines = lines
        self._synced = extent
        self._unsynced: list[bytes] = []
        self._fd = files.open_append(path)
        try:
            files.sync(self._fd)
            files.sync_folder(path.parent)
        except BaseException:
            os.close(self._fd)
            raise

    def append(self, turn: Turn, *, sync: bool) -> None:
        """Add one turn; with ``sync``, return only when it and all before it are on the disk.

        Raises ``StoreError``, and then nothing of the turn is in the file.
        """
        if self.broken:
            raise StoreError(f"{self.path}: the disk failed before; open the records again")
        line = self._lines.encode(turn)
        try:
            if self._files.write(self._fd, line) != len(line):
                raise StoreError(
                    f"{self.path}: the disk took only part of a record, which was removed again; "
                    "free some space, then try again"
                )
            if sync:
                self._sync()
        except BaseException as error:
            self._cut_back()
            if isinstance(error, OSError):
                raise explain(error, self.path) from error
            raise
        self.extent = self.extent.plus(line)
        if sync:
            self._settle()
        else:
            self._unsynced.append(line)

    def sync(self) -> None:
        """Return only when every turn so far is on the disk. Raises ``StoreError``."""
        if not self._unsynced:
            return
        try:
            self._sync()
        except OSError as error:
            raise explain(error, self.path) from error
        self._settle()

    def reopen(self) -> None:
        """Go over the file anew after the disk failed, and make it hold exactly the turns acknowledged so far.

        What was on the disk for certain is read again and checked; what came after it is written again, since a
        failed sync may have dropped it. Raises ``StoreError``, and then the history stays unusable.
        """
        self.broken = True
        with contextlib.suppress(OSError):  # closing reports the same fault once more
            self._files.close(self._fd)
        self._fd = _CLOSED
        try:
            if measure(self.path, self._synced.length) != self._synced:
                raise StoreError(f"{self.path}: the file has changed since it was written; start Vatside again")
            self._fd = self._files.open_append(self.path)
            self._files.truncate(self._fd, self._synced.length)
            rest = b"".join(self._unsynced)
            if rest and self._files.write(self._fd, rest) != len(rest):
                raise StoreError(f"{self.path}: the disk took only part of the records; free some space")
            self._files.sync(self._fd)
            self._files.sync_folder(self.path.parent)
            if measure(self.path) != self.extent:
                raise StoreError(f"{self.path}: the disk does not keep what is written; check the disk")
        except OSError as error:
            raise explain(error, self.path) from error
        self.broken = False
        self._settle()

    def replaced(self, extent: Extent) -> None:
        """Another file has taken the name of this one, with the turns that are to stay in it; ``reopen`` comes next.

        Its bytes are on the disk, and its name once that has been done.
        """
        self.broken = True
        self.extent = extent
        self._settle()

    def close(self) -> None:
        """Make every turn safe and let the file go. Raises ``StoreError`` where the first can't be done."""
        try:
            if self.broken:
                self.reopen()
            self.sync()
        finally:
            with contextlib.suppress(OSError):  # all is synced by now, or that failure is the one to report
                self._files.close(self._fd)

    def _sync(self) -> None:
        try:
            self._files.sync(self._fd)
        except BaseException:
            self.broken = True
            raise

    def _settle(self) -> None:
        self._synced = self.extent
        self._unsynced.clear()

    def _cut_back(self) -> None:
        """Remove whatever a failed append left behind the last good line."""
        try:
            self._files.truncate(self._fd, self.extent.length)
            if os.fstat(self._fd).st_size != self.extent.length:
                self.broken = True
        except OSError:
            self.broken = True
