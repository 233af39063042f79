"""``vatside listen``: sound files to what the helper would make of them."""

from __future__ import annotations

import argparse
import os
import sys
import time
from json import dumps
from pathlib import Path

from bot.channels.errors import UsageError
from bot.commands.loading import kitchen_of, understander_of
from bot.reading import Reading, best
from bot.voice.bias import names_of
from bot.voice.ear import open_ear
from bot.voice.heard import Heard
from bot.voice.models import EarMissingError
from intents.types import Understood
from intents.understander import public_slots, public_topic

MODEL = "VATSIDE_VOICE_MODEL"

FAULTS = {
    "broken": "no sound that can be read; record it again",
    "too_long": "longer than two minutes, or a bigger file than 20 MB; record a shorter note",
    "language": "the speech model doesn't know this language; choose one that does",
}
"""What is wrong with a file from which no words can be had, ever; silence and noise are sounds like others."""


def run(args: argparse.Namespace) -> int:
    """Answer every file at once, in order; a file that is no sound is reported and the next one is read."""
    kitchen = kitchen_of(args.kitchen)
    understander = understander_of(kitchen)
    try:
        ear = open_ear(os.environ.get(MODEL), understander=understander)
    except EarMissingError as error:
        raise UsageError("listen", None, *_halves(error)) from error
    names = names_of(kitchen)
    for file in args.files:
        began = time.perf_counter()
        heard = ear.hear(file, args.language, names)
        texts = (heard.text, *heard.alternatives)
        readings = [Reading(understander.understand(text, language=args.language), None) for text in texts]
        reading, sure = best(readings, heard.confidence)
        found = as_object(str(file), heard, reading.understood, sure, time.perf_counter() - began)
        sys.stdout.write(dumps(found, ensure_ascii=False) + "\n")
        sys.stdout.flush()
    return 0


def as_object(file: str, heard: Heard, meant: Understood, sure: float, took: float) -> dict[str, object]:
    """What was heard and what it means, as the contract has it; ``sure`` is the chance that the words are right."""
    seconds = round(took, 3)
    if not Path(file).exists():
        return {"file": file, "error": "there is no such file; check its name", "seconds": seconds}
    if heard.trouble in FAULTS:
        return {"file": file, "error": FAULTS[heard.trouble], "seconds": seconds}
    return {
        "file": file,
        "text": heard.text,
        "topic": public_topic(meant),
        "confidence": round(min(meant.confidence, sure), 4),
        "language": meant.language,
        "slots": public_slots(meant),
        "seconds": seconds,
    }


def _halves(error: EarMissingError) -> tuple[str, str]:
    """What is wrong, and what to do about it."""
    what, _, todo = str(error).partition("; ")
    return what, todo
