"""The history of past years, each in a file of its own that is only ever replaced as a whole.

An archive holds lines as ``history.jsonl`` does, so that the same code reads and repairs it, and so that damage
costs single lines; a compressed file would lose everything behind the damaged place.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from bot.store.files import Files, replace_file
from bot.store.history import HISTORY_NAME, Extent, Piece, read_pieces
from bot.store.lines import LineFormat
from bot.store.snapshot import SNAPSHOT_NAME

ARCHIVE_NAME = "history-{:04}.jsonl"

_PATTERN = re.compile(r"history-([0-9]{4})\.jsonl")
_CHUNK = 1 << 20


def archives(folder: Path) -> list[Path]:
    """The archives in ``folder``, the oldest first. Raises ``OSError``."""
    return sorted(path for path in folder.iterdir() if _PATTERN.fullmatch(path.name))


def year_of(archive: Path) -> int:
    """The year whose turns an archive holds; none of them is later."""
    found = _PATTERN.fullmatch(archive.name)
    if found is None:
        raise ValueError(f"no archive: {archive}")
    return int(found[1])


def archive_years(folder: Path, files: Files, lines: LineFormat, year: int) -> list[Path]:
    """Move the turns of all years before ``year`` out of the history; the archives that were written.

    The history must be without damage and nobody may have it open. An archive is safe on the disk before its turns
    leave the history, so that a crash in between leaves them in both; reading knows that. Raises ``OSError``.
    """
    history = folder / HISTORY_NAME
    old = past_of(folder, year)
    for piece in read_pieces(history, lines, Extent(), last_seq=0):
        if not old.take(piece):
            break
    if not old.by_year:
        return []
    drop_snapshot(folder, files)
    written = []
    for past, (start, end) in old.by_year.items():
        target = folder / ARCHIVE_NAME.format(past)
        replace_file(files, target, _joined(target, history, start, end))
        written.append(target)
    replace_file(files, history, chunks(history, old.end))
    return written


def drop_snapshot(folder: Path, files: Files) -> None:
    """Let go of the saved state before the history beneath it is rewritten. Raises ``OSError``."""
    if (folder / SNAPSHOT_NAME).exists():
        files.remove(folder / SNAPSHOT_NAME)
        files.sync_folder(folder)


def chunks(path: Path, start: int, end: int | None = None, size: int = _CHUNK) -> Iterator[bytes]:
    """The bytes of a file from ``start`` up to ``end``, so many at a time."""
    with path.open("rb") as file:
        file.seek(start)
        left = (path.stat().st_size if end is None else end) - start
        while left > 0 and (chunk := file.read(min(size, left))):
            left -= len(chunk)
            yield chunk


@dataclass(slots=True)
class Past:
    """Where in the history the turns of each year before ``year`` stand, and where they end; found piece by piece.

    A clock that was set back makes no turn older than the ones before it: years only go up.
    """

    year: int
    running: int
    by_year: dict[int, tuple[int, int]] = field(default_factory=dict)
    end: int = 0
    last: int = 0
    """The number of the last turn before ``year``."""

    def take(self, piece: Piece) -> bool:
        """Count the next piece of the history in; False once nothing before ``year`` can follow."""
        if piece.turn is None:
            return False
        self.running = max(self.running, piece.turn.at.year)
        if self.running >= self.year:
            return False
        start, _ = self.by_year.get(self.running, (self.end, 0))
        self.end += len(piece.raw)
        self.by_year[self.running] = (start, self.end)
        self.last = piece.turn.seq
        return True


def past_of(folder: Path, year: int) -> Past:
    """What is known of the history in ``folder`` before it is read. Raises ``OSError``."""
    held = archives(folder)
    return Past(year, year_of(held[-1]) if held else 0)


def _joined(archive: Path, history: Path, start: int, end: int) -> Iterator[bytes]:
    """What the archive holds already, and then a stretch of the history."""
    if archive.exists():
        yield from chunks(archive, 0)
    yield from chunks(history, start, end)
