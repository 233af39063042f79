"""Every operation that changes the disk, one method each, so that a test can make any single one of them fail.

The methods raise ``OSError`` as the operating system does; turning that into advice is the caller's business.
"""

from __future__ import annotations

import contextlib
import errno
import os
from collections.abc import Iterable
from pathlib import Path

FILE_MODE = 0o600
FOLDER_MODE = 0o700

# Windows would otherwise turn each "\n" into two bytes; elsewhere the flag doesn't exist.
_BINARY = getattr(os, "O_BINARY", 0)


class Files:
    """The file system, as far as the store changes it."""

    def make_folder(self, path: Path) -> None:
        """Make one folder that only this user may enter."""
        path.mkdir(mode=FOLDER_MODE)

    def open_append(self, path: Path) -> int:
        """A descriptor that writes at the end of ``path`` only; the file is made if it isn't there."""
        return os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND | _BINARY, FILE_MODE)

    def open_new(self, path: Path) -> int:
        """A descriptor on ``path``, made empty."""
        return os.open(path, os.O_RDWR | os.O_CREAT | os.O_TRUNC | _BINARY, FILE_MODE)

    def close(self, fd: int) -> None:
        """Give the descriptor back."""
        os.close(fd)

    def write(self, fd: int, data: bytes) -> int:
        """One write; how many bytes were taken, which may be fewer than given."""
        return os.write(fd, data)

    def sync(self, fd: int) -> None:
        """Return only when everything written to the file is on the disk."""
        os.fsync(fd)

    def truncate(self, fd: int, length: int) -> None:
        """Cut the file to ``length`` bytes."""
        os.ftruncate(fd, length)

    def replace(self, source: Path, target: Path) -> None:
        """Rename ``source`` to ``target`` in one step, over whatever was there."""
        source.replace(target)

    def remove(self, path: Path) -> None:
        """Remove one file."""
        path.unlink()

    def restrict(self, path: Path, mode: int) -> None:
        """Set who may do what with a file or folder."""
        path.chmod(mode)

    def sync_folder(self, path: Path) -> None:
        """Return only when the names in the folder are on the disk.

        A file system that can't do this for a folder says EINVAL, and keeps its names safe in its own way.
        """
        if os.name == "nt":  # Windows can't open a folder
            return
        fd = os.open(path, os.O_RDONLY)
        try:
            os.fsync(fd)
        except OSError as error:
            if error.errno != errno.EINVAL:
                raise
        finally:
            os.close(fd)


def make_folders(files: Files, folder: Path) -> None:
    """Make ``folder`` and every missing folder above it, each safe on the disk before the next.

    Raises ``OSError``; ``NotADirectoryError`` where something else than a folder has that name.
    """
    if folder.is_dir():
        return
    if folder.exists():
        raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR), str(folder))
    make_folders(files, folder.parent)
    files.make_folder(folder)
    files.sync_folder(folder.parent)


def replace_file(files: Files, path: Path, chunks: Iterable[bytes]) -> None:
    """Make ``path`` hold ``chunks``, wholly or not at all, whenever the power goes.

    The temporary file lies in the same folder, since a rename is one step only within a file system. Its name is
    fixed, so that one left by a power cut is written over. Raises ``OSError``; ``path`` is whole then too, be it
    old or new.
    """
    temporary = path.with_name(path.name + ".tmp")
    try:
        fd = files.open_new(temporary)
        try:
            for chunk in chunks:
                write_all(files, fd, chunk)
            files.sync(fd)
        finally:
            files.close(fd)
        files.replace(temporary, path)
    except BaseException:
        with contextlib.suppress(OSError):  # the first failure is the one to report
            files.remove(temporary)
        raise
    files.sync_folder(path.parent)


def free_name(folder: Path, pattern: str) -> Path:
    """The first path ``pattern.format(n)`` in ``folder``, n from 1, at which there is nothing yet."""
    n = 1
    while (path := folder / pattern.format(n)).exists():
        n += 1
    return path


def write_all(files: Files, fd: int, data: bytes) -> None:
    """Write all of ``data``; only for files that nobody reads before they are whole. Raises ``OSError``."""
    view = memoryview(data)
    while view:
        taken = files.write(fd, bytes(view))
        if taken == 0:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        view = view[taken:]
