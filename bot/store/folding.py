"""From the files of a store to its state, without changing any of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Generic, Protocol, TypeVar

import msgspec

from bot.core.records import Turn
from bot.store.archive import archives
from bot.store.files import Files
from bot.store.history import HISTORY_NAME, Extent, measure, read_pieces
from bot.store.lines import LineFormat
from bot.store.snapshot import SNAPSHOT_NAME, Snapshot, UnusableError, read_snapshot


class Foldable(Protocol):
    """A state that is made by applying turns in order; a ``msgspec.Struct``, so that it can be saved."""

    seq: int
    """The number of the last turn applied; 0 before the first."""

    def apply(self, turn: Turn) -> None:
        """Take in the turn ``seq + 1``."""


S = TypeVar("S", bound=Foldable)


@dataclass(slots=True)
class Part:
    """One file of history, and what is wrong with it.

    ``extent`` reaches to the first thing that is wrong. ``kept`` counts its good turns and ``damaged`` the pieces
    that are none; ``joined`` is set where good turns stand on one line with other bytes, ``torn`` where the last
    line is cut short (at the byte ``torn_at``), ``unended`` where only its line break is missing, ``repeated`` where
    turns stand in it that an archive holds already. ``after`` is the number of the turn before its first.
    """

    path: Path
    extent: Extent
    size: int
    kept: int
    damaged: int = 0
    joined: bool = False
    torn: bool = False
    unended: bool = False
    repeated: bool = False
    torn_at: int = 0
    after: int = 0

    @property
    def spoilt(self) -> bool:
        """Whether lines of it must be set aside."""
        return bool(self.damaged or self.joined)

    @property
    def lost(self) -> int:
        """Pieces that hold no turn of this file."""
        return self.damaged + self.torn


@dataclass(slots=True)
class Folded(Generic[S]):
    """What a store's files give: the state, the archives of past years, and the history since."""

    state: S
    archives: tuple[Part, ...]
    history: Part
    archived: int
    """The number of the last turn that an archive holds; only known where the archives were read, else 0."""
    snapshot_problem: str | None = None
    stripped_to: datetime | None = None

    @property
    def parts(self) -> tuple[Part, ...]:
        """Every file of history, the oldest first."""
        return (*self.archives, self.history)


def fold(folder: Path, empty: Callable[[], S], files: Files, lines: LineFormat, fold_version: int) -> Folded[S]:
    """The state of the store in ``folder``: its snapshot and the turns since, or all turns from ``empty()``.

    Raises ``OSError``, and ``StoreError`` where a whole line of history means nothing to this version.
    """
    old = archives(folder)
    history = folder / HISTORY_NAME
    try:
        found = _from_snapshot(folder, old, empty, files, lines, fold_version)
    except UnusableError as error:
        found = _from_archives(old, history, empty, lines)
        found.snapshot_problem = str(error)
    if history.exists():
        _read(found.history, found.state, lines, found.archived)
    return found


def _from_archives(old: list[Path], history: Path, empty: Callable[[], S], lines: LineFormat) -> Folded[S]:
    state = empty()
    parts = []
    for path in old:
        parts.append(part := Part(path, Extent(), 0, 0))
        _read(part, state, lines, 0)
    return Folded(state, tuple(parts), Part(history, Extent(), 0, 0), archived=state.seq)


def _read(part: Part, state: S, lines: LineFormat, archived: int) -> None:
    """Apply the turns of one file, from its extent on, and note what is wrong with it."""
    if part.size == 0:
        part.after = state.seq
    for piece in read_pieces(part.path, lines, part.extent, state.seq, archived=archived):
        part.size += len(piece.raw)
        if piece.archived:
            part.repeated = True
            continue
        if piece.turn is not None:
            state.apply(piece.turn)
            part.kept += 1
        if not piece.in_place:
            part.joined = True
        elif piece.turn is None and not piece.ended:
            part.torn = True
            part.torn_at = part.size - len(piece.raw)
            continue
        elif piece.turn is not None and not piece.ended:
            part.unended = True
        if piece.turn is None:
            part.damaged += 1
        elif piece.ended and not (part.damaged or part.joined):
            part.extent = part.extent.plus(piece.raw)


def _from_snapshot(
    folder: Path, old: list[Path], empty: Callable[[], S], files: Files, lines: LineFormat, fold_version: int
) -> Folded[S]:
    """From the saved state; where none was saved, from the archives. Raises ``UnusableError``."""
    history = folder / HISTORY_NAME
    snapshot = read_snapshot(folder / SNAPSHOT_NAME, files, fold_version, lines.version)
    if snapshot is None:
        return _from_archives(old, history, empty, lines)
    try:
        found = measure(history, snapshot.history_bytes)
    except FileNotFoundError:
        found = Extent()
    if found.length < snapshot.history_bytes:
        raise UnusableError("it knows of more history than there is")
    measured = {path: measure(path) for path in old}
    held = tuple((path.name, extent.length, extent.crc, extent.lines) for path, extent in measured.items())
    if found != snapshot.extent or held != snapshot.archives:
        raise UnusableError("it belongs to another history, or the history is damaged")
    state = _restore(snapshot, type(empty()))
    parts = tuple(Part(path, extent, extent.length, extent.lines) for path, extent in measured.items())
    part = Part(history, snapshot.extent, snapshot.history_bytes, snapshot.history_lines)
    return Folded(state, parts, part, archived=0, stripped_to=snapshot.stripped_to)


def _restore(snapshot: Snapshot, state_type: type[S]) -> S:
    try:
        return msgspec.convert(snapshot.state, state_type, str_keys=True)
    except msgspec.ValidationError as error:
        raise UnusableError("another version of Vatside wrote it") from error
