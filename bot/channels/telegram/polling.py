"""Asking the server for updates; one is confirmed only after the helper has it on the disk.

The library's own polling confirms updates before anybody has read them. Here a crash in between loses nothing; the
helper knows what it has seen. While one update takes long (a picture, a voice note), those of other chats go on.
"""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Hashable
from functools import partial

from telegram import Bot

from bot.channels.telegram import wire
from bot.channels.telegram.lanes import Lanes
from bot.channels.telegram.line import Line, Sleep
from bot.channels.telegram.logs import happened

POLL_SECONDS = 30
"""How long the server may hold a request for updates; it bounds how late a tick can be after the machine slept."""

QUICK = 1.0
"""Seconds that a batch may take before the next is asked for while it is still being worked on."""


class Polling:
    """The updates, batch by batch."""

    def __init__(
        self,
        bot: Bot,
        line: Line,
        lanes: Lanes,
        lane: Callable[[object], Hashable],
        take: Callable[[object], Awaitable[None]],
        sleep: Sleep,
        longest: float,
    ) -> None:
        """``lane`` tells what an update waits for.

        ``longest`` is the pause in seconds after an answer in which nothing can be read.
        """
        self._bot = bot
        self._line = line
        self._lanes = lanes
        self._lane = lane
        self._take = take
        self._sleep = sleep
        self._longest = longest
        self._offset: int | None = None
        self._under_way: dict[int, asyncio.Task[None]] = {}
        self._ended: set[int] = set()

    async def catch_up(self) -> None:
        """Take everything that came while nobody was here, so that nobody is reminded of what they reported."""
        await self.receive(hold=0)
        while self._offset is not None:
            await self.receive(hold=0)

    async def receive(self, hold: int = POLL_SECONDS) -> None:
        """Take one batch of updates, and confirm the one before.

        After an empty batch there is nothing left to confirm, and the offset is dropped: after a quiet week the
        server starts its numbers anew, perhaps with lower ones.
        """
        asked = {"offset": self._offset, "timeout": hold, "allowed_updates": list(wire.KINDS)}
        batch = await self._line.call(
            lambda: self._bot.do_api_request(
                "getUpdates",
                api_kwargs={key: value for key, value in asked.items() if value is not None},
                read_timeout=hold + 10,
            )
        )
        updates = batch if isinstance(batch, list) else []
        numbers = [number for raw in updates if (number := wire.update_id(raw)) is not None]
        for raw in updates:
            self._begin(raw)
        if updates and not numbers:
            happened("updates_unreadable", updates=len(updates))
            await self._sleep(self._longest)
        if self._under_way:
            await asyncio.wait(self._under_way.values(), timeout=QUICK)
        self._offset = min(self._under_way, default=max(numbers) + 1 if numbers else None)
        self._ended = {number for number in self._ended if self._offset is not None and number >= self._offset}

    def _begin(self, raw: object) -> None:
        number = wire.update_id(raw)
        if number is None or number in self._under_way or number in self._ended:
            return
        task = self._lanes.add(self._lane(raw), partial(self._take, raw))
        self._under_way[number] = task
        task.add_done_callback(lambda _: self._end(number))

    def _end(self, number: int) -> None:
        self._under_way.pop(number, None)
        self._ended.add(number)
