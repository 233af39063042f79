"""``vatside invite``: a link that lets one person in, made at the computer; how the first manager gets in."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

from bot.app import clock
from bot.channels.errors import UsageError
from bot.channels.telegram.deeplinks import is_bot_name, join_link, new_secret
from bot.channels.telegram.health import PRIVATE
from bot.commands.loading import kitchen_of, opener, store_of
from bot.core.kitchen import Kitchen, Person
from bot.core.messages import LinkWanted
from bot.reports import qr
from bot.store import StoreBusy

TOKEN, BASE_URL = "VATSIDE_TELEGRAM_TOKEN", "VATSIDE_TELEGRAM_BASE_URL"


def run(args: argparse.Namespace) -> int:
    """Make the link, write it into the records as a seal, and print it with its square code."""
    kitchen = kitchen_of(args.kitchen)
    folder = store_of(args.store, kitchen)
    bot = bot_name(args.bot)
    secret = new_secret()
    try:
        helper = opener(kitchen, folder, args.kitchen)(clock())
    except StoreBusy:
        raise UsageError(
            folder, None, "the helper is running on these records",
            "let a manager write /invite in the chat, or stop the helper, run this, and start it again",
        ) from None  # fmt: skip
    try:
        person = _person(helper.kitchen, args.name) if args.name is not None else None
        had_phone = person is not None and person.telegram is not None
        helper.happens(LinkWanted(secret, args.role, person.id if person is not None else None), clock())
    finally:
        helper.close()
    link = join_link(bot, secret)
    whom = f"{person.name} ({person.role})" if person is not None else f"one new {args.role}"
    sys.stdout.write(f"\nFor {whom} of {kitchen.name}. It works once, within 48 hours:\n\n{link}\n\n")
    if had_phone and person is not None:
        sys.stdout.write(f"The old phone of {person.name} is out from now on.\n\n")
    if args.out is not None:
        _write(args.out, qr.as_png(link))
        sys.stdout.write(f"Its square code: {args.out}\n")
    elif _shows_blocks():
        sys.stdout.write(qr.as_text(link))
    return 0


def bot_name(given: str | None) -> str:
    """The bot's name as given, or as the server says by the token. Raises ``UsageError``."""
    name = given.removeprefix("@") if given is not None else None
    if name is None:
        token = os.environ.get(TOKEN, "").strip()
        if not token:
            raise UsageError("--bot", None, "the bot's name is not known", f"give --bot NAME, or set {TOKEN}")
        # Only here, for it takes a while to load.
        from bot.channels.telegram.botname import ask_bot_name

        name = ask_bot_name(token, os.environ.get(BASE_URL) or None)
    if not is_bot_name(name):
        raise UsageError("--bot", None, f"{name!r} is no bot's name", "write it as in the chat, like lantern_bot")
    return name


def _person(kitchen: Kitchen, wanted: str) -> Person:
    found = next((p for p in kitchen.people if wanted.casefold() in (p.id.casefold(), p.name.casefold())), None)
    if found is None:
        known = ", ".join(p.id for p in kitchen.people)
        raise UsageError("--name", None, f"there is no {wanted!r} in this kitchen", f"give one of: {known}")
    return found


def _shows_blocks() -> bool:
    """Whether the output can show the block letters that a code is made of."""
    try:
        "█▀▄".encode(sys.stdout.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True


def _write(file: Path, content: bytes) -> None:
    try:
        # Whoever sees the code gets in by it.
        with os.fdopen(os.open(file, PRIVATE, 0o600), "wb") as out:
            out.write(content)
    except OSError as error:
        raise UsageError(file, None, f"it can't be written ({error.strerror})", "name a file elsewhere") from error
