"""Questions that a tap settles, so that the answer may take their place instead of piling up below them."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence

from bot.channels.telegram.out import Ref
from bot.core.actions import parse
from bot.core.records import Outgoing

ONE_SHOT = frozenset({"did", "lang", "no", "none", "undo", "fewer", "rush", "moveto"})
"""Actions that settle the message they stand under. A message with any other button keeps its place: somebody may
still want another of its buttons."""

REMEMBERED = 1000


class Answered:
    """The latest messages that a tap settles. After a restart none is known, and answers come as new messages."""

    def __init__(self) -> None:
        self._settled: OrderedDict[Ref, None] = OrderedDict()

    def sent(self, ref: Ref, out: Outgoing) -> None:
        """A message was sent, or a message now shows this."""
        self._settled.pop(ref, None)
        verbs = {parse(button.action).verb for button in out.buttons}
        if out.kind == "reply" and out.key is None and not out.files and verbs and verbs <= ONE_SHOT:
            self._settled[ref] = None
            if len(self._settled) > REMEMBERED:
                self._settled.popitem(last=False)

    def instead_of(self, tapped: Ref | None, answers: Sequence[Outgoing]) -> Outgoing | None:
        """The answer that takes the place of the message whose button was tapped, or None."""
        plain = [out for out in answers if out.kind == "reply"]
        if tapped not in self._settled or len(plain) != 1:
            return None
        (only,) = plain
        return only if only.key is None and not only.edit and not only.files else None
