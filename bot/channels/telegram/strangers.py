"""Strangers are told once in a while that the helper is private; nothing about them is learnt or kept on disk."""

from __future__ import annotations

from collections import OrderedDict, deque
from datetime import datetime, timedelta

MOST = 3
"""Refusals that one stranger gets in any hour: enough to be polite, too few to be used for flooding."""
WITHIN = timedelta(hours=1)

REMEMBERED = 1000
"""Strangers that are remembered at once; the one not heard of for longest is forgotten first."""


TRIES = 10
"""Links that one phone may try in any hour; a person has one, and taps it a few times."""

ALL_FAILED = 100
"""Links that let nobody in, of everybody together in any hour, that are answered with why. A good one always is: its
secret has 128 random bits or more, so that nobody hits on one however often they try."""


class Attempts:
    """Counts who tries links, known or not."""

    def __init__(self) -> None:
        self._tries: OrderedDict[int, deque[datetime]] = OrderedDict()
        self._failed: deque[datetime] = deque(maxlen=ALL_FAILED)

    def may_try(self, user: int, now: datetime) -> bool:
        """Whether a link of this phone is looked at now; counts it as tried if so."""
        tries = self._tries.setdefault(user, deque(maxlen=TRIES))
        self._tries.move_to_end(user)
        if len(self._tries) > REMEMBERED:
            self._tries.popitem(last=False)
        return _counted(tries, now)

    def may_tell(self, now: datetime) -> bool:
        """Whether it may be said why a link lets nobody in; counts it as failed."""
        return _counted(self._failed, now)


def _counted(times: deque[datetime], now: datetime) -> bool:
    if len(times) == times.maxlen and now - times[0] < WITHIN:
        return False
    times.append(now)
    return True


class Doorkeeper:
    """Decides who is refused aloud and who in silence."""

    def __init__(self) -> None:
        self._told: OrderedDict[int, deque[datetime]] = OrderedDict()
        self.turned_away = 0
        """Messages of strangers since the door opened."""

    def may_tell(self, user: int, now: datetime) -> bool:
        """Whether this stranger may be sent a refusal now; counts it as sent if so."""
        self.turned_away += 1
        told = self._told.setdefault(user, deque(maxlen=MOST))
        self._told.move_to_end(user)
        if len(self._told) > REMEMBERED:
            self._told.popitem(last=False)
        return _counted(told, now)

    def __len__(self) -> int:
        return len(self._told)
