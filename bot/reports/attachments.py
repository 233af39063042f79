"""The files that go with messages, made when they are sent."""

from __future__ import annotations

from datetime import datetime

from bot.content.catalogue import Content
from bot.core.kitchen import Kitchen
from bot.core.messages import Words
from bot.core.records import OutFile
from bot.core.schedule import rules_on
from bot.core.state import State
from bot.reports.picture import summary_picture
from bot.reports.picture_words import picture_words
from intents.types import Language


def attachment(
    wanted: OutFile, state: State, as_of: datetime, content: Content, kitchen: Kitchen, language: Language
) -> bytes | None:
    """A file as PNG, in its reader's language; None where there is nothing to show."""
    if wanted.name is not None:
        path = content.picture(wanted.name)
        return path.read_bytes() if path is not None else None
    if wanted.on is None:
        return None
    rules = rules_on(state, wanted.on)
    if rules is None:
        return None

    def say(words: Words) -> str:
        return content.wording.render(words, language, kitchen, as_of)

    return summary_picture(state, wanted.on, as_of, picture_words(say, rules, wanted.on))
