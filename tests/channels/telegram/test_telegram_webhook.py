"""Updates that the server brings: who may bring them, and when they are acknowledged."""

from __future__ import annotations

import asyncio
import json
import os
import re
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from api_server import PATIENCE, TOKEN, ApiServer, Fault
from telegram_kit import BEN, ROSA, FakeHelper, open_door
from test_telegram_serve import start

from bot.channels.telegram.webhook import HEADER, LARGEST_UPDATE, Plan, PlanError, plan
from bot.store import StoreError

SECRET = "lantern-street_4711"
URL = "https://example.org/updates"
ROOT = Path(__file__).parents[3]


@pytest.fixture
def server() -> Iterator[ApiServer]:
    with ApiServer() as running:
        yield running


@pytest.fixture
def where() -> Plan:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return Plan(URL, SECRET, free.getsockname()[1])


async def bring(
    where: Plan, update: object, *, secret: str | None = SECRET, path: str = "/updates", method: str = "POST"
) -> httpx.Response:
    headers = {HEADER: secret} if secret is not None else {}
    content = update if isinstance(update, bytes) else json.dumps(update).encode()
    async with httpx.AsyncClient() as client:
        return await client.request(
            method, f"http://127.0.0.1:{where.port}{path}", content=content, headers=headers, timeout=PATIENCE
        )


def said(server: ApiServer, text: str, number: int = 7, user: int = BEN) -> dict[str, Any]:
    return {"update_id": number, "message": server.message(user, text=text)}


async def test_what_is_brought_with_the_secret_is_taken_answered_and_then_acknowledged(
    server: ApiServer, where: Plan
) -> None:
    helper = FakeHelper()
    async with open_door(server, helper, webhook=where):
        await server.until(lambda: server.webhook is not None)
        assert (await bring(where, said(server, "what's due"))).status_code == 200
        assert helper.heard == [("ben", "ben", "what's due", True)]
        await helper.until(lambda: 1 in helper.sent)
    assert server.texts(BEN) == ["heard: what's due"]
    assert server.polls == []


async def test_the_server_is_told_the_address_the_secret_and_what_is_wanted(server: ApiServer, where: Plan) -> None:
    async with open_door(server, FakeHelper(), webhook=where):
        await server.until(lambda: server.webhook is not None)
    (told,) = server.of("setWebhook")
    assert (told.params["url"], told.params["secret_token"]) == (URL, SECRET)
    assert told.params["allowed_updates"] == ["message", "callback_query"]
    assert told.params.get("drop_pending_updates") in (None, "False", "false")


@pytest.mark.parametrize("secret", [None, "", "wrong", SECRET.upper(), SECRET + "x", SECRET[:-1]])
async def test_without_the_secret_nothing_happens(server: ApiServer, where: Plan, secret: str | None) -> None:
    helper = FakeHelper()
    async with open_door(server, helper, webhook=where) as (door, _, _):
        await server.until(lambda: server.webhook is not None)
        assert (await bring(where, said(server, "drained 1"), secret=secret)).status_code == 403
        assert door.health.counters.updates == 0
    assert helper.heard == []


async def test_an_update_that_can_not_be_written_down_is_not_acknowledged_and_comes_again(
    server: ApiServer, where: Plan
) -> None:
    helper = FakeHelper()
    helper.faults = [StoreError("disk full")]
    async with open_door(server, helper, webhook=where):
        await server.until(lambda: server.webhook is not None)
        assert (await bring(where, said(server, "drained 1"))).status_code == 503
        assert (await bring(where, said(server, "drained 1"))).status_code == 200
        assert (await bring(where, said(server, "drained 1"))).status_code == 200
        await helper.until(lambda: 1 in helper.sent)
    assert server.texts(BEN) == ["heard: drained 1"]


@pytest.mark.parametrize(
    ("update", "path", "method", "status"),
    [
        (b"not json", "/updates", "POST", {400}),
        (b"\xff\xfe", "/updates", "POST", {400}),
        (b"[" * 100_000, "/updates", "POST", {400}),
        (b"5", "/updates", "POST", {200}),
        (b"{}", "/elsewhere", "POST", {404}),
        (b"", "/updates", "GET", {405}),
        (b"", "/health", "POST", {405}),
        (b"x" * (LARGEST_UPDATE + 1), "/updates", "POST", {400, 413}),
    ],
)
async def test_whatever_else_is_brought_is_refused_and_the_next_update_is_taken(
    server: ApiServer, where: Plan, update: bytes, path: str, method: str, status: set[int]
) -> None:
    helper = FakeHelper()
    async with open_door(server, helper, webhook=where):
        await server.until(lambda: server.webhook is not None)
        try:
            assert (await bring(where, update, path=path, method=method)).status_code in status
        except httpx.TransportError:
            assert len(update) > LARGEST_UPDATE  # it hung up before all of it was sent
        assert (await bring(where, said(server, "hi"))).status_code == 200
    assert len(helper.heard) == 1


