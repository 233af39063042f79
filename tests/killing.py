"""A helper that is killed again and again while a made-up crew works, or whose disk fails: what must hold then."""

from __future__ import annotations

import errno
import os
import random
import shutil
import signal
import threading
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any, NoReturn

from bot.app import UNSAVED, Helper
from bot.channels.crew import Crew
from bot.content.catalogue import Content
from bot.core.calendar import calendar
from bot.core.kitchen import Kitchen
from bot.core.records import Confirmed, Outgoing, Told, Turn
from bot.core.scene import rules_of
from bot.core.state import FOLD_VERSION, State
from bot.reports.export import rows
from bot.store import StoreError, read_only
from bot.store.files import Files
from intents.understander import Understander
from tests.store.storekit import FailingFiles

TUESDAY = date(2026, 9, 15)
LONGEST_LIFE = 60
"""Acknowledged turns that a child lives to see, at most; in turns, so that a loaded machine gets as far."""

WITHIN = 0.005
"""Seconds from then to its end, at most: longer than a turn takes, so that the end comes at any point of one."""


@dataclass
class Found:
    """What a tormented store holds in the end."""

    kills: int = 0
    faults: int = 0
    acknowledged: int = 0
    turns: int = 0
    confirmations: int = 0
    days: float = 0.0
    lost: list[str] = field(default_factory=list)
    doubled: list[str] = field(default_factory=list)


class Listening:
    """A helper seen by a crew that notes which turns were acknowledged. A door that can't report tries no further."""

    def __init__(self, helper: Helper) -> None:
        self._helper = helper
        self.failed = 0

    def __getattr__(self, name: str) -> Any:
        return getattr(self._helper, name)

    def hear(self, *args: Any, **more: Any) -> list[Outgoing]:
        return self._said(self._helper.hear(*args, **more))

    def tap(self, *args: Any, **more: Any) -> list[Outgoing]:
        return self._said(self._helper.tap(*args, **more))

    def tick(self, now: datetime) -> list[Outgoing]:
        return self._said(self._helper.tick(now))

    def all_delivered(self, messages: Iterable[Outgoing], now: datetime) -> None:
        try:
            self._helper.all_delivered(messages, now)
        except StoreError:
            self.failed += 1

    def acknowledged(self) -> None:
        """Everything up to the state's last turn is promised to be on the disk."""

    def _said(self, messages: list[Outgoing]) -> list[Outgoing]:
        self.failed += any(message.number == UNSAVED for message in messages)
        self.acknowledged()
        return messages


class Telling(Listening):
    """Tells its parent the number of the last acknowledged turn, down a pipe."""

    def __init__(self, helper: Helper, pipe: int) -> None:
        super().__init__(helper)
        self._pipe = pipe

    def acknowledged(self) -> None:
        os.write(self._pipe, f"{self._helper.state.seq}\n".encode())


def work_until_killed(
    kitchen: Kitchen, content: Content, understander: Understander, folder: Path, pipe: int, seed: int
) -> NoReturn:
    """In a child process: the crew goes on where the records end."""
    try:
        days = calendar(rules_of(kitchen))
        start = days.day_start(TUESDAY)
        helper = Helper.open(kitchen, content, understander, folder, start)
        now = max(start, helper.state.at or start)
        crew = Crew(Telling(helper, pipe), random.Random(seed))  # type: ignore[arg-type]
        for _ in crew.days(days.day_of(now), 1000, now):
            pass
    finally:  # never back into the test runner, whatever happens
        os._exit(1)


def killed_weeks(
    kitchen: Kitchen, content: Content, understander: Understander, folder: Path, kills: int, seed: int = 20260915
) -> Found:
    """Kill a working helper so many times, at any instant, and look at what it left."""
    dice = random.Random(seed)
    acknowledged = 0
    for n in range(kills):
        reading, writing = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(reading)
            work_until_killed(kitchen, content, understander, folder, writing, seed + n)
        os.close(writing)
        with os.fdopen(reading) as said:
            words = [said.readline() for _ in range(dice.randint(1, LONGEST_LIFE))]
            timer = threading.Timer(dice.uniform(0, WITHIN), os.kill, (child, signal.SIGKILL))
            timer.start()
            words += said.readlines()
            timer.join()
        _, status = os.waitpid(child, 0)
        if os.WTERMSIG(status) != signal.SIGKILL:
            raise AssertionError("the child must die by the kill alone")
        acknowledged = max([acknowledged, *(int(word) for word in words if word.endswith("\n"))])
    found = look(folder, acknowledged)
    found.kills = kills
    return found


@dataclass(frozen=True)
class Fault:
    """How the disk fails: with that error, twice in a row, and with half of the bytes put down where it writes."""

    name: str
    code: int
    half_writes: bool = False


