"""What is done to the records in quiet hours: past years go into archives, a slice at a time."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

from bot.core.state import State
from bot.store import Store, StoreError

_log = logging.getLogger(__name__)

PAUSE = timedelta(seconds=1)
"""Between two slices, for whoever writes to the helper meanwhile."""


class Tidying:
    """Tidies one store while it is in use. ``begin`` is called when a kitchen day has ended, ``step`` ever so often."""

    def __init__(self, store: Store[State]) -> None:
        self._store = store
        self._slices: Iterator[None] | None = None
        self._at: datetime | None = None

    def begin(self, now: datetime) -> None:
        """See to what has become the past; one who is at it already goes on."""
        if self._slices is None:
            self._slices = self._store.move_past_years(now.astimezone(UTC).year)
            self._step(now)

    def step(self, now: datetime) -> None:
        """Do the next slice if it is time."""
        if self._at is not None and now >= self._at:
            self._step(now)

    def soonest(self, otherwise: datetime | None) -> datetime | None:
        """When it is time, or something else happens sooner."""
        return min((at for at in (self._at, otherwise) if at is not None), default=None)

    def _step(self, now: datetime) -> None:
        if self._slices is None:
            return
        try:
            next(self._slices)
            self._at = now + PAUSE
            return
        except StopIteration:
            pass
        except StoreError as error:
            # The records are whole; the end of the next kitchen day, or the next start, tries again.
            _log.warning("past years not archived: %s", error)
        self._slices = self._at = None
