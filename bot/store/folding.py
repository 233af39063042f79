"""From the files of a store to its state, without changing any of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Generic, Protocol, TypeVar

import msgspec

from bot.core.records import Turn
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
class Folded(Generic[S]):
    """What a store's files give, and what is wrong with them.

    ``extent`` reaches to the first thing that is wrong with the history. ``kept`` counts its good turns and
    ``damaged`` the pieces that are none; ``joined`` is set where good turns stand on one line with other bytes,
    ``torn`` where the last line is cut short, ``unended`` where only its line break is missing.
    """

    state: S
    extent: Extent
    size: int
    kept: int
    damaged: int = 0
    joined: bool = False
    torn: bool = False
    unended: bool = False
    snapshot_problem: str | None = None


def fold(folder: Path, empty: Callable[[], S], files: Files, lines: LineFormat, fold_version: int) -> Folded[S]:
    """The state of the store in ``folder``: its snapshot and the turns since, or all turns from ``empty()``.

    Raises ``OSError``, and ``StoreError`` where a whole line of history means nothing to this version.
    """
    history = folder / HISTORY_NAME
    try:
        state, extent, problem = *_from_snapshot(folder, empty, files, lines, fold_version), None
    except UnusableError as error:
        state, extent, problem = empty(), Extent(), str(error)
    result = Folded(state, extent, extent.length, extent.lines, snapshot_problem=problem)
    if not history.exists():
        return result
    for piece in read_pieces(history, lines, extent, state.seq):
        result.size += len(piece.raw)
        if piece.turn is not None:
            state.apply(piece.turn)
            result.kept += 1
        if not piece.in_place:
            result.joined = True
        elif piece.turn is None and not piece.ended:
            result.torn = True
            continue
        elif piece.turn is not None and not piece.ended:
            result.unended = True
        if piece.turn is None:
            result.damaged += 1
        elif piece.ended and not (result.damaged or result.joined):
            result.extent = result.extent.plus(piece.raw)
    return result


def _from_snapshot(
    folder: Path, empty: Callable[[], S], files: Files, lines: LineFormat, fold_version: int
) -> tuple[S, Extent]:
    """The saved state and its extent; an empty state where none was saved. Raises ``UnusableError``."""
    state = empty()
    snapshot = read_snapshot(folder / SNAPSHOT_NAME, files, fold_version, lines.version)
    if snapshot is None:
        return state, Extent()
    try:
        found = measure(folder / HISTORY_NAME, snapshot.history_bytes)
    except FileNotFoundError:
        found = Extent()
    if found.length < snapshot.history_bytes:
        raise UnusableError("it knows of more history than there is")
    if found != snapshot.extent:
        raise UnusableError("it belongs to another history, or the history is damaged")
    return _restore(snapshot, type(state)), snapshot.extent


def _restore(snapshot: Snapshot, state_type: type[S]) -> S:
    try:
        return msgspec.convert(snapshot.state, state_type, str_keys=True)
    except msgspec.ValidationError as error:
        raise UnusableError("another version of Vatside wrote it") from error