FAULTS = (Fault("EIO", errno.EIO), Fault("ENOSPC", errno.ENOSPC), Fault("short write", errno.ENOSPC, half_writes=True))


def failing_weeks(
    kitchen: Kitchen, content: Content, understander: Understander, folder: Path, at: Iterable[tuple[int, Fault]]
) -> Found:
    """Live one week for each pair in ``at``, with a disk that fails so at the operation of that number and the next."""
    total = Found()
    for n, fault in at:
        files = FailingFiles(lambda count, _: n <= count < n + 2, fault.code, fault.half_writes)  # noqa: B023
        place = folder / f"{n}-{fault.name}"
        kept = _one_week(kitchen, content, understander, place, files)
        found = look(place, kept)
        total.faults += 2
        for name in ("acknowledged", "turns", "confirmations", "days"):
            setattr(total, name, getattr(total, name) + getattr(found, name))
        total.lost += [f"{n} {fault.name}: {what}" for what in found.lost]
        total.doubled += [f"{n} {fault.name}: {what}" for what in found.doubled]
        shutil.rmtree(place)
    return total


def operations_of_a_week(kitchen: Kitchen, content: Content, understander: Understander, folder: Path) -> list[str]:
    """The operations of the disk that one week takes when none fails, by name."""
    files = FailingFiles(lambda count, name: False)
    _one_week(kitchen, content, understander, folder, files)
    return files.names


def faults_of(operations: Sequence[str]) -> list[tuple[int, Fault]]:
    """Every fault that each of these operations may have; only a write can be cut short."""
    return [
        (n, fault)
        for n, name in enumerate(operations, 1)
        for fault in FAULTS
        if name == "write" or not fault.half_writes
    ]


def _one_week(kitchen: Kitchen, content: Content, understander: Understander, folder: Path, files: Files) -> int:
    """The number of the last turn that was acknowledged. In mid-week the helper is stopped and started again."""
    start = calendar(rules_of(kitchen)).day_start(TUESDAY)
    kept = 0
    for first, days in ((TUESDAY, 3), (TUESDAY + timedelta(days=3), 4)):
        helper = _opened(kitchen, content, understander, folder, start if not kept else None, files)
        for _ in Crew(Listening(helper), random.Random(1)).days(first, days):  # type: ignore[arg-type]
            pass
        kept = helper.state.seq
        try:
            helper.close()
        except StoreError:
            helper.drop()
    return kept


def _opened(
    kitchen: Kitchen, content: Content, understander: Understander, folder: Path, at: datetime | None, files: Files
) -> Helper:
    at = at or calendar(rules_of(kitchen)).day_start(TUESDAY + timedelta(days=3))
    for _ in range(3):
        try:
            return Helper.open(kitchen, content, understander, folder, at, files=files)
        except StoreError:
            continue
    raise AssertionError("two faults in a row can't shut out three starts")


def look(folder: Path, acknowledged: int) -> Found:
    """Whether every acknowledged turn is there once, with its entries, and nothing was said twice."""
    records = read_only(folder, State, fold_version=FOLD_VERSION)
    turns: list[Turn] = list(records.turns())
    found = Found(acknowledged=acknowledged, turns=len(turns))
    if records.recovery is not None and records.recovery.set_aside:
        found.lost.append(f"{records.recovery.set_aside} lines that are no turns")
    numbers = Counter(turn.seq for turn in turns)
    found.lost += [f"turn {n}" for n in range(1, acknowledged + 1) if n not in numbers]
    found.doubled = [f"turn {n}" for n, times in numbers.items() if times > 1]
    told = Counter(key for turn in turns for c in turn.changes if isinstance(c, Told) for key in c.keys)
    found.doubled += [f"told {key}" for key, times in told.items() if times > 1]
    sent = Counter(message.number for turn in turns for message in turn.out)
    found.doubled += [f"message {number}" for number, times in sent.items() if times > 1]
    entries = [c.entry for turn in turns for c in turn.changes if isinstance(c, Confirmed)]
    found.doubled += [f"entry {entry}" for entry, times in Counter(entries).items() if times > 1]
    exported = [row for row in rows(iter(turns), "UTC") if row["kind"] == "confirmation"]
    found.confirmations = len(exported)
    if len(exported) != len(entries):
        found.lost.append(f"{len(entries) - len(exported)} confirmations in the export")
    whole = State()
    for turn in turns:
        whole.apply(turn)
    if whole != records.state:
        found.lost.append("the state is not the sum of the turns")
    found.days = (turns[-1].at - turns[0].at) / timedelta(days=1)
    return found
