"""Strangers are told once in a while that the helper is private; nothing about them is learnt or kept on disk."""

from __future__ import annotations

from collections import OrderedDict, deque
from datetime import datetime, timedelta

MOST = 3
"""Refusals that one stranger gets in any hour: enough to be polite, too few to be used for flooding."""
WITHIN = timedelta(hours=1)

REMEMBERED = 1000
"""Strangers that are remembered at once; the one not heard of for longest is forgotten first."""


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
        if len(told) == MOST and now - told[0] < WITHIN:
            return False
        told.append(now)
        return True

    def __len__(self) -> int:
        return len(self._told)
