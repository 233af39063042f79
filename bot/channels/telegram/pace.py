"""How much one person may say in a minute: a stuck phone or a bored hand must not take the helper from the others."""

from __future__ import annotations

from collections import OrderedDict, deque
from typing import Literal

MOST = 40
"""Messages and taps of one person in any minute. A hurried hand makes one a second at the most, and not for long
(common practice)."""
WITHIN = 60.0
"""Seconds."""
REMEMBERED = 2000
"""People whose pace is remembered at once; the one not heard of for longest is forgotten first."""

Verdict = Literal["go", "tell", "quiet"]


class Pace:
    """Who goes too fast. What is over the limit isn't taken, and its sender is told so once."""

    def __init__(self, most: int = MOST, within: float = WITHIN) -> None:
        self._most = most
        self._within = within
        self._taken: OrderedDict[int, deque[float]] = OrderedDict()
        self._told: dict[int, float] = {}

    def of(self, user: int, at: float) -> Verdict:
        """What to do with what a person sent ``at`` (in seconds): take it, say that it is too much, or neither.

        What came while the helper was off is judged by when it was sent, so that a long queue is no flood.
        """
        taken = self._taken.setdefault(user, deque(maxlen=self._most))
        self._taken.move_to_end(user)
        if len(self._taken) > REMEMBERED:
            gone, _ = self._taken.popitem(last=False)
            self._told.pop(gone, None)
        if len(taken) < self._most or at - taken[0] >= self._within:
            taken.append(at)
            return "go"
        if at - self._told.get(user, float("-inf")) < self._within:
            return "quiet"
        self._told[user] = at
        return "tell"
