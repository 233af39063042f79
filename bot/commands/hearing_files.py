"""Listening to sound files, one by one, for a replay: by what is installed here."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from bot.channels.replay import Listen
from bot.commands.loading import understander_of
from bot.core.kitchen import Kitchen
from bot.voice.bias import names_of
from bot.voice.ear import Hearing, open_ear
from bot.voice.heard import Heard
from bot.voice.models import EarMissingError
from intents.types import Language

MODEL = "VATSIDE_VOICE_MODEL"


def listening(kitchen: Kitchen) -> Listen:
    """Listens to files, one by one; the ear is opened for the first, and where there is none, each says so."""
    opened: list[Hearing | None] = []

    def listen(note: Path, language: Language) -> Heard:
        if not opened:
            opened.append(_ear(kitchen))
        ear = opened[0]
        return ear.hear(note, language, names_of(kitchen)) if ear is not None else Heard("", trouble="absent")

    return listen


def _ear(kitchen: Kitchen) -> Hearing | None:
    try:
        return open_ear(os.environ.get(MODEL), understander=understander_of(kitchen))
    except EarMissingError as error:
        sys.stderr.write(f"not listening: {error}\n")
        return None
