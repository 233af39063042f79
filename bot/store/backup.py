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
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import IO, BinaryIO

import msgspec

from bot.store.errors import StoreError, explain
from bot.store.evidence import EVIDENCE_FOLDER, names_of
from bot.store.files import FILE_MODE, Files, make_folders, replace_file, write_all
from bot.store.history import HISTORY_NAME, Extent, pieces_of
from bot.store.lines import LineFormat
from bot.store.rewriting import parts_of, turns_in

CONTENTS_NAME = "contents.json"
FORMAT = 1
TRIES = 5

_HISTORY = re.compile(r"history(-[0-9]{4})?\.jsonl")
_MEMBER = re.compile(_HISTORY.pattern + r"|evidence/[0-9]{1,12}-[0-9]{1,4}\.(jpg|png|webp)")
_CHUNK = 1 << 20
_GZIP = b"\x1f\x8b"
"""How every gzip file begins (RFC 1952, section 2.3.1)."""
_LARGEST_CONTENTS = 16 << 20
"""Bytes; some 100 a file, and 100,000 files."""


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


@dataclass(frozen=True, slots=True)
class _Open:
    name: str
    file: BinaryIO


class _Output(io.RawIOBase):
    """Where the tar is written: a file that was opened through ``Files``."""

    def __init__(self, files: Files, fd: int) -> None:
        self._files = files
        self._fd = fd

    def writable(self) -> bool:
        return True

    def write(self, data: object, /) -> int:
        taken = bytes(data)  # type: ignore[call-overload]
        write_all(self._files, self._fd, taken)
        return len(taken)


def back_up(folder: Path, target: Path, files: Files | None = None) -> Contents:
    """Write everything in the store to ``target``, which is whole or as it was; what is in it.

    Raises ``StoreError``: a store with damaged lines is to be repaired first.
    """
    files = files or Files()
    try:
        if not (folder / HISTORY_NAME).exists():
            raise StoreError(f"{folder}: there are no records; check the name of the records folder")
        _look_at(target)
        with ExitStack() as stack:
            opened = _open_all(folder, stack)
            contents = _look_through(folder, opened)
            _write(opened, contents, target, files)
    except OSError as error:
        raise explain(error, _where(error, target)) from error
    return contents


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
        contents = _verified(source)
        _clear(beside, files)
        make_folders(files, beside)
        _unpack(source, beside, files)
        _check(beside, contents)
        files.replace(beside, folder)
        files.sync_folder(folder.parent)
        _check(folder, contents)
    except OSError as error:
        raise explain(error, _where(error, folder)) from error
    return contents


def verify(source: Path) -> Contents:
    """Read a backup through and hold every file against its contents. Raises ``StoreError`` and ``OSError``."""
    contents: Contents | None = None
    found = []
    with _reading(source):
        for name, stream in _members(source):
            if contents is None:
                contents = _contents(source, name, stream)
            elif _MEMBER.fullmatch(name):
                found.append(_digest(name, stream))
            else:
                raise _broken(source, f"{name!r} is no file of a store")
    if contents is None:
        raise _broken(source, "it is empty")
    if tuple(found) != contents.files or HISTORY_NAME not in {one.name for one in found}:
        raise _broken(source, "its files are not those that it was made with")
    return contents


def _look_at(target: Path) -> None:
    """Refuse to write a backup over anything else, the records themselves above all.

    Raises ``StoreError`` and ``OSError``.
    """
    if not target.parent.is_dir():
        raise StoreError(f"{target}: there is no folder {target.parent}; make it, or name a file elsewhere")
    if target.exists():
        if not target.is_file():
            raise StoreError(f"{target}: it is no plain file; name another one")
        with target.open("rb") as file:
            if file.read(len(_GZIP)) not in (_GZIP, b""):
                raise StoreError(f"{target}: it is there already and no backup; name another one")


def _verified(source: Path) -> Contents:
    try:
        return verify(source)
    except OSError as error:
        raise explain(error, _where(error, source)) from error


def _open_all(folder: Path, stack: ExitStack) -> list[_Open]:
    """Every file of the store, open: all of one moment, for none was replaced while they were opened."""
    for _ in range(TRIES):
        opened = [_Open(path.name, stack.enter_context(path.open("rb"))) for path in parts_of(folder)]
        there = [(path.name, path.stat().st_ino) for path in parts_of(folder)]
        if there == [(one.name, os.fstat(one.file.fileno()).st_ino) for one in opened]:
            break
    else:
        raise StoreError(f"{folder}: another process is rewriting the records; try again in a minute")
    for name in names_of(folder):
        member = f"{EVIDENCE_FOLDER}/{name}"
        opened.append(_Open(member, stack.enter_context((folder / member).open("rb"))))
    return opened


