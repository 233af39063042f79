"""The state as it stood after some turn, so that a start need not fold years of history.

A snapshot is a convenience and never the truth: it counts only where it is whole, of this version, and taken of
exactly the history that lies beside it. Otherwise the state is folded from the history alone.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any
from zlib import crc32

import msgspec
from tinydb import TinyDB
from tinydb.middlewares import CachingMiddleware
from tinydb.storages import Storage
from tinydb.table import Document

from bot.store.files import Files, replace_file
from bot.store.history import Extent

SNAPSHOT_NAME = "state.json"
SNAPSHOT_VERSION = 2

_TABLE = "snapshot"
_DOC_ID = 1

Tables = dict[str, dict[str, dict[str, Any]]]


class UnusableError(ValueError):
    """A snapshot that can't be used; the message says why, as the end of a sentence."""


class SafeJSONStorage(Storage):
    """A TinyDB storage that a crash can't tear.

    TinyDB's own writes over the live file. Here everything is turned into bytes first, written to a file beside
    it, synced, and renamed into place.
    """

    def __init__(self, path: Path, files: Files) -> None:
        self._path = path
        self._files = files

    def read(self) -> Tables | None:
        """The tables, or None where there is no file.

        Raises ``UnusableError`` where it is not whole, and ``OSError``.
        """
        try:
            return msgspec.json.decode(self._path.read_bytes(), type=Tables)
        except FileNotFoundError:
            return None
        except ValueError as error:
            raise UnusableError("it is damaged") from error

    def write(self, data: Tables) -> None:
        """Make the file hold ``data``, wholly or not at all. Raises ``OSError``."""
        replace_file(self._files, self._path, [msgspec.json.encode(data)])


class Snapshot(msgspec.Struct, frozen=True):
    """The state after the turn ``seq`` (as plain JSON values where it was read), and the extent of history that it is
    the fold of.

    ``fold`` numbers the rules of folding, ``format`` is the version of the history's lines: a state that other
    rules made from the same history is not ours. ``archives`` are those of the years before it, each with its
    length, checksum and lines; ``stripped_to`` is how far old talk was dropped.
    """

    v: int
    fold: int
    format: int
    seq: int
    history_bytes: int
    history_crc: int
    history_lines: int
    state: Any
    archives: tuple[tuple[str, int, int, int], ...] = ()
    stripped_to: datetime | None = None

    @property
    def extent(self) -> Extent:
        """The part of the history that is folded into it."""
        return Extent(self.history_bytes, self.history_crc, self.history_lines)


def read_snapshot(path: Path, files: Files, fold: int, line_format: int) -> Snapshot | None:
    """The snapshot at ``path``, or None where there is none.

    Raises ``UnusableError`` where it is damaged or made by other rules than ``fold`` and ``line_format``, and
    ``OSError``.
    """
    with TinyDB(path, files, storage=SafeJSONStorage) as db:
        document = db.table(_TABLE).get(doc_id=_DOC_ID)
    if document is None:
        if path.exists():
            raise UnusableError("there is no snapshot in it")
        return None
    fields = dict(document)
    if fields.pop("crc", None) != _checksum(fields):
        raise UnusableError("it is damaged")
    if fields.get("v") != SNAPSHOT_VERSION:
        raise UnusableError("another version of Vatside wrote it")
    try:
        snapshot = msgspec.convert(fields, Snapshot)
    except msgspec.ValidationError as error:
        raise UnusableError("another version of Vatside wrote it") from error
    if (snapshot.fold, snapshot.format) != (fold, line_format):
        raise UnusableError("another version of Vatside wrote it")
    return snapshot


def write_snapshot(path: Path, files: Files, snapshot: Snapshot) -> None:
    """Make ``path`` hold ``snapshot``; whatever was there is neither read nor kept. Raises ``OSError``."""
    # The state is put into bytes once only: of all that a day's end costs, it is the most.
    fields = msgspec.structs.asdict(snapshot) | {"state": msgspec.Raw(msgspec.json.encode(snapshot.state))}
    document = Document({**fields, "crc": _checksum(fields)}, doc_id=_DOC_ID)
    # The cache makes one write, on closing, of what would be two.
    cached = CachingMiddleware(SafeJSONStorage)  # type: ignore[no-untyped-call]
    with TinyDB(path, files, storage=cached) as db:
        db.drop_tables()
        db.table(_TABLE).insert(document)


def _checksum(fields: dict[str, Any]) -> int:
    """Of the fields as they stand in the file, in their order: what was decoded encodes to the same bytes again."""
    return crc32(msgspec.json.encode(fields))
