"""A chat as a person reads it in a terminal, with colour where the terminal has it."""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from datetime import date, datetime
from zoneinfo import ZoneInfo

from bot.channels.script import Line
from bot.core.kitchen import Kitchen
from bot.core.messages import CREW
from bot.core.records import Outgoing

WIDTH = 76
MARGIN = 22

BOLD, DIM, RESET = "\x1b[1m", "\x1b[2m", "\x1b[0m"
COLOURS = {
    "reminder": "\x1b[33m",
    "escalation": "\x1b[35m",
    "catch_up": "\x1b[33m",
    "countdown": "\x1b[36m",
    "summary": "\x1b[34m",
    "alert": "\x1b[1;31m",
}


class Printer:
    """Prints messages and what people do, one block each; a heading where a new day begins."""

    def __init__(self, kitchen: Kitchen, write: Callable[[str], object], colour: bool) -> None:
        self._kitchen = kitchen
        self._zone = ZoneInfo(kitchen.timezone)
        self._write = write
        self._colour = colour
        self._day: date | None = None

    def message(self, message: Outgoing) -> None:
        """What the helper says."""
        to = "crew" if message.to == CREW else self._name(message.to)
        if message.edit and message.kind == "countdown":
            # It changes in place, minute by minute: here its first line says enough.
            self._block(message.at, f"Vatside → {to}", message.text.split("\n")[0], DIM)
            return
        mark = " (edit)" if message.edit else ""
        self._block(message.at, f"Vatside → {to}{mark}", message.text, COLOURS.get(message.kind, ""))
        if message.buttons:
            labels = "  ".join(f"[{number} {b.label}]" for number, b in enumerate(message.buttons, 1))
            self._write(self._styled(_indent(labels), BOLD) + "\n")
        for file in message.files:
            self._write(self._styled(_indent(f"({file_name(file.on, file.name)})"), DIM) + "\n")

    def line(self, line: Line) -> None:
        """What a person does in a script."""
        if line.restart:
            self._block(line.at, "—", "(power cut, up again)", DIM)
        elif line.down_until is not None:
            self._block(line.at, "—", "(off)", DIM)
        elif line.sender is not None:
            where = " → crew" if line.chat == CREW else ""
            said = line.text if line.text is not None else f"[{line.tap or (line.voice and line.voice.name)}]"
            self._block(line.at, f"{self._name(line.sender)}{where}", said, BOLD)

    def _block(self, at: datetime, who: str, text: str, style: str) -> None:
        local = at.astimezone(self._zone)
        if local.date() != self._day:
            self._day = local.date()
            self._write(self._styled(f"\n{local:%A %Y-%m-%d}", BOLD) + "\n")
        head = f"{local:%H:%M}  {who}"
        lines = [part for line in text.split("\n") for part in _wrap(line)]
        if len(head) >= MARGIN:
            self._write(self._styled(head, DIM) + "\n")
        else:
            self._write(self._styled(head.ljust(MARGIN), DIM) + self._styled(lines.pop(0), style) + "\n")
        for part in lines:
            self._write(_indent(self._styled(part, style)) + "\n")

    def _name(self, person_id: str) -> str:
        person = self._kitchen.person(person_id)
        return person.name if person is not None else person_id

    def _styled(self, text: str, style: str) -> str:
        return f"{style}{text}{RESET}" if self._colour and style else text


def file_name(on: date | None, name: str | None) -> str:
    """The name under which a file that goes with a message is known."""
    return f"{name}.png" if name is not None else f"summary-{on}.png"


def _indent(text: str) -> str:
    return " " * MARGIN + text


def _wrap(line: str) -> list[str]:
    return textwrap.wrap(line, WIDTH - MARGIN, break_long_words=True) or [""]
