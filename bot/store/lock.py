"""One process per store: two that write the same history would number their turns alike."""

from __future__ import annotations

from pathlib import Path

from filelock import FileLock, Timeout

from bot.store.errors import StoreBusy, explain
from bot.store.files import FILE_MODE

LOCK_NAME = "lock"


def take_lock(folder: Path) -> FileLock:
    """The lock on ``folder``, held until its ``release()`` or the end of the process, however that ends.

    Raises ``StoreBusy`` at once where another process (or another store in this one) holds it, and ``StoreError``
    where the folder doesn't let itself be locked.
    """
    # Not bound to a thread: the store may be closed by another one than opened it.
    lock = FileLock(folder / LOCK_NAME, timeout=0, mode=FILE_MODE, thread_local=False)
    try:
        lock.acquire()
    except Timeout:
        raise StoreBusy(
            f"{folder}: another Vatside process is using these records; stop it first, or choose another folder"
        ) from None
    except OSError as error:
        raise explain(error, folder) from error
    return lock
