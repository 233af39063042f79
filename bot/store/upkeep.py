"""What is done to the records at a start, before anything is appended: past years are archived, old talk dropped.

Records stay for ever. What goes after a while is talk: which question was open, where a walk stood, which fryer was
mentioned, and the texts of messages that were sent.
"""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from msgspec.structs import replace

from bot.core import records as r
from bot.store.archive import archive_years, drop_snapshot, year_of
from bot.store.files import Files
from bot.store.history import HISTORY_NAME
from bot.store.lines import LineFormat
from bot.store.rewriting import parts_of, rewrite, turns_in

AT_MOST_EVERY = timedelta(days=30)
"""Dropping old talk reads whole years again, so it is done at the first start of about each month."""

TALK = (r.Asked, r.Settled, r.WalkMoved, r.WalkEnded, r.FryerMentioned, r.Reminded, r.HeardUnsurely, r.HeardRight)
"""Changes that say only where a conversation stood, or what a message of those days was about."""


@dataclass(frozen=True, slots=True)
class Upkeep:
    """What is asked for: ``keep_talk`` is how long talk is kept, counted back from ``now``."""

    now: datetime
    keep_talk: timedelta


@dataclass(frozen=True, slots=True)
class Kept:
    """What was done: archives written, turns whose talk was dropped, and up to when talk is dropped now.

    ``problem`` says why not all of it could be done; the records are whole then too.
    """

    archived: tuple[Path, ...] = ()
    stripped: int = 0
    stripped_to: datetime | None = None
    problem: str | None = None

    @property
    def changed(self) -> bool:
        """Whether any file was rewritten, or may have been."""
        return bool(self.archived or self.stripped or self.problem)


def keep_up(
    folder: Path, wanted: Upkeep, files: Files, lines: LineFormat, stripped_to: datetime | None, unsent: Container[int]
) -> Kept:
    """Do what is due. The folder must be whole, and nobody may have it open. ``unsent`` messages keep their text."""
    archived: list[Path] = []
    stripped = 0
    limit = wanted.now - wanted.keep_talk
    try:
        archived = archive_years(folder, files, lines, wanted.now.astimezone(UTC).year)
        if stripped_to is None or limit - stripped_to >= AT_MOST_EVERY:
            stripped = _strip(folder, files, lines, limit, stripped_to, unsent)
            stripped_to = limit
    except OSError as error:
        return Kept(tuple(archived), stripped, stripped_to, f"{folder}: {error.strerror or error}")
    return Kept(tuple(archived), stripped, stripped_to)


def without_talk(turn: r.Turn, unsent: Container[int] = ()) -> r.Turn:
    """A turn with its records, and without what was only talk."""
    changes = tuple(change for change in turn.changes if not isinstance(change, TALK))
    out = tuple(
        message if message.number in unsent else replace(message, text="", buttons=(), aloud=()) for message in turn.out
    )
    return replace(turn, changes=changes, out=out)


def _strip(
    folder: Path,
    files: Files,
    lines: LineFormat,
    limit: datetime,
    stripped_to: datetime | None,
    unsent: Container[int],
) -> int:
    def change(turn: r.Turn) -> r.Turn:
        return without_talk(turn, unsent) if turn.at < limit else turn

    count = 0
    for path in parts_of(folder):
        if path.name != HISTORY_NAME and stripped_to is not None and _after(path) <= stripped_to:
            continue
        first = next(turns_in(path, lines), None)
        if first is None or first.at >= limit:
            continue
        if any(change(turn) != turn for turn in turns_in(path, lines)):
            drop_snapshot(folder, files)
            count += rewrite(path, files, lines, change)
    return count


def _after(archive: Path) -> datetime:
    """The end of an archive's year."""
    return datetime(year_of(archive) + 1, 1, 1, tzinfo=UTC)
