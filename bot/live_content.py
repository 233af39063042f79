"""Content that is edited while the helper runs: read again when it changes, kept as it was where an edit is faulty."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from bot.content.catalogue import Content
from bot.content.findings import ContentError
from bot.content.watching import Watched
from bot.core.messages import Outcome
from bot.core.scene import Scene
from bot.core.skills import editing


class LiveContent:
    """The last good content, and what the trainers are to hear of an edit."""

    def __init__(self, content: Content, watched: Watched | None) -> None:
        self.content = content
        self._watched = watched
        self._faulty = False

    def news(self, scene: Callable[[], Scene], now: datetime) -> Outcome:
        """Take in what was edited since the last look, and say to the trainers what is wrong with it.

        ``scene`` is asked for after the content was read. A faulty edit changes nothing.
        """
        if self._watched is None or not self._watched.changed(now):
            return Outcome()
        try:
            self.content = self._watched.load()
        except ContentError as error:
            self._faulty = True
            return editing.faulty(scene(), [str(finding) for finding in error.findings])
        mended, self._faulty = self._faulty, False
        return editing.mended(scene()) if mended else Outcome()
