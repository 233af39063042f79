"""Replay: the whole helper on a virtual clock, from a script. No waiting, no network."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from pathlib import Path

from bot.app import Helper
from bot.channels.errors import UsageError
from bot.channels.script import Line
from bot.channels.transcript import Transcript
from bot.core.records import Outgoing
from bot.voice.heard import Heard
from intents.types import Language

Opener = Callable[[datetime], Helper]
"""Opens the helper on its store at a moment of the virtual clock."""

Listen = Callable[[Path, Language], Heard]
"""Listens to a voice note, in the language of who sent it; never raises for a bad one."""


def deaf(note: Path, language: Language) -> Heard:
    """Listens where there is nothing to listen with."""
    return Heard("", trouble="absent")


class Replay:
    """One run of a script. ``messages`` gives what goes out, in order, as it happens."""

    def __init__(self, path: Path, lines: Sequence[Line], open_helper: Opener, listen: Listen = deaf) -> None:
        self._path = path
        self._lines = lines
        self._open = open_helper
        self._listen = listen
        self._transcript = Transcript()
        self._now: datetime | None = None
        self.helper: Helper | None = None

    def messages(self, until: datetime | None = None) -> Iterator[Outgoing | Line]:
        """Each line of the script and each message that goes out, in their order.

        Raises ``UsageError`` for a tap on a button that isn't there.
        """
        for line in self._lines:
            helper = self.helper
            if helper is None:
                helper = self._come_up(line.at)
            yield from self._pass_time(helper, line.at)
            yield line
            if line.restart or line.down_until is not None:
                helper.drop()
                helper = self._come_up(max(line.at, line.down_until or line.at))
                yield from self._out(helper, helper.tick(self.now))
            else:
                yield from self._out(helper, self._happens(helper, line))
        if until is not None:
            yield from self._pass_time(self.helper or self._come_up(until), until)

    @property
    def now(self) -> datetime:
        """The virtual clock. Raises ``RuntimeError`` before the first line."""
        if self._now is None:
            raise RuntimeError("the replay has not begun")
        return self._now

    def _come_up(self, at: datetime) -> Helper:
        self._now = at if self._now is None else max(self._now, at)
        self.helper = self._open(self._now)
        return self.helper

    def _pass_time(self, helper: Helper, until: datetime) -> Iterator[Outgoing]:
        """Everything that falls due up to ``until`` happens at its own time."""
        while (wake := helper.wake_at(self.now)) is not None and wake <= until:
            self._now = max(self.now, wake)
            yield from self._out(helper, helper.tick(self.now))
            if helper.wake_at(self.now) == wake:
                # Only where the records could not be written: the same moment would come for ever.
                raise UsageError(self._path, None, "the records can't be written", "make room in the store's folder")
        self._now = max(self.now, until)

    def _happens(self, helper: Helper, line: Line) -> list[Outgoing]:
        sender, chat = line.sender, line.chat
        if sender is None or chat is None:
            return helper.tick(self.now)
        if line.text is not None:
            return helper.hear(sender, chat, line.text, self.now)
        if line.voice is not None:
            heard = self._listen(line.voice, helper.language_of(sender))
            return helper.hear_spoken(sender, chat, heard, self.now)
        label = line.tap if line.tap is not None else ""
        button = self._transcript.press(chat, label)
        if button is None:
            there = ", ".join(b.label for b in self._transcript.pressable(chat)) or "none"
            raise UsageError(
                self._path, line.number, f"no button {label!r} in that chat", f"the buttons there are: {there}"
            )
        return helper.tap(sender, chat, button.action, self.now)

    def _out(self, helper: Helper, messages: list[Outgoing]) -> Iterator[Outgoing]:
        for message in messages:
            self._transcript.show(message)
            yield message
        helper.all_delivered(messages, self.now)
