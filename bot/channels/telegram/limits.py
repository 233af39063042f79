"""How fast messages may go out, as the server asks for.

Source: the public Bot FAQ, "My bot is hitting limits, how do I avoid this?": in one chat no more than one message a
second (short bursts may pass), in one group at most 20 a minute, about 30 a second in all. The library's limiter keeps
the last two; the first is added here.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Coroutine
from typing import Any

from aiolimiter import AsyncLimiter
from telegram.ext import AIORateLimiter

BURST = 3
"""Messages to one person at once, as an answer with its picture; then one a second. Small, for bursts only may pass."""
REMEMBERED = 512
"""Chats whose pace is remembered at once."""

Result = bool | dict[str, Any] | list[dict[str, Any]]
"""What a call of the Bot API brings."""


class Limiter(AIORateLimiter):
    """The library's limits, and one message a second to each person. Waiting after a 429 is left to the line."""

    def __init__(self) -> None:
        super().__init__(max_retries=0)
        self._people: OrderedDict[int, AsyncLimiter] = OrderedDict()

    async def process_request(
        self,
        callback: Callable[..., Coroutine[Any, Any, Result]],
        args: Any,
        kwargs: dict[str, Any],
        endpoint: str,
        data: dict[str, Any],
        rate_limit_args: int | None,
    ) -> Result:
        """Wait for this chat's turn, then as the library does."""
        chat = data.get("chat_id")
        if isinstance(chat, int) and chat > 0 and endpoint.startswith("send") and endpoint != "sendChatAction":
            await self._of(chat).acquire()
        return await super().process_request(callback, args, kwargs, endpoint, data, rate_limit_args)

    def _of(self, chat: int) -> AsyncLimiter:
        limiter = self._people.get(chat)
        if limiter is None:
            limiter = self._people[chat] = AsyncLimiter(max_rate=BURST, time_period=BURST)
        self._people.move_to_end(chat)
        if len(self._people) > REMEMBERED:
            self._people.popitem(last=False)
        return limiter
