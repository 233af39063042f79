"""What a button does when it is tapped, and what a short answer does when it is given.

An action is complete in itself, so that a tap on an old message still means what its label says: a verb and its
arguments, joined by colons. Telegram carries at most 64 bytes with a button; ``LONGEST`` leaves room for a
version mark before it.
"""

from __future__ import annotations

from dataclasses import dataclass

NOTHING = "-"
"""Stands for an argument that is left open."""

LONGEST = 60
"""Bytes an action may have (Telegram Bot API, InlineKeyboardButton.callback_data: 1-64 bytes)."""


@dataclass(frozen=True, slots=True)
class Action:
    """A verb and its arguments; None for one that is left open."""

    verb: str
    args: tuple[str | None, ...]


def action(verb: str, *args: str | int | None) -> str:
    """Write an action down. Raises ``ValueError`` for one that a button could not carry."""
    parts = [verb, *(NOTHING if arg is None else str(arg) for arg in args)]
    written = ":".join(parts)
    if any(":" in part for part in parts) or len(written.encode()) > LONGEST:
        raise ValueError(f"no button can carry {written!r}")
    return written


def parse(written: str) -> Action:
    """Read an action back; never raises, whatever is read."""
    verb, *args = written.split(":")
    return Action(verb, tuple(None if arg == NOTHING else arg for arg in args))
