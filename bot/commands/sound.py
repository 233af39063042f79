"""What this machine can do with sound while it serves, by what is installed: listen, and speak."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence

from bot.channels.telegram.voice import DeafError, Sound
from bot.commands.hearing_files import MODEL
from bot.commands.loading import understander_of
from bot.core.kitchen import Kitchen
from bot.voice.ear import open_ear
from bot.voice.models import EarMissingError
from bot.voice.speaking import VoiceMissingError, open_voice
from bot.voice.worker import Listener


def sound_of(kitchens: Sequence[Kitchen]) -> Sound:
    """What to serve these kitchens with; what is missing is said in the log, and the rest goes on."""
    open_listener = _listener(kitchens[0] if len(kitchens) == 1 else None)
    try:
        return Sound(open_listener, open_voice())
    except VoiceMissingError as error:
        return Sound(open_listener, mute=str(error))


def _listener(kitchen: Kitchen | None) -> Callable[[], Listener]:
    def opened() -> Listener:
        understander = understander_of(kitchen) if kitchen is not None else None
        try:
            return Listener(open_ear(os.environ.get(MODEL), understander=understander))
        except EarMissingError as error:
            raise DeafError(str(error)) from error

    return opened
