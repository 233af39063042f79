"""How whoever runs the helper speaks to it while it runs: through a private folder beside the records.

``vatside operate`` puts an order there as a small file, the running door carries it out and puts its answer beside
it. Whoever may write into the records' folder may do so; nobody else, and nothing comes over the network.
"""

from __future__ import annotations

import errno
import os
import stat
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from secrets import token_hex
from typing import Any, Literal

import msgspec
from msgspec import Struct

from bot.app import Helper
from bot.channels.telegram.health import PRIVATE
from bot.channels.telegram.logs import happened, went_wrong
from bot.core.records import Outgoing
from bot.core.skills import operating
from bot.core.skills.operating import OrderError
from bot.store import StoreError

FOLDER = "control"
HEALTH = "health.json"
LARGEST = 16 * 1024
"""Bytes of an order."""

ANSWERED_WITHIN = 10.0
LOOK_EVERY = 0.1
"""Seconds."""

What = Literal["who", "health", "pause", "resume", "broadcast"]
Post = Callable[[Helper, Sequence[Outgoing]], None]


class Order(Struct, frozen=True, forbid_unknown_fields=True):
    """What is wanted of one kitchen's helper."""

    what: What
    minutes: int = 0
    text: str = ""


class Answer(Struct, frozen=True):
    """What became of an order, in lines for the terminal."""

    done: bool
    lines: list[str]


class NobodyThereError(Exception):
    """No running helper answered."""


@dataclass(frozen=True, slots=True)
class Control:
    """The folder of one kitchen."""

    helper: Helper
    folder: Path


class Controls:
    """The folders of all the kitchens behind one door."""

    def __init__(self, controls: Sequence[Control]) -> None:
        """Makes the folders, for their owner alone. Raises ``OSError``."""
        self._controls = controls
        for control in controls:
            private(control.folder)
            for left in control.folder.glob("order-*.json"):
                _out_of_the_way(left)  # nobody waits for it any more

    @property
    def health_files(self) -> list[Path]:
        """The file in each folder that says how the door is."""
        return [control.folder / HEALTH for control in self._controls]

    def obey(self, post: Post, health: Callable[[], Mapping[str, Any]], now: datetime) -> bool:
        """Carry out what was ordered since the last look; True where there was something."""
        found = [(c, file) for c in self._controls for file in sorted(c.folder.glob("order-*.json"))]
        for control, file in found:
            answer = self._carry_out(control.helper, file, post, health, now)
            if answer is not None:
                _write(file.with_name(file.name.replace("order-", "answer-")), msgspec.json.encode(answer))
        return bool(found)

    def close(self) -> None:
        """The door is closed: it is no longer healthy, nor ill."""
        for file in self.health_files:
            file.unlink(missing_ok=True)

    def _carry_out(
        self, helper: Helper, file: Path, post: Post, health: Callable[[], Mapping[str, Any]], now: datetime
    ) -> Answer | None:
        try:
            content = _read(file)
            file.unlink()  # first, so that nothing is ever done twice
            order = msgspec.json.decode(content, type=Order)
        except OSError as error:
            went_wrong("order_unreadable", error)
            _out_of_the_way(file)
            return None
        except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
            return Answer(False, ["the order can't be read"])
        happened("order", what=order.what)
        try:
            return self._do(helper, order, post, health, now)
        except (OrderError, StoreError) as error:
            return Answer(False, [str(error)])
        except Exception as error:
            went_wrong("order_failed", error, what=order.what)
            return Answer(False, [f"it failed ({type(error).__name__}); see the log"])

    def _do(
        self, helper: Helper, order: Order, post: Post, health: Callable[[], Mapping[str, Any]], now: datetime
    ) -> Answer:
        match order.what:
            case "who":
                return Answer(True, [_person(p.id, p.role, p.telegram is not None) for p in helper.kitchen.people])
            case "health":
                return Answer(True, [f"{name}: {value}" for name, value in health().items()])
            case "pause":
                length = timedelta(minutes=order.minutes)
                post(helper, helper.decide(lambda scene: operating.pause(scene, length), now))
                return Answer(True, [f"no reminders before {(now + length).isoformat(timespec='seconds')}"])
            case "resume":
                post(helper, helper.decide(operating.resume, now))
                return Answer(True, ["reminders are on again"])
            case "broadcast":
                out = helper.decide(lambda scene: operating.broadcast(scene, order.text), now)
                post(helper, out)
                return Answer(True, [f"on its way to {len(out)}"])


def ask(folder: Path, order: Order, *, within: float = ANSWERED_WITHIN) -> Answer:
    """Give an order to whatever runs on these records, and wait for its answer.

    Raises ``NobodyThereError`` where nothing answers; the order is taken back then.
    """
    control = folder / FOLDER
    if not control.is_dir():
        raise NobodyThereError
    name = token_hex(8)
    wanted, answer = control / f"order-{name}.json", control / f"answer-{name}.json"
    try:
        _write(wanted, msgspec.json.encode(order))
        for _ in range(round(within / LOOK_EVERY)):
            if answer.exists():
                return msgspec.json.decode(answer.read_bytes(), type=Answer)
            time.sleep(LOOK_EVERY)
    except OSError as error:
        raise NobodyThereError from error
    finally:
        wanted.unlink(missing_ok=True)
        answer.unlink(missing_ok=True)
    raise NobodyThereError


def private(folder: Path) -> None:
    """Make a folder that only its owner may look into, or close one that is open to others. Raises ``OSError``.

    A link to another place is none of ours, and neither used nor closed.
    """
    if folder.is_symlink():
        raise NotADirectoryError(errno.ENOTDIR, "a link, where there should be a folder", str(folder))
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    if stat.S_IMODE(folder.stat().st_mode) & 0o077:
        folder.chmod(0o700)


def _read(file: Path) -> bytes:
    """What a file holds, nothing where that is too much. Raises ``OSError`` for whatever else has its name.

    A link could lead anywhere, and a pipe would hold up everybody.
    """
    fd = os.open(file, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0))
    with os.fdopen(fd, "rb") as found:
        about = os.fstat(fd)
        if not stat.S_ISREG(about.st_mode):
            raise OSError(errno.EINVAL, "no plain file", str(file))
        return found.read() if about.st_size <= LARGEST else b""


def _out_of_the_way(file: Path) -> None:
    """Remove what can't be carried out; where that can't be, it is a line in the log."""
    try:
        if file.is_dir() and not file.is_symlink():
            file.rmdir()
        else:
            file.unlink(missing_ok=True)
    except OSError as error:
        went_wrong("order_stays", error)


def _write(file: Path, content: bytes) -> None:
    beside = file.with_suffix(".new")
    with os.fdopen(os.open(beside, PRIVATE, 0o600), "wb") as out:
        out.write(content)
    beside.replace(file)


def _person(person: str, role: str, known: bool) -> str:
    return f"{person} ({role}): {'in' if known else 'not in yet'}"
