"""How the running door is: counters, and a small file that says whether it still works.

Numbers and times only: nobody's name, number or words are in it.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from bot.channels.telegram.logs import went_wrong

WRITE_EVERY = timedelta(seconds=15)
STALE_AFTER = timedelta(seconds=60)
"""A file older than this was left by a process that hangs or is gone."""

SILENT_AFTER = timedelta(seconds=120)
"""Without an answer from the server for so long, something is wrong: it holds no request for more than 30 seconds."""

PRIVATE = os.O_WRONLY | os.O_CREAT | os.O_TRUNC | getattr(os, "O_NOFOLLOW", 0)
"""How a file is opened to be written that is nobody else's; a link in its place is not followed."""


@dataclass(slots=True)
class Counters:
    """What has happened since the door opened."""

    updates: int = 0
    """Updates taken."""
    answers: int = 0
    """Messages that reached their chat."""
    refusals: int = 0
    """Messages that weren't taken: of strangers, or over somebody's limit."""
    failures: int = 0
    """Messages given up, and updates that a fault of ours spoilt."""
    retries: int = 0
    """Calls that were tried again."""


@dataclass(slots=True)
class Health:
    """How things stand, as far as the door itself can tell."""

    clock: Callable[[], datetime]
    mode: str = "polling"
    kitchens: int = 0
    waiting: Callable[[], int] = lambda: 0
    """How many messages wait to be sent."""
    counters: Counters = field(default_factory=Counters)
    started_at: datetime | None = None
    last_contact: datetime | None = None
    records_writable: bool = True

    def contact(self) -> None:
        """The server has answered, or called."""
        self.last_contact = self.clock()

    def report(self) -> dict[str, Any]:
        """How it is now; ``ok`` is False where somebody should look after it."""
        now = self.clock()
        heard = self.last_contact or self.started_at
        silent = self.mode == "polling" and heard is not None and now - heard > SILENT_AFTER
        return {
            "ok": self.started_at is not None and self.records_writable and not silent,
            "at": now.isoformat(timespec="seconds"),
            "mode": self.mode,
            "kitchens": self.kitchens,
            "started_at": _iso(self.started_at),
            "last_contact": _iso(self.last_contact),
            "records_writable": self.records_writable,
            "waiting": self.waiting(),
            "updates": self.counters.updates,
            "answers": self.counters.answers,
            "refusals": self.counters.refusals,
            "failures": self.counters.failures,
            "retries": self.counters.retries,
        }

    def write(self, files: Sequence[Path]) -> None:
        """Write the report into each of these files; one that can't be written is a line in the log."""
        text = json.dumps(self.report()) + "\n"
        for file in files:
            beside = file.with_suffix(".new")
            try:
                with os.fdopen(os.open(beside, PRIVATE, 0o600), "w", encoding="utf-8") as out:
                    out.write(text)
                beside.replace(file)
            except OSError as error:
                went_wrong("health_unwritable", error)


def read_health(file: Path, now: datetime) -> dict[str, Any] | None:
    """The report in a file; None where there is none that is fresh, because nothing is running or it hangs."""
    try:
        report = json.loads(file.read_text(encoding="utf-8"))
        fresh = now - datetime.fromisoformat(report["at"]) <= STALE_AFTER
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return report if fresh else None


def _iso(at: datetime | None) -> str | None:
    return at.isoformat(timespec="seconds") if at is not None else None
