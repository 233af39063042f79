"""A real process, killed again and again while it logs: whatever it acknowledged is there, once."""

from __future__ import annotations

import os
import random
import signal
from pathlib import Path
from typing import NoReturn

from bot.store import Store
from tests.store.storekit import Tally, confirmation, fold_of, reopened

KILLS = 200


def _log_until_killed(folder: Path, pipe: int) -> NoReturn:
    """The child: each number goes down the pipe only after its turn was acknowledged."""
    try:
        store = Store.open(folder, Tally)
        while True:
            seq = store.state.seq + 1
            store.append(confirmation(seq))
            os.write(pipe, seq.to_bytes(4, "big"))
            if seq % 7 == 0:
                store.save_snapshot()
    finally:  # never back into the test runner, whatever happens
        os._exit(1)


def _kill_one(folder: Path, chance: random.Random) -> bytes:
    """Start a child, kill it at a random instant; all that it acknowledged."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reader)
        _log_until_killed(folder, writer)
    os.close(writer)
    heard = b""
    wanted = 4 * chance.randint(0, 20)
    while len(heard) < wanted and (more := os.read(reader, 4)):
        heard += more
    for _ in range(chance.randint(0, 60_000)):  # up to some milliseconds, anywhere in opening or appending
        pass
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    assert os.WTERMSIG(status) == signal.SIGKILL, "the child must die by the kill alone"
    while more := os.read(reader, 4096):
        heard += more
    os.close(reader)
    return heard


def test_two_hundred_kills_lose_and_double_nothing(tmp_path: Path) -> None:
    chance = random.Random(4711)
    acknowledged: list[int] = []
    for _ in range(KILLS):
        heard = _kill_one(tmp_path, chance)
        acknowledged += [int.from_bytes(heard[i : i + 4], "big") for i in range(0, len(heard), 4)]

    turns, state = reopened(tmp_path)
    assert len(acknowledged) > KILLS
    assert acknowledged == sorted(set(acknowledged))
    numbers = [turn.seq for turn in turns]
    assert numbers == list(range(1, len(numbers) + 1))
    assert set(acknowledged) <= set(numbers)
    assert all(turn == confirmation(turn.seq) for turn in turns)
    assert fold_of(turns) == state
