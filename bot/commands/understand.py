"""``vatside understand``: messages in, a line each; what they mean out, as JSON."""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from json import dumps

from bot.commands.loading import kitchen_of, understander_of
from intents.types import Understood
from intents.understander import public_slots, public_topic


def run(args: argparse.Namespace) -> int:
    """Answer every line at once, in order."""
    understander = understander_of(kitchen_of(args.kitchen), args.kitchen)
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
        "topic": public_topic(understood),
        "confidence": round(understood.confidence, 4),
        "language": understood.language,
        "slots": public_slots(understood),
    }
    if understood.more:
        found["more"] = [public_slots(replace(understood, slots=slots)) for slots in understood.more]
    return found
