"""What was heard in a sound, as a plain value; nothing here needs a recogniser."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Trouble = Literal["silence", "noise", "too_long", "broken", "busy", "language", "absent"]
"""Why there are no words: nothing was said, no speech could be made out, longer than two minutes or too big a file, no
sound file, too many are waiting, the loaded model doesn't know the person's language, nothing to listen with."""


@dataclass(frozen=True, slots=True)
class Heard:
    """The words of a voice note, or why there are none."""

    text: str
    """The words; empty with ``trouble``."""
    alternatives: tuple[str, ...] = ()
    """What else it may have been, likeliest first, without ``text``."""
    confidence: float = 1.0
    """The chance (0 to 1) that the words are right enough to act on."""
    trouble: Trouble | None = None
    seconds: float = 0.0
    """How long the sound is."""
