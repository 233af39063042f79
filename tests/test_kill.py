"""Killed at any instant while confirmations pour in: every acknowledged one is in the export, once."""

from __future__ import annotations

import os
import random
import signal
import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, cast

from bot.app import Helper
from bot.content.catalogue import Content
from bot.core.kitchen import Kitchen
from bot.core.state import State
from bot.reports.export import rows
from bot.store import read_only
from intents.types import Slots, Understood
from intents.understander import Understander

KILLS = 200
START = datetime(2026, 9, 15, 14, tzinfo=UTC)


class Yes:
    """Understands every message as "pad changed on 1"."""

    def understand(self, text: str, *, language: Any = None) -> Understood:
        return Understood(text, "log.done", 1.0, "en", Slots(fryer="1", duty="pad_change"))


def confirm_for_ever(kitchen: Kitchen, content: Content, folder: Path, pipe: int) -> None:
    """In a child process: confirm a minute of the virtual clock after another, and say so once it is acknowledged."""
    helper = Helper.open(kitchen, content, cast("Understander", Yes()), folder, START)
    now = max(START, helper.state.at or START)
    while True:
        now += timedelta(minutes=1)
        helper.all_delivered(helper.hear("ben", "ben", "done", now), now)
        os.write(pipe, f"{now.isoformat()}\n".encode())


def test_two_hundred_kills_lose_no_acknowledged_confirmation(
    demo_kitchen: Kitchen, content: Content, tmp_path: Path
) -> None:
    dice = random.Random(20260915)
    folder = tmp_path / "store"
    acknowledged: list[str] = []
    for _ in range(KILLS):
        reading, writing = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(reading)
            confirm_for_ever(demo_kitchen, content, folder, writing)
        os.close(writing)
        with os.fdopen(reading) as said:
            # The first word, then a random instant: the kill falls anywhere in the writing of a turn.
            acknowledged.append(said.readline().strip())
            timer = threading.Timer(dice.uniform(0, 0.05), os.kill, (child, signal.SIGKILL))
            timer.start()
            acknowledged += [line.strip() for line in said.readlines()]
            timer.join()
        os.waitpid(child, 0)
    logged = [row["done_at"] for row in rows(read_only(folder, State).turns(), "UTC") if row["kind"] == "confirmation"]
    assert len(acknowledged) >= KILLS
    assert len(logged) == len(set(logged))
    assert set(acknowledged) <= set(logged)
