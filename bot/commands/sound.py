"""What this machine can do with sound, by what is installed: listen, and speak."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from bot.channels.replay import Listen
from bot.channels.telegram.voice import DeafError, Sound
from bot.commands.loading import understander_of
from bot.core.kitchen import Kitchen
from bot.voice.bias import names_of
from bot.voice.ear import Hearing, open_ear
from bot.voice.heard import Heard
from bot.voice.models import EarMissingError
from bot.voice.speaking import VoiceMissingError, open_voice
from bot.voice.worker import Listener
from intents.types import Language

MODEL = "VATSIDE_VOICE_MODEL"


def sound_of(kitchens: Sequence[Kitchen]) -> Sound:
    """What to serve these kitchens with; what is missing is said in the log, and the rest goes on."""
    open_listener = _listener(kitchens[0] if len(kitchens) == 1 else None)
    try:
        return Sound(open_listener, open_voice())
    except VoiceMissingError as error:
        return Sound(open_listener, mute=str(error))


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


def _listener(kitchen: Kitchen | None) -> Callable[[], Listener]:
    def opened() -> Listener:
        understander = understander_of(kitchen) if kitchen is not None else None
        try:
            return Listener(open_ear(os.environ.get(MODEL), understander=understander))
        except EarMissingError as error:
            raise DeafError(str(error)) from error

    return opened
