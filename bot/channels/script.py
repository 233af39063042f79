"""Replay scripts: what happens when, one JSON object a line."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from json import JSONDecodeError, loads
from pathlib import Path
from typing import Any

from bot.channels.errors import UsageError
from bot.core.kitchen import Kitchen
from bot.core.messages import CREW

KEYS = frozenset({"at", "from", "chat", "text", "tap", "voice", "restart", "down_until"})


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a script. Exactly one of ``text``, ``tap``, ``voice``, ``restart``, ``down_until`` is set, or none:
    then time passes.
    """

    number: int
    at: datetime
    sender: str | None = None
    chat: str | None = None
    text: str | None = None
    tap: str | int | None = None
    voice: Path | None = None
    restart: bool = False
    down_until: datetime | None = None


def read_script(path: Path, kitchen: Kitchen) -> list[Line]:
    """The lines of a script, checked. Raises ``UsageError`` with file and line for the first that is wrong."""
    try:
        written = path.read_bytes()
    except OSError as error:
        raise UsageError(path, 1, f"the script can't be read ({error.strerror})", "give a file that exists") from error
    lines: list[Line] = []
    for number, raw in enumerate(written.split(b"\n"), 1):
        if not raw.strip():
            continue
        line = _Reader(path, number, kitchen).read(raw)
        if lines and line.at < lines[-1].at:
            raise UsageError(path, number, "its time is earlier than the line before", "put the lines in order")
        lines.append(line)
    return lines


def read_time(written: str) -> datetime:
    """An ISO 8601 time with an offset. Raises ``ValueError`` for anything else."""
    at = datetime.fromisoformat(written)
    if at.tzinfo is None:
        raise ValueError(written)
    return at


@dataclass(frozen=True, slots=True)
class _Reader:
    path: Path
    number: int
    kitchen: Kitchen

    def read(self, raw: bytes) -> Line:
        try:
            found = loads(raw.decode("utf-8"))
        except UnicodeDecodeError:
            raise self._wrong("it is not UTF-8", "save the script as UTF-8") from None
        except JSONDecodeError as error:
            raise self._wrong(f"it is no JSON ({error.msg})", "write one JSON object a line") from None
        if not isinstance(found, dict):
            raise self._wrong("it is no JSON object", "write one JSON object a line")
        unknown = sorted(set(found) - KEYS)
        if unknown:
            raise self._wrong(f"unknown key {unknown[0]!r}", f"use only {', '.join(sorted(KEYS))}")
        at = self._time(found, "at")
        happens = [key for key in ("text", "tap", "voice", "restart", "down_until") if key in found]
        if len(happens) > 1:
            raise self._wrong(f"it has both {happens[0]!r} and {happens[1]!r}", "keep one of them")
        if not happens or happens[0] in ("restart", "down_until"):
            return self._without_sender(found, at, happens[0] if happens else None)
        sender = found.get("from")
        if not isinstance(sender, str) or self.kitchen.person(sender) is None:
            known = ", ".join(p.id for p in self.kitchen.people)
            raise self._wrong(f"'from' is {sender!r}, nobody of this kitchen", f"use one of {known}")
        chat = found.get("chat", sender)
        if chat not in (CREW, sender):
            raise self._wrong(f"'chat' is {chat!r}", f"leave it out, or write {CREW!r}")
        return self._from_sender(found, at, sender, chat, happens[0])

    def _without_sender(self, found: dict[str, Any], at: datetime, happens: str | None) -> Line:
        if "from" in found:
            raise self._wrong("somebody is named, but nothing they do", "add 'text', 'tap' or 'voice'")
        if happens == "restart":
            if found["restart"] is not True:
                raise self._wrong("'restart' is not true", 'write "restart": true')
            return Line(self.number, at, restart=True)
        if happens == "down_until":
            until = self._time(found, "down_until")
            if until < at:
                raise self._wrong("'down_until' is earlier than 'at'", "give a later time")
            return Line(self.number, at, down_until=until)
        return Line(self.number, at)

    def _from_sender(self, found: dict[str, Any], at: datetime, sender: str, chat: str, happens: str) -> Line:
        value = found[happens]
        if happens == "tap":
            if isinstance(value, bool) or not isinstance(value, str | int):
                raise self._wrong(
                    "'tap' is neither a label nor a number", "give a button's label, or its number from 1"
                )
            return Line(self.number, at, sender, chat, tap=value)
        if not isinstance(value, str):
            raise self._wrong(f"{happens!r} is no text", "write it in quotes")
        if happens == "voice":
            note = self.path.parent / value
            if not note.is_file():
                raise self._wrong(f"there is no sound file {value!r}", "give its path relative to the script")
            return Line(self.number, at, sender, chat, voice=note)
        return Line(self.number, at, sender, chat, text=value)

    def _time(self, found: dict[str, Any], key: str) -> datetime:
        value = found.get(key)
        try:
            return read_time(value)  # type: ignore[arg-type]
        except (TypeError, ValueError):
            raise self._wrong(
                f"{key!r} is {value!r}, no time with an offset", 'write it as "2026-09-15T21:30:00-04:00"'
            ) from None

    def _wrong(self, what: str, todo: str) -> UsageError:
        return UsageError(self.path, self.number, what, todo)
