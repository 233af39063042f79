"""Updates that the server brings itself, over HTTP; TLS is ended by the proxy in front.

The library's own webhook answers as soon as an update is in a queue in memory, and compares the secret with ``!=``.
Here the answer is OK only when the helper has the update on the disk: otherwise the server brings it again. So this
is a handler of our own on the web server that the library would use (tornado).
(Source: the public Bot API's documentation, setWebhook: header X-Telegram-Bot-Api-Secret-Token, 1-256 characters of
A-Z, a-z, 0-9, _ and -; an answer other than 2xx is tried again.)
"""

from __future__ import annotations

import hmac
import json
import re
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlsplit

import tornado.httputil
import tornado.web
from tornado.httpserver import HTTPServer

from bot.channels.telegram.logs import happened, went_wrong
from bot.store import StoreError

LARGEST_UPDATE = 1024 * 1024
"""Bytes. A message has 4096 characters and its quotation as many; real updates stay below 100 kB (common practice)."""
LARGEST_HEAD = 16 * 1024
BODY_SECONDS = 10.0
IDLE_SECONDS = 120.0
CONNECTIONS = 16
"""How many updates the server may bring at once (setWebhook, max_connections: 1-100)."""

HEADER = "X-Telegram-Bot-Api-Secret-Token"
HEALTH = "/health"

_SECRET = re.compile(r"[A-Za-z0-9_-]{1,256}")

Take = Callable[[object], Awaitable[None]]
"""Takes one update to the disk; raises ``StoreError`` where that isn't possible now."""


@dataclass(frozen=True, slots=True)
class Plan:
    """Where updates are to be brought, what proves that it is the server who brings them, and where we listen."""

    url: str
    secret: str
    port: int
    host: str = "127.0.0.1"

    @property
    def path(self) -> str:
        """The path of the address."""
        return urlsplit(self.url).path or "/"


class PlanError(ValueError):
    """The settings of the webhook can't be used; the message names the variable and says what it should be."""


def plan(url: str | None, secret: str | None, port: str | None, host: str | None = None) -> Plan | None:
    """The plan that three settings make; None where none of them is set. Raises ``PlanError``."""
    given = {"VATSIDE_WEBHOOK_URL": url, "VATSIDE_WEBHOOK_SECRET": secret, "VATSIDE_WEBHOOK_PORT": port}
    missing = [name for name, value in given.items() if not value]
    if len(missing) == len(given):
        return None
    if not url or not secret or not port:
        what_to_do = f"set all three of {', '.join(given)}, or none of them to poll"
        raise PlanError(f"{' and '.join(missing)} not set; {what_to_do}")
    parts = _split(url)
    if parts is None or parts.query or parts.fragment or parts.path == HEALTH:
        raise PlanError("VATSIDE_WEBHOOK_URL is not an address; it looks like https://example.org/updates")
    if _SECRET.fullmatch(secret) is None:
        raise PlanError("VATSIDE_WEBHOOK_SECRET has characters that don't go; use 1 to 256 of A-Z a-z 0-9 _ -")
    if not port.isascii() or not port.isdigit() or not 1 <= int(port) <= 65535:
        raise PlanError("VATSIDE_WEBHOOK_PORT is not a port; give a number from 1 to 65535")
    return Plan(url, secret, int(port), host or "127.0.0.1")


class Webhook:
    """The web server that updates are brought to, with the door's health beside it."""

    def __init__(self, plan: Plan, take: Take, report: Callable[[], dict[str, Any]]) -> None:
        given = {"secret": plan.secret.encode(), "take": take}
        paths = sorted({plan.path.rstrip("/") or "/", plan.path})
        application = tornado.web.Application(
            [*((re.escape(path), _Updates, given) for path in paths), (HEALTH, _Health, {"report": report})],
            default_handler_class=_Nowhere,
            log_function=lambda _: None,
        )
        self._plan = plan
        self._server = HTTPServer(
            application,
            max_body_size=LARGEST_UPDATE,
            max_header_size=LARGEST_HEAD,
            body_timeout=BODY_SECONDS,
            idle_connection_timeout=IDLE_SECONDS,
        )

    def open(self) -> None:
        """Listen. Raises ``OSError`` where the port can't be had."""
        self._server.listen(self._plan.port, address=self._plan.host)
        happened("webhook_open", port=self._plan.port)

    async def close(self) -> None:
        """Take no more."""
        self._server.stop()
        await self._server.close_all_connections()


class _Quiet(tornado.web.RequestHandler):
    """Answers without a page, and without a word of what came in."""

    def set_default_headers(self) -> None:
        self.clear_header("Server")

    def write_error(self, status_code: int, **kwargs: Any) -> None:
        self.set_header("Content-Type", "text/plain")
        self.finish(f"{status_code}\n")

    def log_exception(self, typ: Any, value: BaseException | None, tb: Any) -> None:
        if value is not None and not isinstance(value, tornado.web.HTTPError):
            went_wrong("webhook_failed", value)

    def data_received(self, chunk: bytes) -> None:
        """Bodies come whole."""


class _Updates(_Quiet):
    SUPPORTED_METHODS = ("POST",)

    def initialize(self, secret: bytes, take: Take) -> None:
        self._secret = secret
        self._take = take

    async def post(self) -> None:
        """Take one update; 200 only when it is on the disk, 503 where it has to come again."""
        given = self.request.headers.get(HEADER, "").encode("utf-8", "surrogateescape")
        if not hmac.compare_digest(given, self._secret):
            happened("webhook_refused")
            raise tornado.web.HTTPError(403)
        try:
            raw = json.loads(self.request.body)
        except (ValueError, RecursionError):
            raise tornado.web.HTTPError(400) from None
        try:
            await self._take(raw)
        except StoreError as error:
            went_wrong("records_unwritable", error)
            raise tornado.web.HTTPError(503) from None


class _Health(_Quiet):
    SUPPORTED_METHODS = ("GET", "HEAD")

    def initialize(self, report: Callable[[], dict[str, Any]]) -> None:
        self._report = report

    def get(self) -> None:
        """How the door is; 503 where somebody should look after it."""
        report = self._report()
        self.set_status(200 if report["ok"] else 503)
        self.finish(report)

    head = get


class _Nowhere(_Quiet):
    def prepare(self) -> None:
        raise tornado.web.HTTPError(404)


def _split(url: str) -> Any:
    try:
        parts = urlsplit(url)
        good = parts.scheme in ("https", "http") and bool(parts.hostname) and (parts.port or 1) > 0
    except ValueError:
        return None
    return parts if good else None
