"""From a token to a running door, and from signals to its end."""

from __future__ import annotations

import asyncio
import logging
import random
import re
import sys
from collections.abc import Callable, Sequence
from datetime import datetime
from urllib.parse import urlsplit

from telegram.ext import ExtBot
from telegram.request import HTTPXRequest

from bot.channels.port import Helper
from bot.channels.telegram.addresses import AddressBook, SharedAddressError
from bot.channels.telegram.control import Controls
from bot.channels.telegram.limits import Limiter
from bot.channels.telegram.line import Patience
from bot.channels.telegram.logs import quiet_libraries
from bot.channels.telegram.notices import Notices
from bot.channels.telegram.running import Door, Ending
from bot.channels.telegram.stopping import Stopping
from bot.channels.telegram.voice import TEXT_ONLY, Sound
from bot.channels.telegram.webhook import Plan

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


def serve(
    helpers: Sequence[Helper],
    token: str,
    base_url: str | None,
    clock: Callable[[], datetime],
    *,
    webhook: Plan | None = None,
    notices: Notices | None = None,
    controls: Controls | None = None,
    stopping: Stopping | None = None,
    sound: Sound = TEXT_ONLY,
) -> int:
    """Serve these kitchens on Telegram until SIGTERM or SIGINT; gives the process's exit status.

    Updates are asked for, or brought to the ``webhook``. ``notices`` go to managers of several of the kitchens,
    ``controls`` are what the operator has in hand. ``sound`` is
    what this machine can hear and say.

    0: stopped; 1: another program polls with the same token, or a fault; 2: the token, an address or the
    kitchens' Telegram numbers can't be used. For 1 and 2 one line on standard error says why. The helpers stay
    open: whoever opened them closes them.
    """
    quiet_libraries()
    logging.basicConfig(level=logging.INFO, format="%(asctime)s %(levelname)s %(name)s %(message)s")
    stopping = stopping or Stopping()
    ending = _ready(helpers, token.strip(), base_url)
    if isinstance(ending, AddressBook):
        ending = asyncio.run(_run(ending, token.strip(), base_url, clock, webhook, notices, controls, stopping, sound))
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
        rate_limiter=Limiter(),
    )


def _ready(helpers: Sequence[Helper], token: str, base_url: str | None) -> AddressBook | Ending:
    if _TOKEN.fullmatch(token) is None:
        return Ending(2, BAD_TOKEN)
    if base_url is not None and not is_address(base_url):
        return Ending(2, BAD_URL)
    try:
        return AddressBook(helpers)
    except SharedAddressError as error:
        return Ending(2, str(error))


async def _run(
    book: AddressBook,
    token: str,
    base_url: str | None,
    clock: Callable[[], datetime],
    webhook: Plan | None,
    notices: Notices | None,
    controls: Controls | None,
    stopping: Stopping,
    sound: Sound,
) -> Ending:
    door = Door(
        book,
        make_bot(token, base_url),
        clock,
        patience=Patience(),
        sleep=asyncio.sleep,
        jitter=random.random,
        webhook=webhook,
        notices=notices,
        controls=controls,
        sound=sound,
    )
    return await door.run(stopping.event())


def is_address(url: str) -> bool:
    """Whether a server can be reached under this address."""
    try:
        parts = urlsplit(url)
        return parts.scheme in ("http", "https") and bool(parts.hostname) and (parts.port or 1) > 0
    except ValueError:
        return False
