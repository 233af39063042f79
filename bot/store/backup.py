"""A store in one file, and back: a compressed tar archive whose first member says what is in it.

A backup may be made while the helper runs. Files of history are only added to or replaced as a whole, so that
what an open file holds up to its last line break stays as it is.
"""

from __future__ import annotations

import io
import os
import re
import tarfile
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import BinaryIO

import msgspec

from bot.store.errors import StoreError, explain
from bot.store.evidence import EVIDENCE_FOLDER, names_of
from bot.store.files import FILE_MODE, Files, make_folders, write_all
from bot.store.history import HISTORY_NAME, Extent, read_pieces
from bot.store.lines import LineFormat
from bot.store.rewriting import parts_of

CONTENTS_NAME = "contents.json"
FORMAT = 1
TRIES = 5
BIGGEST_MEMBER = 4 << 30
"""Bytes of one file; ten years of a busy kitchen are below a tenth of it."""

_MEMBER = re.compile(r"history(-[0-9]{4})?\.jsonl|evidence/[0-9A-Za-z][0-9A-Za-z.-]{0,80}")
_CHUNK = 1 << 20


@dataclass(frozen=True, slots=True)
class Backup:
    """What went into a backup: files, good turns, and damaged lines that were left out."""

    files: int
    turns: int
    left_out: int


class Member(msgspec.Struct, frozen=True):
    """One file of a backup."""

    name: str
    size: int
    sha256: str


class Contents(msgspec.Struct, frozen=True):
    """The first member of a backup: how many turns it holds, the number of the last, and every file."""

    v: int
    turns: int
    last: int
    files: tuple[Member, ...]


class _Output(io.RawIOBase):
    """Where the tar is written: a file that is opened through ``Files``."""

    def __init__(self, files: Files, fd: int) -> None:
        self._files = files
        self._fd = fd

    def writable(self) -> bool:
        return True

    def write(self, data: object, /) -> int:
        taken = bytes(data)  # type: ignore[call-overload]
        write_all(self._files, self._fd, taken)
        return len(taken)


def back_up(folder: Path, target: Path, files: Files | None = None) -> Backup:
    """Write everything in the store to ``target``, which is whole or not there at all.

    Damaged lines are left out and counted. Raises ``StoreError``.
    """
    files = files or Files()
    try:
        if not (folder / HISTORY_NAME).exists():
            raise StoreError(f"{folder}: there are no records; check the name of the records folder")
        with ExitStack() as stack:
            return _write(_open_all(folder, stack), target, files)
    except OSError as error:
        raise explain(error, target if error.filename is None else Path(str(error.filename))) from error


def restore(source: Path, folder: Path, files: Files | None = None) -> Contents:
    """Make ``folder`` hold the store of a backup; what it holds. Verified before and after.

    The records are put together beside the folder and take its place in one step, so that a crash leaves no half
    of them. Raises ``StoreError`` where the folder isn't empty or the backup isn't whole.
    """
    files = files or Files()
    beside = folder.with_name(folder.name + ".restoring")
    try:
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise StoreError(f"{folder}: it is not empty; choose a folder that is empty or not there")
        contents = verify(source)
        _clear(beside, files)
        make_folders(files, beside)
        _unpack(source, beside, files)
        _check_turns(beside, contents, source)
        files.replace(beside, folder)
        files.sync_folder(folder.parent)
        _check_turns(folder, contents, source)
    except OSError as error:
        raise explain(error, Path(str(error.filename)) if error.filename else folder) from error
    return contents


def verify(source: Path) -> Contents:
    """Read a backup through and hold every file against its contents. Raises ``StoreError`` and ``OSError``."""
    found: dict[str, Member] = {}
    contents: Contents | None = None
    for member, stream in _members(source):
        if contents is None:
            contents = _contents(source, member, stream)
            continue
        digest, size = sha256(), 0
        while chunk := stream.read(_CHUNK):
            digest.update(chunk)
            size += len(chunk)
        found[member] = Member(member, size, digest.hexdigest())
    if contents is None:
        raise _damaged(source, "it is empty")
    if found != {one.name: one for one in contents.files}:
        raise _damaged(source, "its files are not those it was made with")
    if HISTORY_NAME not in found:
        raise _damaged(source, "it holds no history")
    return contents


def _open_all(folder: Path, stack: ExitStack) -> list[tuple[str, BinaryIO]]:
    """Every file of the store, open: all of one moment, for none was replaced while they were opened."""
    for _ in range(TRIES):
        opened = [(path.name, stack.enter_context(path.open("rb"))) for path in parts_of(folder)]
        if [(path.name, path.stat().st_ino) for path in parts_of(folder)] == [
            (name, os.fstat(file.fileno()).st_ino) for name, file in opened
        ]:
            photos = [
                (f"{EVIDENCE_FOLDER}/{name}", stack.enter_context((folder / EVIDENCE_FOLDER / name).open("rb")))
                for name in names_of(folder)
            ]
            return opened + photos
    raise StoreError(f"{folder}: another process is rewriting the records; try again in a minute")


def _write(opened: list[tuple[str, BinaryIO]], target: Path, files: Files) -> Backup:
    """Two passes: one for the contents, which come first, and one for the files."""
    lines = LineFormat()
    turns = last = left_out = 0
    members = []
    for name, file in opened:
        digest, size = sha256(), 0
        for chunk, turn in _good(name, file, lines, last):
            if turn is None:
                left_out += 1
                continue
            turns += turn > 0
            last = max(last, turn)
            digest.update(chunk)
            size += len(chunk)
        members.append(Member(name, size, digest.hexdigest()))
    contents = msgspec.json.encode(Contents(FORMAT, turns, last, tuple(members)))
    temporary = target.with_name(target.name + ".tmp")
    try:
        fd = files.open_new(temporary)
        try:
            with tarfile.open(fileobj=_Output(files, fd), mode="w|gz") as tar:
                _add(tar, CONTENTS_NAME, len(contents), io.BytesIO(contents))
                last = 0
                for (name, file), member in zip(opened, members, strict=True):
                    stream = _Stream(chunk for chunk, turn in _good(name, file, lines, last) if turn is not None)
                    _add(tar, name, member.size, stream)
                    last = max(last, stream.last)
            files.sync(fd)
        finally:
            files.close(fd)
        files.replace(temporary, target)
    except BaseException:
        if temporary.exists():
            files.remove(temporary)
        raise
    files.sync_folder(target.parent)
    return Backup(len(members), turns, left_out)
