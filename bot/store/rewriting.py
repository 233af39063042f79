"""Rewriting what stands in the files of history, line by line, each file as a whole or not at all."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

from bot.core.records import Turn
from bot.store.archive import archives
from bot.store.files import Files, replace_file
from bot.store.history import HISTORY_NAME, Extent, read_pieces
from bot.store.lines import LineFormat
from bot.store.repair import gather

Change = Callable[[Turn], Turn]
"""Gives the turn that is to stand in place of one; the same one where it stays."""


def parts_of(folder: Path) -> list[Path]:
    """The files of history in a folder that nobody writes to now, the oldest first. Raises ``OSError``."""
    history = folder / HISTORY_NAME
    return [*archives(folder), *([history] if history.exists() else [])]


def turns_in(path: Path, lines: LineFormat) -> Iterator[Turn]:
    """The good turns of one file. Raises ``OSError`` and ``StoreError``."""
    return (piece.turn for piece in read_pieces(path, lines, Extent(), last_seq=0) if piece.turn is not None)


def rewrite(path: Path, files: Files, lines: LineFormat, change: Change) -> int:
    """Put ``change`` of each turn in its place; how many turns it changed. Lines that stay are not touched.

    The file is replaced in one step, and only where something changed in it. Raises ``OSError``.
    """
    count = sum(change(turn) != turn for turn in turns_in(path, lines))
    if count == 0:
        return 0

    def rewritten() -> Iterator[bytes]:
        for piece in read_pieces(path, lines, Extent(), last_seq=0):
            if piece.turn is None:
                yield piece.raw
                continue
            changed = change(piece.turn)
            yield piece.raw if changed == piece.turn else lines.encode(changed)

    replace_file(files, path, gather(rewritten()))
    return count
