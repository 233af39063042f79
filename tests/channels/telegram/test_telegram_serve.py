"""``serve`` as a process: signals, exit statuses, and what it says on standard error."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from api_server import CONFLICT, PATIENCE, TOKEN, ApiServer
from telegram_kit import BEN

from bot.channels.telegram.webhook import Plan

HERE = Path(__file__).parent
PROGRAM = """
import sys
from datetime import UTC, datetime
from telegram_kit import FakeHelper, kitchen
from bot.channels.telegram.door import serve
from bot.channels.telegram.webhook import plan
helpers = [FakeHelper(kitchen(name)) for name in sys.argv[6:] or ["Lantern Street Kitchen"]]
sys.exit(serve(helpers, sys.argv[1], sys.argv[2], lambda: datetime.now(UTC), webhook=plan(*sys.argv[3:6])))
"""


@pytest.fixture
def server() -> Iterator[ApiServer]:
    with ApiServer() as running:
        yield running


def start(token: str, base_url: str, *names: str, webhook: Plan | None = None) -> subprocess.Popen[str]:
    paths = os.pathsep.join([str(HERE), str(HERE.parents[2])])
    brought = (webhook.url, webhook.secret, str(webhook.port)) if webhook is not None else ("", "", "")
    return subprocess.Popen(
        [sys.executable, "-c", PROGRAM, token, base_url, *brought, *names],
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": paths},
    )


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_stops_it_cleanly_in_the_middle_of_a_long_poll(server: ApiServer, number: signal.Signals) -> None:
    process = start(TOKEN, server.base_url)
    server.say(BEN, "hello")
    server.wait(lambda: len(server.texts(BEN)) == 1 and server.waiting() == 0)
    process.send_signal(number)
    _, errors = process.communicate(timeout=PATIENCE)
    assert process.returncode == 0
    assert "event=stopped" in errors and "Traceback" not in errors
    assert TOKEN not in errors and str(BEN) not in errors and "hello" not in errors


def test_a_wrong_token_is_one_line_and_status_2(server: ApiServer) -> None:
    process = start("4711:not-the-one", server.base_url)
    _, errors = process.communicate(timeout=PATIENCE)
    assert process.returncode == 2
    (line,) = errors.splitlines()
    assert "VATSIDE_TELEGRAM_TOKEN" in line and "not-the-one" not in line


@pytest.mark.parametrize(
    ("token", "base_url", "names", "what"),
    [
        ("no token", "http://127.0.0.1:9", [], "VATSIDE_TELEGRAM_TOKEN"),
        (TOKEN, "127.0.0.1:9", [], "VATSIDE_TELEGRAM_BASE_URL"),
        (TOKEN, "http://[::1", [], "VATSIDE_TELEGRAM_BASE_URL"),
        (TOKEN, "http://127.0.0.1:9", ["A", "B"], "same crew_chat"),
    ],
)
def test_what_can_not_be_used_is_one_line_and_status_2(token: str, base_url: str, names: list[str], what: str) -> None:
    process = start(token, base_url, *names)
    _, errors = process.communicate(timeout=PATIENCE)
    assert process.returncode == 2
    (line,) = errors.splitlines()
    assert what in line and token not in line


def test_a_second_poller_is_status_1_and_a_clear_line(server: ApiServer) -> None:
    server.inject("getUpdates", CONFLICT)
    process = start(TOKEN, server.base_url)
    _, errors = process.communicate(timeout=PATIENCE)
    assert process.returncode == 1
    assert "another program is receiving" in errors.splitlines()[-1]
    assert "Traceback" not in errors


def test_a_signal_before_the_door_is_open_ends_it_with_status_0_and_leaves_the_records_whole(tmp_path: Path) -> None:
    program = """
import os, signal, sys
from pathlib import Path
from bot.commands import serve
def opening(*args, **more):
    def open_(now):
        print("loading", flush=True)
        while True:
            pass
    return open_
serve.opener = opening
from bot.cli import main
sys.exit(main(["serve", "--store", sys.argv[1]]))
"""
    process = subprocess.Popen(
        [sys.executable, "-c", program, str(tmp_path)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONPATH": str(HERE.parents[2]), "VATSIDE_TELEGRAM_TOKEN": TOKEN},
    )  # fmt: skip
    assert process.stdout is not None and process.stdout.readline() == "loading\n"
    process.send_signal(signal.SIGTERM)
    _, errors = process.communicate(timeout=PATIENCE)
    assert (process.returncode, errors) == (0, "")
