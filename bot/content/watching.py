"""Content that is read again when somebody has edited it, so that a correction needs no restart."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path

from bot.content import places
from bot.content.catalogue import Content, load_content
from bot.content.own_guides import FOLDER

LOOK_EVERY = timedelta(seconds=5)
"""Time between two looks at the files; a look at 250 of them takes a few milliseconds."""

Seen = dict[Path, tuple[int, int]]


class Watched:
    """The content of one kitchen on the disk: whether it has changed, and what it is now."""

    def __init__(self, kitchen_file: Path | None) -> None:
        self._own = kitchen_file.parent / FOLDER if kitchen_file is not None else None
        self._folders: Sequence[Path] = [places.CONTENT, *([self._own] if self._own is not None else [])]
        self._seen = self._look()
        self._looked: datetime | None = None

    def changed(self, now: datetime) -> bool:
        """Whether any file is not what it was at the last look; at most one look every five seconds."""
        if self._looked is not None and timedelta(0) <= now - self._looked < LOOK_EVERY:
            return False
        self._looked = now
        seen = self._look()
        changed = seen != self._seen
        self._seen = seen
        return changed

    def load(self) -> Content:
        """What the files say now. Raises ``ContentError`` with every fault."""
        return load_content(self._own if self._own is not None and self._own.is_dir() else None)

    def _look(self) -> Seen:
        return look(self._folders, "*.toml")


def look(folders: Sequence[Path], pattern: str) -> Seen:
    """When each file below these folders was last changed, and its size."""
    seen: Seen = {}
    for folder in folders:
        for path in folder.rglob(pattern):
            try:
                stat = path.stat()
            except OSError:
                # Gone between the listing and the look; editors replace files so.
                continue
            seen[path] = (stat.st_mtime_ns, stat.st_size)
    return seen
