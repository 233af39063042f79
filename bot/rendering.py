"""Replies put into words: the message as it is recorded and sent."""

from __future__ import annotations

from datetime import datetime

from bot.content.wording import Wording
from bot.core.kitchen import Kitchen
from bot.core.messages import Event, Reply, Said, Words
from bot.core.records import OutButton, OutFile, Outgoing
from intents.types import Language


def outgoing(
    reply: Reply, number: int, now: datetime, language: Language, wording: Wording, kitchen: Kitchen
) -> Outgoing:
    """A reply in a language, as of ``now``, under its number in the history. Raises as ``Wording.render``."""

    def say(words: Words) -> str:
        return wording.render(words, language, kitchen, now)

    return Outgoing(
        number=number,
        at=now,
        to=reply.to,
        kind=reply.kind,
        text="\n".join(say(words) for words in reply.lines),
        buttons=tuple(OutButton(say(button.label), button.action) for button in reply.buttons),
        key=reply.key,
        edit=reply.edit,
        files=tuple(OutFile(f.what, f.on, f.name) for f in reply.files),
        aloud=tuple(say(words) for words in reply.aloud),
    )


def must_be_said(event: Event) -> bool:
    """Whether an event calls for an emergency's instructions or a warning, saved or not."""
    if not isinstance(event, Said):
        return False
    return event.danger is not None or (event.understood.topic or "").startswith("emergency.")
