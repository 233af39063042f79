"""Talking to the helper in a terminal, on the real clock. Reminders arrive while you type."""

from __future__ import annotations

import asyncio
import sys
from collections.abc import Callable, Iterable
from datetime import datetime
from pathlib import Path

from prompt_toolkit import PromptSession
from prompt_toolkit.history import FileHistory
from prompt_toolkit.patch_stdout import patch_stdout

from bot.app import Helper
from bot.channels.printing import Printer
from bot.channels.transcript import Transcript
from bot.core.kitchen import Kitchen, Person
from bot.core.messages import CREW
from bot.core.records import Outgoing

LONGEST_NAP = 30.0
"""Seconds between two looks at the clock at most, so that a laptop that slept catches up."""

HELP = """\
Type as you would in the kitchen's chat. A number presses that button of the last message that has any.
  /as NAME     speak as another person of the kitchen ({people})
  /crew TEXT   say it in the crew chat
  /quit        leave (Ctrl-D does too)"""


class Terminal:
    """One person's view of the helper: their private chat and the crew's."""

    def __init__(self, helper: Helper, person: Person, clock: Callable[[], datetime], colour: bool) -> None:
        self._helper = helper
        self._person = person
        self._clock = clock
        self._transcript = Transcript()
        self._printer = Printer(helper.kitchen, self._write, colour)

    async def run(self, history: Path) -> None:
        """Read and answer until the person leaves."""
        session: PromptSession[str] = PromptSession(history=FileHistory(str(history)))
        self._write(self.help() + "\n")
        with patch_stdout(raw=True):
            clockwork = asyncio.create_task(self._pass_time())
            try:
                while True:
                    try:
                        typed = await session.prompt_async(f"{self._person.name}> ")
                    except (EOFError, KeyboardInterrupt):
                        return
                    if not self.take(typed):
                        return
            finally:
                clockwork.cancel()

    def run_plain(self, lines: Iterable[str]) -> None:
        """The same without a terminal: a line in, the answers out."""
        for typed in lines:
            if not self.take(typed.rstrip("\n")):
                return

    def help(self) -> str:
        """How to use the terminal."""
        return HELP.format(people=", ".join(p.id for p in self._helper.kitchen.people))

    def take(self, typed: str) -> bool:
        """Take one typed line; False where the person wants to leave."""
        now = self._clock()
        command, _, rest = typed.strip().partition(" ")
        me = self._person.id
        if command == "/quit":
            return False
        if command == "/as":
            self._become(rest.strip())
        elif command == "/help":
            self._write(self.help() + "\n")
        elif command == "/crew":
            self._show(self._helper.hear(me, CREW, rest, now))
        elif typed.strip().isdigit() and self._press(int(typed.strip()), now):
            pass
        else:
            self._show(self._helper.hear(me, me, typed, now))
        return True

    def _press(self, number: int, now: datetime) -> bool:
        for chat in (self._person.id, CREW):
            button = self._transcript.press(chat, number)
            if button is not None:
                self._show(self._helper.tap(self._person.id, chat, button.action, now))
                return True
        return False

    def _become(self, wanted: str) -> None:
        person = _find(self._helper.kitchen, wanted)
        if person is None:
            self._write(f"Nobody of that name here. {self.help()}\n")
            return
        self._person = person

    async def _pass_time(self) -> None:
        while True:
            now = self._clock()
            self._show(self._helper.tick(now))
            wake = self._helper.wake_at(now)
            nap = LONGEST_NAP if wake is None else min(LONGEST_NAP, max(0.1, (wake - now).total_seconds()))
            await asyncio.sleep(nap)

    def _show(self, messages: list[Outgoing]) -> None:
        for message in messages:
            self._transcript.show(message)
            if message.to in (self._person.id, CREW):
                self._printer.message(message)
        self._helper.all_delivered(messages, self._clock())

    def _write(self, text: str) -> None:
        sys.stdout.write(text)
        sys.stdout.flush()


def _find(kitchen: Kitchen, wanted: str) -> Person | None:
    return next((p for p in kitchen.people if wanted.casefold() in (p.id.casefold(), p.name.casefold())), None)


def chat(helper: Helper, person: Person, clock: Callable[[], datetime], history: Path, colour: bool) -> None:
    """Talk until the person leaves; line by line where standard input is no terminal."""
    terminal = Terminal(helper, person, clock, colour)
    if sys.stdin.isatty():
        asyncio.run(terminal.run(history))
    else:
        terminal.run_plain(sys.stdin)
