"""Putting a damaged store right: what is good is kept, what is not is set aside under a name of its own."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from bot.store.files import Files, free_name, replace_file
from bot.store.folding import Folded, S
from bot.store.history import HISTORY_NAME, Extent, read_pieces
from bot.store.lines import LineFormat
from bot.store.snapshot import SNAPSHOT_NAME

DAMAGED_NAME = "history.damaged-{}.jsonl"
TORN_NAME = "history.torn-{}"
SNAPSHOT_ASIDE_NAME = "state.aside-{}.json"

_CHUNK = 1 << 20


@dataclass(frozen=True, slots=True)
class Recovery:
    """What was found wrong on opening, and what became of it.

    ``kept`` turns are good. ``set_aside`` lines were damaged: acknowledged records may be among them.
    ``torn`` means that the last line was cut short, as by a power cut before it was acknowledged.
    ``snapshot_problem`` says why the saved state was not used (nothing is lost by that), or is None.
    ``files`` hold what was set aside; empty for a store that was only read.
    """

    kept: int
    set_aside: int
    torn: bool
    snapshot_problem: str | None
    files: tuple[Path, ...] = ()


def diagnose(folded: Folded[S], files: tuple[Path, ...] = ()) -> Recovery | None:
    """The recovery that ``folded`` calls for, or None where nothing is wrong that anyone need know."""
    if not (folded.damaged or folded.joined or folded.torn or folded.snapshot_problem):
        return None
    return Recovery(folded.kept, folded.damaged, folded.torn, folded.snapshot_problem, files)


def repair(folder: Path, folded: Folded[S], files: Files, lines: LineFormat) -> tuple[Extent, Recovery | None]:
    """Put the store in ``folder`` right; its history's extent afterwards, and what was done.

    Each step leaves a store that can be opened, so that a crash in between only means to begin again. The last
    ones are safe on the disk once the history and its folder are synced. Raises ``OSError``.
    """
    history = folder / HISTORY_NAME
    aside: list[Path] = []
    extent = folded.extent
    if folded.damaged or folded.joined:
        aside.append(_copy_aside(history, DAMAGED_NAME, 0, files))
        extent = _keep_good_lines(history, files, lines)
    elif folded.torn:
        aside.append(_copy_aside(history, TORN_NAME, extent.length, files))
        _cut(history, extent.length, files)
    elif folded.unended:
        extent = _end_last_line(history, extent, files)
    if folded.snapshot_problem is not None:
        aside.append(free_name(folder, SNAPSHOT_ASIDE_NAME))
        files.replace(folder / SNAPSHOT_NAME, aside[-1])
    return extent, diagnose(folded, tuple(aside))


def _copy_aside(source: Path, pattern: str, start: int, files: Files) -> Path:
    """Copy ``source`` from the byte ``start`` to a free name, unless an earlier copy holds the same.

    A disk too full for the next step would otherwise get one more copy at each start.
    """
    n = 1
    while (target := source.parent / pattern.format(n)).exists():
        if _same(target, source, start):
            return target
        n += 1
    replace_file(files, target, _chunks(source, start))
    return target


def _keep_good_lines(history: Path, files: Files, lines: LineFormat) -> Extent:
    """Rewrite the history with its good lines only, byte for byte as they are."""
    extent = Extent()

    def good_lines() -> Iterator[bytes]:
        nonlocal extent
        for piece in read_pieces(history, lines, Extent(), last_seq=0):
            if piece.turn is not None:
                line = piece.raw.removesuffix(b"\n") + b"\n"
                extent = extent.plus(line)
                yield line

    replace_file(files, history, _gather(good_lines()))
    return extent


def _cut(history: Path, length: int, files: Files) -> None:
    fd = files.open_append(history)
    try:
        files.truncate(fd, length)
    finally:
        files.close(fd)


def _end_last_line(history: Path, extent: Extent, files: Files) -> Extent:
    """Give a last line that is otherwise whole its line break."""
    with history.open("rb") as file:
        file.seek(extent.length)
        line = file.read() + b"\n"
    fd = files.open_append(history)
    try:
        files.write(fd, b"\n")
    finally:
        files.close(fd)
    return extent.plus(line)


def _gather(pieces: Iterator[bytes]) -> Iterator[bytes]:
    """The same bytes in fewer, larger chunks."""
    chunk = bytearray()
    for piece in pieces:
        chunk += piece
        if len(chunk) >= _CHUNK:
            yield bytes(chunk)
            chunk.clear()
    yield bytes(chunk)


def _chunks(path: Path, start: int) -> Iterator[bytes]:
    with path.open("rb") as file:
        file.seek(start)
        while chunk := file.read(_CHUNK):
            yield chunk


def _same(copy: Path, source: Path, start: int) -> bool:
    return copy.stat().st_size == source.stat().st_size - start and all(
        a == b for a, b in zip(_chunks(copy, 0), _chunks(source, start), strict=True)
    )
