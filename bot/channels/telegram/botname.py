"""What the server calls the bot, asked once."""

from __future__ import annotations

import asyncio

from telegram.error import InvalidToken, TelegramError

from bot.channels.errors import UsageError
from bot.channels.telegram.door import BAD_URL, is_address, make_bot
from bot.channels.telegram.logs import quiet_libraries


def ask_bot_name(token: str, base_url: str | None) -> str:
    """The bot's name, as it stands in links. Raises ``UsageError`` where the server doesn't tell."""
    if base_url is not None and not is_address(base_url):
        raise UsageError("VATSIDE_TELEGRAM_BASE_URL", None, "it is not an address", BAD_URL.partition("; ")[2])
    quiet_libraries()
    try:
        return asyncio.run(_ask(token, base_url))
    except InvalidToken:
        raise UsageError(
            "VATSIDE_TELEGRAM_TOKEN", None, "the server does not accept it", "get a valid one, or give --bot NAME"
        ) from None
    except TelegramError:
        raise UsageError("--bot", None, "the server can't be asked for the bot's name now", "give --bot NAME") from None


async def _ask(token: str, base_url: str | None) -> str:
    async with make_bot(token, base_url) as bot:
        return (await bot.get_me()).username or ""
