"""``vatside stickers``: a page of square codes to stick on the fryers."""

from __future__ import annotations

import argparse
import sys

from bot.app import clock
from bot.channels.errors import UsageError
from bot.channels.telegram.deeplinks import fryer_link
from bot.commands.invite import bot_name
from bot.commands.loading import kitchen_of
from bot.content.catalogue import load_content
from bot.content.languages import LANGUAGES
from bot.core.messages import Words
from bot.core.scene import fryer_words


def run(args: argparse.Namespace) -> int:
    """Write the PDF."""
    kitchen = kitchen_of(args.kitchen)
    bot = bot_name(args.bot)
    # Only here, for it takes a while to load and no other command needs it.
    from bot.reports.stickers import Sticker, as_pdf

    wording, now = load_content().wording, clock()

    def in_each_language(words: Words) -> list[str]:
        return [wording.render(words, language, kitchen, now) for language in LANGUAGES]

    stickers = [
        Sticker(
            titles=in_each_language(fryer_words(fryer)),
            name=" · ".join(fryer.names[:2]) or None,
            link=fryer_link(bot, fryer.id),
            lines=in_each_language(Words("sticker.scan")),
        )
        for fryer in kitchen.fryers
    ]
    try:
        args.out.write_bytes(as_pdf(stickers, kitchen.name, args.paper))
    except OSError as error:
        raise UsageError(args.out, None, f"it can't be written ({error.strerror})", "name a file elsewhere") from error
    sys.stdout.write(f"{args.out}: {len(stickers)} stickers; print it at 100 %, not fitted to the page\n")
    return 0