def _look_through(folder: Path, opened: list[_Open]) -> Contents:
    """What the open files hold, up to the last whole line of each. Raises ``StoreError`` for damage."""
    lines = LineFormat()
    turns = last = 0
    members = []
    for one in opened:
        if not _HISTORY.fullmatch(one.name):
            members.append(_digest(one.name, one.file))
            continue
        digest, size, held = sha256(), 0, last
        for piece in pieces_of(one.file, folder / one.name, lines, Extent(), last, archived=held):
            if not piece.ended:
                break  # being written just now, or cut short: not acknowledged
            if piece.turn is None and not piece.archived:
                raise StoreError(f"{folder / one.name}: there is damage in it; run 'vatside doctor' first")
            if piece.turn is not None:
                turns, last = turns + 1, piece.turn.seq
            digest.update(piece.raw)
            size += len(piece.raw)
        members.append(Member(one.name, size, digest.hexdigest()))
    return Contents(FORMAT, turns, last, tuple(members))


def _write(opened: list[_Open], contents: Contents, target: Path, files: Files) -> None:
    temporary = target.with_name(target.name + ".tmp")
    encoded = msgspec.json.encode(contents)
    try:
        fd = files.open_new(temporary)
        try:
            with tarfile.open(fileobj=_Output(files, fd), mode="w|gz") as tar:
                _add(tar, CONTENTS_NAME, len(encoded), io.BytesIO(encoded))
                for one, member in zip(opened, contents.files, strict=True):
                    one.file.seek(0)
                    _add(tar, one.name, member.size, one.file)
            files.sync(fd)
        finally:
            files.close(fd)
        files.replace(temporary, target)
    except BaseException:
        if temporary.exists():
            files.remove(temporary)
        raise
    files.sync_folder(target.parent)


def _unpack(source: Path, folder: Path, files: Files) -> None:
    """Put every file of a verified backup into a folder."""
    with _reading(source):
        for name, stream in _members(source):
            if name != CONTENTS_NAME:
                make_folders(files, (folder / name).parent)
                replace_file(files, folder / name, _pieces(stream))


def _pieces(stream: IO[bytes]) -> Iterator[bytes]:
    while piece := stream.read(_CHUNK):
        yield piece


def _add(tar: tarfile.TarFile, name: str, size: int, content: IO[bytes]) -> None:
    """Add a member that names nobody: no owner, no time."""
    info = tarfile.TarInfo(name)
    info.size = size
    info.mode = FILE_MODE
    tar.addfile(info, content)


def _members(source: Path) -> Iterator[tuple[str, IO[bytes]]]:
    """The plain files of a backup, in order. Raises ``StoreError`` where it is none."""
    with tarfile.open(source, mode="r|gz") as tar:
        for info in tar:
            stream = tar.extractfile(info) if info.isreg() else None
            if stream is None:
                raise _broken(source, f"{info.name!r} is no plain file")
            yield info.name, stream


@contextmanager
def _reading(source: Path) -> Iterator[None]:
    try:
        yield
    except (tarfile.TarError, EOFError) as error:
        raise _broken(source, "it is damaged or cut short") from error
    except OSError as error:
        # gzip and zlib report a damaged file as an OSError without a number.
        if error.errno is None:
            raise _broken(source, "it is damaged or no backup at all") from error
        raise


def _contents(source: Path, name: str, stream: IO[bytes]) -> Contents:
    if name != CONTENTS_NAME:
        raise _broken(source, "it does not say what is in it")
    try:
        contents = msgspec.json.decode(stream.read(_LARGEST_CONTENTS), type=Contents)
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as error:
        raise _broken(source, "what it says of itself can't be read") from error
    if contents.v != FORMAT:
        raise StoreError(f"{source}: a backup of format {contents.v}; update Vatside")
    return contents


def _digest(name: str, stream: IO[bytes]) -> Member:
    digest, size = sha256(), 0
    while chunk := stream.read(_CHUNK):
        digest.update(chunk)
        size += len(chunk)
    return Member(name, size, digest.hexdigest())


def _check(folder: Path, contents: Contents) -> None:
    """Hold what lies in a folder against what should. Raises ``StoreError``."""
    lines = LineFormat()
    for member in contents.files:
        with (folder / member.name).open("rb") as file:
            if _digest(member.name, file) != member:
                raise StoreError(f"{folder / member.name}: the disk does not keep what is written; check the disk")
    numbers = {turn.seq for path in parts_of(folder) for turn in turns_in(path, lines)}
    if (len(numbers), max(numbers, default=0)) != (contents.turns, contents.last):
        raise StoreError(f"{folder}: not every turn of the backup is there; use another backup")


def _clear(beside: Path, files: Files) -> None:
    """Remove what an earlier try, cut short, has left."""
    if beside.is_dir():
        for path in [*beside.glob("*/*"), *beside.glob("*")]:
            if path.is_file():
                files.remove(path)


def _broken(source: Path, why: str) -> StoreError:
    return StoreError(f"{source}: {why}; use another backup")


def _where(error: OSError, otherwise: Path) -> Path:
    return Path(error.filename) if isinstance(error.filename, str) else otherwise
