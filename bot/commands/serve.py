"""``vatside serve``: the helper on Telegram."""

from __future__ import annotations

import argparse
import gc
import os
import sys
from collections.abc import Iterable
from pathlib import Path

from bot.app import Helper, clock
from bot.channels.errors import UsageError
from bot.channels.telegram.control import FOLDER, Control, Controls
from bot.channels.telegram.door import serve
from bot.channels.telegram.notices import Notices
from bot.channels.telegram.stopping import Stopping
from bot.channels.telegram.webhook import PlanError, plan
from bot.commands.loading import kitchen_of, opener, slug, store_of
from bot.commands.sound import sound_of
from bot.content.places import demo_folder
from bot.core.kitchen import Kitchen
from bot.core.messages import CREW

TOKEN, BASE_URL = "VATSIDE_TELEGRAM_TOKEN", "VATSIDE_TELEGRAM_BASE_URL"
WEBHOOK = ("VATSIDE_WEBHOOK_URL", "VATSIDE_WEBHOOK_SECRET", "VATSIDE_WEBHOOK_PORT", "VATSIDE_WEBHOOK_HOST")


def run(args: argparse.Namespace) -> int:
    """Serve until stopped."""
    stopping = Stopping()
    token = os.environ.get(TOKEN, "").strip()
    if not token:
        raise UsageError(TOKEN, None, "it is not set", "set it to the token of your bot")
    try:
        webhook = plan(*(os.environ.get(name, "").strip() for name in WEBHOOK))
    except PlanError as error:
        sys.stderr.write(f"{error}\n")
        return 2
    helpers: list[Helper] = []
    controls: list[Control] = []
    try:
        for file in args.kitchen or [demo_folder() / "kitchen.toml"]:
            kitchen = kitchen_of(file)
            folder = _folder(args.store, kitchen, several=len(args.kitchen or ()) > 1)
            helper = opener(kitchen, folder, file, watch=True)(clock())
            helpers.append(helper)
            controls.append(Control(helper, folder / FOLDER))
            if helper.recovered is not None:
                sys.stderr.write(f"{kitchen.name}: {helper.recovered}\n")
        make_ready(helpers)
        return serve(
            helpers,
            token,
            os.environ.get(BASE_URL) or None,
            clock,
            webhook=webhook,
            notices=Notices(helpers),
            controls=Controls(controls),
            stopping=stopping,
            sound=sound_of([helper.kitchen for helper in helpers]),
        )
    except OSError as error:
        sys.stderr.write(f"{error.filename or FOLDER}: {error.strerror}; make the records' folder writable\n")
        return 2
    finally:
        for helper in helpers:
            helper.close()


def make_ready(helpers: Iterable[Helper]) -> None:
    """Load now what the first message would wait for, and keep what stays out of the garbage collector's rounds.

    Each of its longer rounds would look through all content again, and every message wait for it.
    """
    for helper in helpers:
        helper.is_urgent(CREW, "ok")
    gc.collect()
    gc.freeze()


def _folder(given: Path | None, kitchen: Kitchen, several: bool) -> Path:
    folder = store_of(given, kitchen)
    return folder / slug(kitchen.name) if given is not None and several else folder
