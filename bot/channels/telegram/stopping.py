"""Signals that end the process, from its first moment on: also while the records are still being read."""

from __future__ import annotations

import asyncio
import signal


class Stopping:
    """Whether somebody wants the process to stop. Made before anything is opened, in the main thread.

    As long as no loop runs, a signal ends the process at once with status 0, from wherever it is: the records stand
    whatever moment that is.
    """

    SIGNALS = (signal.SIGTERM, signal.SIGINT)

    def __init__(self) -> None:
        self._waiting: list[tuple[asyncio.AbstractEventLoop, asyncio.Event]] = []
        for number in self.SIGNALS:
            signal.signal(number, lambda *_: self._stop())

    def event(self) -> asyncio.Event:
        """An event of the running loop that is set as soon as a signal has come."""
        loop, event = asyncio.get_running_loop(), asyncio.Event()
        self._waiting.append((loop, event))
        for number in self.SIGNALS:
            try:
                loop.add_signal_handler(number, self._stop)
            except NotImplementedError:  # a system whose event loop knows no signals: those set above do
                break
        return event

    def _stop(self) -> None:
        if not self._waiting:
            raise SystemExit(0)
        for loop, event in self._waiting:
            loop.call_soon_threadsafe(event.set)
