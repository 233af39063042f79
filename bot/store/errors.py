"""What can go wrong with the records, each as one line: what is wrong; what to do."""

from __future__ import annotations

import errno
from pathlib import Path


class StoreError(Exception):
    """The records can't be read or written; the message is one line for the person who runs the helper."""


class StoreBusy(StoreError):  # noqa: N818  (a state of affairs that passes)
    """Another process has the records open for writing."""


class NewerFormatError(StoreError):
    """A record was written by a newer version of Vatside than this one."""


_FULL = ("the disk is full", "nothing was recorded; free some space, then try again")
_REFUSED = ("no permission", "give this user the right to read and write there, or choose another folder")
_ADVICE = {
    errno.ENOSPC: _FULL,
    errno.EDQUOT: ("the disk quota is used up", _FULL[1]),
    errno.EACCES: _REFUSED,
    errno.EPERM: _REFUSED,
    errno.EROFS: ("the disk or folder is read-only", "make it writable, or choose another folder"),
    errno.ENOTDIR: ("not a folder", "choose a folder for the records"),
    errno.EEXIST: ("not a folder", "choose a folder for the records"),
    errno.ENOENT: ("no such file or folder", "check the name of the records folder"),
    errno.EIO: ("the disk reported a fault", "nothing was recorded; check the disk, then try again"),
}


def explain(error: OSError, path: Path) -> StoreError:
    """The ``StoreError`` that says in one line what the operating system refused at ``path``, and what to do."""
    fallback = (error.strerror or type(error).__name__, "nothing was recorded; try again")
    what, advice = _ADVICE.get(error.errno or 0, fallback)
    return StoreError(f"{path}: {what}; {advice}")
