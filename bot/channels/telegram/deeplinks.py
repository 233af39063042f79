"""Links into a bot's chat, and how one gets into a message that must not hold it before it is sent."""

from __future__ import annotations

import re
import secrets

from msgspec.structs import replace

from bot.channels.port import Helper
from bot.core.invites import FRYER, JOIN, LONGEST_VALUE, marker
from bot.core.records import Outgoing
from bot.reports import qr

_VALUE = re.compile(rf"[A-Za-z0-9_-]{{1,{LONGEST_VALUE}}}")
_BOT = re.compile(r"[A-Za-z][A-Za-z0-9_]{3,31}")


def new_secret() -> str:
    """What a link that lets somebody in carries: 128 random bits, in 32 letters and digits.

    No other signs: programs that find links in a text may cut off a hyphen at the end.
    """
    return secrets.token_hex(16)


def join_link(bot: str, secret: str) -> str:
    """The link that lets somebody in. Raises ``ValueError`` where it could not be read back."""
    return _link(bot, JOIN + secret)


def fryer_link(bot: str, fryer: str) -> str:
    """The link that opens the chat at a fryer. Raises ``ValueError`` where it could not be read back."""
    return _link(bot, FRYER + fryer)


def secret_in(value: str) -> str | None:
    """The secret in what a link carried, or None where it is no such link."""
    return value.removeprefix(JOIN) if value.startswith(JOIN) and _VALUE.fullmatch(value) else None


def is_bot_name(name: str) -> bool:
    """Whether a bot can be called so: 4 to 32 letters, digits and _, a letter first (Telegram's rule, from memory)."""
    return _BOT.fullmatch(name) is not None


def with_link(helper: Helper, out: Outgoing, bot: str) -> tuple[Outgoing, list[bytes]]:
    """The message with the link in it, and the link's square as PNG; other messages as they are.

    A link whose secret went with an earlier process is said to be lost.
    """
    seal = next((file.name for file in out.files if file.what == "invitation" and file.name is not None), None)
    if seal is None:
        return out, []
    others = tuple(file for file in out.files if file.what != "invitation")
    secret = helper.links.secret(seal)
    if secret is None:
        return replace(out, text=helper.text("invite.lost", helper.language_of(out.to)), files=others), []
    link = join_link(bot, secret)
    return replace(out, text=out.text.replace(marker(seal), link), files=others), [qr.as_png(link)]


def _link(bot: str, value: str) -> str:
    if not is_bot_name(bot) or not _VALUE.fullmatch(value):
        raise ValueError("no link can carry that")
    return f"https://t.me/{bot}?start={value}"
