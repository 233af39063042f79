"""How records of an older format become records of this one, while they are read.

``MIGRATIONS[0]`` turns a record of version 1 into one of version 2, and so on: a change of format appends one
function here, and lines already on the disk are never rewritten for it. A record is the raw dict of one line,
without its version and checksum.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from bot.store.errors import NewerFormatError

Raw = dict[str, Any]
Migration = Callable[[Raw], Raw]

MIGRATIONS: tuple[Migration, ...] = ()


def version_after(migrations: Sequence[Migration]) -> int:
    """The version that records have after all of ``migrations``: the one that is written."""
    return 1 + len(migrations)


def migrate(raw: Raw, version: int, migrations: Sequence[Migration]) -> Raw:
    """``raw``, a record of ``version``, as a record of the newest version.

    Raises ``NewerFormatError`` where ``version`` lies beyond that.
    """
    known = version_after(migrations)
    if version > known:
        raise NewerFormatError(
            f"record of format {version}, and this Vatside knows formats up to {known}; "
            "update Vatside (nothing was changed)"
        )
    for step in migrations[version - 1 :]:
        raw = step(raw)
    return raw
