"""Small calls on the side, which matter too little to hold anything up."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Coroutine
from typing import Any

from telegram.error import InvalidToken, TelegramError

from bot.channels.telegram.line import LineClosedError, cancel_all
from bot.channels.telegram.logs import happened, went_wrong

MOST_ERRANDS = 100
"""Under way at once; beyond that, strangers get no answer."""


class Errands:
    """Calls under way; one that fails is a line in the log."""

    def __init__(self, token_lost: Callable[[], None]) -> None:
        """``token_lost`` is called when the server no longer accepts the bot's token."""
        self._token_lost = token_lost
        self._tasks: set[asyncio.Task[None]] = set()

    @property
    def busy(self) -> bool:
        """Whether so many are under way that what can be left undone should be."""
        return len(self._tasks) >= MOST_ERRANDS

    def run(self, call: Coroutine[Any, Any, None]) -> None:
        """Set one on its way."""
        task = asyncio.create_task(self._go(call))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def close(self) -> None:
        """Break off whatever is under way."""
        await cancel_all(self._tasks)

    async def _go(self, call: Coroutine[Any, Any, None]) -> None:
        try:
            await call
        except LineClosedError:
            return
        except InvalidToken:
            self._token_lost()
        except TelegramError as error:
            happened("errand_failed", error=type(error).__name__)
        except Exception as error:
            went_wrong("errand_failed", error)
