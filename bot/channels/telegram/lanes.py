"""Work in lanes: in order within one; in the order of arrival altogether, but for what takes long."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Hashable

from bot.channels.telegram.line import cancel_all

PROMPT = 0.05
"""Seconds that whatever comes next waits for what came before, in another lane."""


class Lanes:
    """One lane a chat, so that what takes long in one (a picture, a voice note) holds up nobody else."""

    def __init__(self) -> None:
        self._last: dict[Hashable, asyncio.Task[None]] = {}
        self._tasks: set[asyncio.Task[None]] = set()
        self._latest: asyncio.Task[None] | None = None

    def add(self, lane: Hashable, work: Callable[[], Awaitable[None]]) -> asyncio.Task[None]:
        """Do this as soon as everything that was put into the lane before it has ended.

        It also waits for the one that came before it in another lane, unless that takes longer than ``PROMPT``.
        """
        before, latest = self._last.get(lane), self._latest

        async def go() -> None:
            if latest is not None and not latest.done():
                await asyncio.wait([latest], timeout=PROMPT)
            if before is not None and not before.done():
                await asyncio.wait([before])
            await work()

        task = asyncio.create_task(go())
        self._last[lane] = self._latest = task
        self._tasks.add(task)
        task.add_done_callback(lambda ended: self._drop(lane, ended))
        return task

    async def close(self) -> None:
        """Break off whatever has not ended."""
        await cancel_all(self._tasks)

    def _drop(self, lane: Hashable, ended: asyncio.Task[None]) -> None:
        self._tasks.discard(ended)
        if self._last.get(lane) is ended:
            del self._last[lane]
        if self._latest is ended:
            self._latest = None
