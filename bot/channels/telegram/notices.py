"""One message over several kitchens, sent to those who manage more than one."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from telegram.error import InvalidToken, TelegramError

from bot import rollup
from bot.app import Helper
from bot.channels.telegram.errands import Errands
from bot.channels.telegram.line import Line, LineClosedError
from bot.channels.telegram.logs import happened
from bot.channels.telegram.out import split_text


class Notices:
    """The roll-ups of these kitchens. One that was sent is remembered in each of them; a blocked chat is given up."""

    def __init__(self, helpers: Sequence[Helper]) -> None:
        self._helpers = helpers
        self._under_way: set[tuple[int, date]] = set()

    def next_at(self, now: datetime) -> datetime | None:
        """When the next is to be sent; None where nobody manages several of these kitchens."""
        if any((due.telegram, due.day) not in self._under_way for due in rollup.due(self._helpers, now)):
            return now
        return rollup.next_at(self._helpers, now)

    def send(self, line: Line, errands: Errands, now: datetime) -> None:
        """Set on its way whatever is due."""
        for due in rollup.due(self._helpers, now):
            key = (due.telegram, due.day)
            if key not in self._under_way:
                self._under_way.add(key)
                errands.run(self._send(line, due, now))

    async def _send(self, line: Line, due: rollup.RollUp, now: datetime) -> None:
        try:
            for part in split_text(due.text):
                await line.send_text(due.telegram, part, None)
        except (InvalidToken, LineClosedError):
            raise
        except TelegramError as error:
            happened("roll_up_given_up", error=type(error).__name__)
            return
        happened("sent", kind="roll_up")
        rollup.sent(due, now)