async def test_one_slow_chat_holds_up_no_other(server: ApiServer, where: Plan) -> None:
    helper, arrive = FakeHelper(), threading.Event()
    server.files["big"] = b"jpeg"
    server.inject("getFile", Fault(hold=arrive))
    photo = {"update_id": 8, "message": server.message(BEN, photo=[{"file_id": "big", "width": 9, "height": 9}])}
    async with open_door(server, helper, webhook=where):
        await server.until(lambda: server.webhook is not None)
        slow = asyncio.create_task(bring(where, photo))
        await server.until(lambda: server.held >= 1)
        assert (await bring(where, said(server, "fire", 9, ROSA))).status_code == 200
        assert not slow.done()
        arrive.set()
        assert (await slow).status_code == 200
    assert helper.photos == [(b"jpeg", None)]


async def test_health_counts_and_names_nobody(server: ApiServer, where: Plan) -> None:
    helper = FakeHelper()
    async with open_door(server, helper, webhook=where):
        await server.until(lambda: server.webhook is not None)
        await bring(where, said(server, "hi"))
        await bring(where, said(server, "hello?", 8, user=6666))
        await helper.until(lambda: 1 in helper.sent)
        answer = await bring(where, b"", path="/health", method="GET", secret=None)
    report = answer.json()
    assert answer.status_code == 200
    assert (report["ok"], report["mode"], report["updates"], report["answers"], report["refusals"]) == (
        True, "webhook", 2, 1, 1,
    )  # fmt: skip
    assert not re.search(rf"{BEN}|6666|hello|Lantern|{SECRET}", answer.text)


async def test_a_port_that_is_taken_and_an_address_that_the_server_refuses_are_status_2(server: ApiServer) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        plan_ = Plan(URL, SECRET, taken.getsockname()[1])
        async with open_door(server, FakeHelper(), webhook=plan_) as (_, running, _):
            ending = await running
    assert ending.status == 2 and ending.line is not None and "VATSIDE_WEBHOOK_PORT" in ending.line
    plan_ = Plan("http://example.org/updates", SECRET, plan_.port)
    async with open_door(server, FakeHelper(), webhook=plan_) as (_, running, _):
        ending = await running
    assert ending.status == 2 and ending.line is not None and "VATSIDE_WEBHOOK_URL" in ending.line


@pytest.mark.parametrize(
    ("url", "secret", "port", "what"),
    [
        (URL, SECRET, None, "VATSIDE_WEBHOOK_PORT not set"),
        (URL, "", "8443", "VATSIDE_WEBHOOK_SECRET not set"),
        (None, SECRET, "", "VATSIDE_WEBHOOK_URL and VATSIDE_WEBHOOK_PORT not set"),
        ("example.org", SECRET, "8443", "VATSIDE_WEBHOOK_URL"),
        ("https://[::1", SECRET, "8443", "VATSIDE_WEBHOOK_URL"),
        (URL + "?a=b", SECRET, "8443", "VATSIDE_WEBHOOK_URL"),
        ("https://example.org/health", SECRET, "8443", "VATSIDE_WEBHOOK_URL"),
        (URL, "a secret", "8443", "VATSIDE_WEBHOOK_SECRET"),
        (URL, "s" * 257, "8443", "VATSIDE_WEBHOOK_SECRET"),
        (URL, SECRET, "0", "VATSIDE_WEBHOOK_PORT"),
        (URL, SECRET, "65536", "VATSIDE_WEBHOOK_PORT"),
        (URL, SECRET, "https", "VATSIDE_WEBHOOK_PORT"),
    ],
)
def test_settings_that_do_not_go_together_are_refused_by_name(
    url: str | None, secret: str | None, port: str | None, what: str
) -> None:
    with pytest.raises(PlanError, match=what) as caught:
        plan(url, secret, port)
    assert secret is None or len(secret) < 2 or secret not in str(caught.value)


def test_no_settings_mean_polling() -> None:
    assert plan(None, "", None) is None


def test_some_of_the_settings_are_status_2_and_one_line(server: ApiServer, tmp_path: Path) -> None:
    settings = {"VATSIDE_TELEGRAM_TOKEN": TOKEN, "VATSIDE_WEBHOOK_URL": URL, "VATSIDE_WEBHOOK_SECRET": SECRET}
    process = subprocess.run(
        [sys.executable, "-m", "bot", "serve", "--store", str(tmp_path)],
        capture_output=True, text=True, cwd=ROOT, env={**os.environ, **settings}, timeout=4 * PATIENCE,
    )  # fmt: skip
    assert process.returncode == 2
    (line,) = process.stderr.splitlines()
    assert "VATSIDE_WEBHOOK_PORT" in line and SECRET not in line


def test_it_takes_updates_by_webhook_and_stops_on_a_signal(server: ApiServer, where: Plan) -> None:
    process = start(TOKEN, server.base_url, webhook=where)
    try:
        server.wait(lambda: server.webhook is not None)
        update, url = said(server, "what's due"), f"http://127.0.0.1:{where.port}/updates"
        assert httpx.post(url, json=update, headers={HEADER: SECRET}).status_code == 200
        server.wait(lambda: bool(server.texts(BEN)))
    finally:
        process.send_signal(signal.SIGTERM)
        _, errors = process.communicate(timeout=PATIENCE)
    assert process.returncode == 0, errors
    assert "event=stopped" in errors and SECRET not in errors and TOKEN not in errors and str(BEN) not in errors
