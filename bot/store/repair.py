"""Putting a damaged store right: what is good is kept, what is not is set aside under a name of its own."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from bot.store.archive import chunks
from bot.store.files import Files, free_name, replace_file
from bot.store.folding import Folded, Part, S
from bot.store.history import Extent, read_pieces
from bot.store.lines import LineFormat
from bot.store.snapshot import SNAPSHOT_NAME

DAMAGED_NAME = "{}.damaged-{{}}.jsonl"
TORN_NAME = "{}.torn-{{}}"
SNAPSHOT_ASIDE_NAME = "state.aside-{}.json"
ASIDE = ("history*.damaged-*.jsonl", "history*.torn-*", "state.aside-*.json")
"""Patterns of everything that is ever set aside."""

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
    parts = folded.parts
    torn = any(part.torn for part in parts)
    if not (torn or folded.snapshot_problem or any(part.spoilt for part in parts)):
        return None
    kept, damaged = sum(part.kept for part in parts), sum(part.damaged for part in parts)
    return Recovery(kept, damaged, torn, folded.snapshot_problem, files)


def repair(folder: Path, folded: Folded[S], files: Files, lines: LineFormat) -> Recovery | None:
    """Put the store in ``folder`` right, and ``folded`` with it; what was done.

    Each step leaves a store that can be opened, so that a crash in between only means to begin again. The last
    ones are safe on the disk once the history and its folder are synced. Raises ``OSError``.
    """
    aside: list[Path] = []
    for part in folded.parts:
        aside += _repair(part, files, lines, folded.archived if part is folded.history else 0)
    if folded.snapshot_problem is not None:
        aside.append(free_name(folder, SNAPSHOT_ASIDE_NAME))
        files.replace(folder / SNAPSHOT_NAME, aside[-1])
    return diagnose(folded, tuple(aside))


def _repair(part: Part, files: Files, lines: LineFormat, archived: int) -> Iterator[Path]:
    """Put one file right; what was set aside of it."""
    name = part.path.stem
    if part.spoilt:
        yield _copy_aside(part.path, DAMAGED_NAME.format(name), 0, files)
    elif part.torn:
        yield _copy_aside(part.path, TORN_NAME.format(name), part.torn_at, files)
    if part.spoilt or part.repeated:
        part.extent = _keep_good_lines(part, files, lines, archived)
    elif part.torn:
        _cut(part.path, part.extent.length, files)
    elif part.unended:
        part.extent = _end_last_line(part.path, part.extent, files)
    part.size = part.extent.length


def _copy_aside(source: Path, pattern: str, start: int, files: Files) -> Path:
    """Copy ``source`` from the byte ``start`` to a free name, unless an earlier copy holds the same.

    A disk too full for the next step would otherwise get one more copy at each start.
    """
    n = 1
    while (target := source.parent / pattern.format(n)).exists():
        if _same(target, source, start):
            return target
        n += 1
    replace_file(files, target, chunks(source, start))
    return target


def _keep_good_lines(part: Part, files: Files, lines: LineFormat, archived: int) -> Extent:
    """Rewrite a file with its good lines only, byte for byte as they are."""
    extent = Extent()

    def good_lines() -> Iterator[bytes]:
        nonlocal extent
        for piece in read_pieces(part.path, lines, Extent(), part.after, archived=archived):
            if piece.turn is not None:
                line = piece.raw.removesuffix(b"\n") + b"\n"
                extent = extent.plus(line)
                yield line

    replace_file(files, part.path, gather(good_lines()))
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


def gather(pieces: Iterator[bytes]) -> Iterator[bytes]:
    """The same bytes in fewer, larger chunks."""
    chunk = bytearray()
    for piece in pieces:
        chunk += piece
        if len(chunk) >= _CHUNK:
            yield bytes(chunk)
            chunk.clear()
    yield bytes(chunk)


def _same(copy: Path, source: Path, start: int) -> bool:
    return copy.stat().st_size == source.stat().st_size - start and all(
        a == b for a, b in zip(chunks(copy, 0), chunks(source, start), strict=True)
    )
