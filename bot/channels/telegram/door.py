"""From a token to a running door, and from signals to its end."""

from __future__ import annotations

import asyncio
import logging
import random
import re
import signal
import sys
from collections.abc import Callable, Sequence
from datetime import datetime
from urllib.parse import urlsplit

from telegram.ext import AIORateLimiter, ExtBot
from telegram.request import HTTPXRequest

from bot.channels.port import Helper
from bot.channels.telegram.addresses import AddressBook, SharedAddressError
from bot.channels.telegram.line import Patience
from bot.channels.telegram.logs import quiet_libraries
from bot.channels.telegram.running import Door, Ending

OFFICIAL = "https://api.telegram.org"

CONNECT_SECONDS = 10.0
ANSWER_SECONDS = 20.0
"""For a kitchen's weak wireless network; the server itself answers within a second (common practice)."""
PARALLEL_CALLS = 16

_TOKEN = re.compile(r"\d+:[A-Za-z0-9_-]+")
BAD_TOKEN = (
    "VATSIDE_TELEGRAM_TOKEN is not a bot token; it looks like 123456789:letters-and-digits, "
    "copy it whole from where the bot was made"
)
BAD_URL = "VATSIDE_TELEGRAM_BASE_URL is not an address; it looks like https://example.org or http://127.0.0.1:8081"


def serve(helpers: Sequence[Helper], token: str, base_url: str | None, clock: Callable[[], datetime]) -> int:
    """Serve these kitchens on Telegram until SIGTERM or SIGINT; gives the process's exit status.

    0: stopped; 1: another program polls with the same token, or a fault; 2: the token, the address or the
    kitchens' Telegram numbers can't be used. For 1 and 2 one line on standard error says why. The helpers stay
    open: whoever opened them closes them.
    """
    quiet_libraries()
    logging.basicConfig(level=logging.INFO, format="%(asctime)s %(levelname)s %(name)s %(message)s")
    ending = _serve(helpers, token.strip(), base_url, clock)
    if ending.line is not None:
        sys.stderr.write(f"{ending.line}\n")
    return ending.status


def make_bot(token: str, base_url: str | None) -> ExtBot[int]:
    """The library's bot for this token, with its rate limiter; the limiter leaves waiting after a 429 to us."""
    base = (base_url or OFFICIAL).rstrip("/")

    def requests(size: int) -> HTTPXRequest:
        return HTTPXRequest(
            connection_pool_size=size,
            connect_timeout=CONNECT_SECONDS,
            read_timeout=ANSWER_SECONDS,
            write_timeout=ANSWER_SECONDS,
            pool_timeout=ANSWER_SECONDS,
        )

    return ExtBot(
        token,
        base_url=f"{base}/bot",
        base_file_url=f"{base}/file/bot",
        request=requests(PARALLEL_CALLS),
        get_updates_request=requests(1),
        rate_limiter=AIORateLimiter(max_retries=0),
    )


def _serve(helpers: Sequence[Helper], token: str, base_url: str | None, clock: Callable[[], datetime]) -> Ending:
    if _TOKEN.fullmatch(token) is None:
        return Ending(2, BAD_TOKEN)
    if base_url is not None and not _is_address(base_url):
        return Ending(2, BAD_URL)
    try:
        book = AddressBook(helpers)
    except SharedAddressError as error:
        return Ending(2, str(error))
    return asyncio.run(_run(book, token, base_url, clock))


async def _run(book: AddressBook, token: str, base_url: str | None, clock: Callable[[], datetime]) -> Ending:
    stop = asyncio.Event()
    loop = asyncio.get_running_loop()
    for number in (signal.SIGTERM, signal.SIGINT):
        try:
            loop.add_signal_handler(number, stop.set)
        except NotImplementedError:  # a system whose event loop knows no signals
            signal.signal(number, lambda *_: loop.call_soon_threadsafe(stop.set))
    bot = make_bot(token, base_url)
    door = Door(book, bot, clock, patience=Patience(), sleep=asyncio.sleep, jitter=random.random)
    return await door.run(stop)


def _is_address(url: str) -> bool:
    try:
        parts = urlsplit(url)
        return parts.scheme in ("http", "https") and bool(parts.hostname) and (parts.port or 1) > 0
    except ValueError:
        return False
