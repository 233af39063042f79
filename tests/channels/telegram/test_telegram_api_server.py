"""The test server itself keeps the rules of the documentation that the other tests lean on."""

from __future__ import annotations

import json
import threading
import urllib.error
import urllib.request
from collections.abc import Iterator
from typing import Any

import pytest
from api_server import PNG, TOKEN, ApiServer

USER = 1001


@pytest.fixture
def server() -> Iterator[ApiServer]:
    with ApiServer() as running:
        yield running


def ask(server: ApiServer, method: str, token: str = TOKEN, **params: Any) -> dict[str, Any]:
    request = urllib.request.Request(
        f"{server.base_url}/bot{token}/{method}",
        data=json.dumps(params).encode(),
        headers={"Content-Type": "application/json"},
    )
    try:
        with urllib.request.urlopen(request, timeout=10) as answer:
            return dict(json.load(answer))
    except urllib.error.HTTPError as error:
        return dict(json.load(error))


def numbers(answer: dict[str, Any]) -> list[int]:
    return [update["update_id"] for update in answer["result"]]


def test_updates_come_again_until_a_higher_offset_confirms_them(server: ApiServer) -> None:
    first, second = server.say(USER, "one"), server.say(USER, "two")
    assert numbers(ask(server, "getUpdates")) == [first, second]
    assert numbers(ask(server, "getUpdates")) == [first, second]
    assert numbers(ask(server, "getUpdates", offset=first + 1)) == [second]
    assert numbers(ask(server, "getUpdates", offset=second + 1)) == []


def test_a_long_poll_ends_as_soon_as_there_is_an_update(server: ApiServer) -> None:
    answers: list[dict[str, Any]] = []
    poll = threading.Thread(target=lambda: answers.append(ask(server, "getUpdates", timeout=30)))
    poll.start()
    number = server.say(USER, "hi")
    poll.join(10)
    assert numbers(answers[0]) == [number]


def test_a_second_poller_ends_the_first_with_a_conflict(server: ApiServer) -> None:
    answers: list[dict[str, Any]] = []
    poll = threading.Thread(target=lambda: answers.append(ask(server, "getUpdates", timeout=30)))
    poll.start()
    server.wait(lambda: len(server.polls) == 1)
    ask(server, "getUpdates")
    poll.join(10)
    assert answers[0]["error_code"] == 409


@pytest.mark.parametrize(
    ("params", "ok"),
    [
        ({"text": "a" * 4096}, True),
        ({"text": "a" * 4097}, False),
        ({"text": "\U0001f525" * 2049}, False),
        ({"text": " "}, False),
        ({"text": "a", "reply_markup": {"inline_keyboard": [[{"text": "x", "callback_data": "d" * 64}]]}}, True),
        ({"text": "a", "reply_markup": {"inline_keyboard": [[{"text": "x", "callback_data": "ñ" * 33}]]}}, False),
        ({"text": "a", "reply_markup": {"inline_keyboard": [[{"text": "", "callback_data": "d"}]]}}, False),
    ],
)
def test_the_documented_limits_are_enforced(server: ApiServer, params: dict[str, Any], ok: bool) -> None:
    assert ask(server, "sendMessage", chat_id=USER, **params)["ok"] is ok


def test_an_edit_needs_a_message_and_a_change(server: ApiServer) -> None:
    message = ask(server, "sendMessage", chat_id=USER, text="a")["result"]["message_id"]
    edited = [
        ask(server, "editMessageText", chat_id=USER, message_id=number, text=text)
        for number, text in ((message, "b"), (message, "b"), (message + 1, "b"))
    ]
    assert [answer["ok"] for answer in edited] == [True, False, False]
    assert "not modified" in edited[1]["description"]


def test_a_wrong_token_is_unauthorized(server: ApiServer) -> None:
    assert ask(server, "getMe", token="1:wrong")["error_code"] == 401


def test_a_file_is_fetched_under_the_path_it_is_given(server: ApiServer) -> None:
    server.files["note"] = PNG
    path = ask(server, "getFile", file_id="note")["result"]["file_path"]
    with urllib.request.urlopen(f"{server.base_url}/file/bot{TOKEN}/{path}", timeout=10) as answer:
        assert answer.read() == PNG
