"""Listening beside the event loop: one thread, a short queue, and a clear answer where it is full."""

from __future__ import annotations

import asyncio
import logging
import queue
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from bot.voice.ear import Hearing
from bot.voice.heard import Heard

_log = logging.getLogger(__name__)

WAITING = 8
"""Notes that may wait for their turn: at two seconds each the last is answered within half a minute."""


@dataclass(frozen=True, slots=True)
class _Job:
    sound: bytes | Path
    language: str
    bias: Sequence[str]
    loop: asyncio.AbstractEventLoop
    answer: asyncio.Future[Heard]


class Listener:
    """Gives an ear its notes one by one, in order; may be asked from any number of tasks."""

    def __init__(self, ear: Hearing, *, waiting: int = WAITING) -> None:
        self._ear = ear
        self._jobs: queue.Queue[_Job | None] = queue.Queue(waiting)
        self._closed = False
        self._thread = threading.Thread(target=self._work, name="listener", daemon=True)
        self._thread.start()

    @property
    def languages(self) -> tuple[str, ...]:
        """The languages that the ear knows."""
        return tuple(self._ear.languages)

    async def hear(self, sound: bytes | Path, language: str, bias: Sequence[str] = ()) -> Heard:
        """The words of a sound; trouble "busy" where too many wait already, "absent" after ``close``."""
        if self._closed:
            return Heard("", trouble="absent")
        loop = asyncio.get_running_loop()
        answer: asyncio.Future[Heard] = loop.create_future()
        try:
            self._jobs.put_nowait(_Job(sound, language, bias, loop, answer))
        except queue.Full:
            return Heard("", trouble="busy")
        return await answer

    def close(self) -> None:
        """Take no more notes; those that wait are answered with trouble "absent". Doesn't wait for the one at work."""
        if self._closed:
            return
        self._closed = True
        while True:
            try:
                job = self._jobs.get_nowait()
            except queue.Empty:
                break
            if job is not None:
                _tell(job, Heard("", trouble="absent"))
        self._jobs.put_nowait(None)

    def _work(self) -> None:
        while (job := self._jobs.get()) is not None:
            if job.answer.cancelled():
                continue
            try:
                heard = self._ear.hear(job.sound, job.language, job.bias)
            except Exception as error:
                # One note must not silence all that follow; what it held is not written into the log.
                _log.error("event=listening_failed error=%s", type(error).__name__)
                heard = Heard("", trouble="broken")
            _tell(job, heard)


def _tell(job: _Job, heard: Heard) -> None:
    def settle() -> None:
        if not job.answer.done():
            job.answer.set_result(heard)

    try:
        job.loop.call_soon_threadsafe(settle)
    except RuntimeError:
        # The loop is closed; nobody waits any more.
        _log.debug("a note was heard too late")
