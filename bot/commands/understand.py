"""``vatside understand``: messages in, a line each; what they mean out, as JSON."""

from __future__ import annotations

import argparse
import sys
from json import dumps

from bot.commands.loading import kitchen_of, understander_of
from intents.types import Slots, Understood

CONTRACT = ("fryer", "part", "duty", "amount", "unit", "minutes", "clock", "note", "not_done")
"""The slots that other programs may rely on."""


def run(args: argparse.Namespace) -> int:
    """Answer every line at once, in order."""
    understander = understander_of(kitchen_of(args.kitchen))
    for raw in sys.stdin.buffer:
        text = raw.decode("utf-8", errors="replace").rstrip("\r\n")
        if args.explain:
            sys.stdout.write(str(understander.explain(text)) + "\n")
        else:
            sys.stdout.write(dumps(as_object(understander.understand(text)), ensure_ascii=False) + "\n")
        sys.stdout.flush()
    return 0


def as_object(understood: Understood) -> dict[str, object]:
    """What was understood, as the contract has it; ``more`` only where the message states several things."""
    found: dict[str, object] = {
        "text": understood.text,
        "topic": understood.topic,
        "confidence": round(understood.confidence, 4),
        "language": understood.language,
        "slots": slots_object(understood.slots),
    }
    if understood.more:
        found["more"] = [slots_object(slots) for slots in understood.more]
    return found


def slots_object(slots: Slots) -> dict[str, object]:
    """Only what the message states."""
    stated = {name: getattr(slots, name) for name in CONTRACT}
    return {
        name: int(value) if isinstance(value, float) and value.is_integer() else value
        for name, value in stated.items()
        if value is not None and value is not False
    }
