"""``python -m intents.evaluate FILE...``: how well labelled messages are understood.

Each file holds JSON lines with ``text``, ``topic`` ("none" for no topic), ``lang``, ``style`` and ``slots``.
A slot ``note`` is compared only where the label states one.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from intents.types import Understood
from intents.understander import Understander, public_slots, public_topic

DEMO_FRYERS = {
    "1": ["fries fryer", "freidora de papas"],
    "2": ["falafel fryer", "freidora de falafel"],
    "3": ["doughnut fryer", "freidora de donas"],
}
BINS = 10


@dataclass(frozen=True, slots=True)
class Labelled:
    """A message and what it should be taken to mean."""

    text: str
    topic: str | None
    language: str
    style: str
    slots: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Result:
    """A labelled message and what it was taken to mean, in how many seconds."""

    labelled: Labelled
    understood: Understood
    seconds: float

    @property
    def topic_right(self) -> bool:
        """Whether the topic is the labelled one."""
        return public_topic(self.understood) == self.labelled.topic

    @property
    def slots_right(self) -> bool:
        """Whether the slots are exactly the labelled ones."""
        found = public_slots(self.understood)
        if "note" not in self.labelled.slots:
            found.pop("note", None)
        return found == dict(self.labelled.slots)


def read_labelled(files: Iterable[Path]) -> list[Labelled]:
    """The labelled messages of JSONL files. Raises ValueError with FILE:LINE for a line that is none."""
    found = []
    for file in files:
        for number, line in enumerate(file.read_text(encoding="utf-8").splitlines(), start=1):
            if not line.strip():
                continue
            try:
                row = json.loads(line)
                topic = None if row["topic"] in ("none", None) else row["topic"]
                found.append(Labelled(row["text"], topic, row["lang"], row.get("style", ""), row.get("slots", {})))
            except (ValueError, KeyError, TypeError) as fault:
                raise ValueError(f"{file}:{number}: {fault!r}; write one object with text, topic and lang") from fault
    return found


def evaluate(understander: Understander, labelled: Iterable[Labelled]) -> list[Result]:
    """Understand each message, timed."""
    results = []
    for one in labelled:
        start = time.perf_counter()
        understood = understander.understand(one.text)
        results.append(Result(one, understood, time.perf_counter() - start))
    return results


def share(values: Iterable[bool]) -> float:
    """The share that is true; 1 of nothing."""
    listed = list(values)
    return sum(listed) / len(listed) if listed else 1.0


def reliability(pairs: Sequence[tuple[float, bool]]) -> tuple[list[tuple[float, float, int]], float]:
    """From (confidence, was right): per bin mean confidence, share right and count; then the calibration error."""
    bins: dict[int, list[tuple[float, bool]]] = defaultdict(list)
    for confidence, right in pairs:
        bins[min(int(confidence * BINS), BINS - 1)].append((confidence, right))
    table = [
        (sum(c for c, _ in found) / len(found), share(r for _, r in found), len(found))
        for _, found in sorted(bins.items())
    ]
    error = sum(abs(confidence - right) * count for confidence, right, count in table) / max(len(pairs), 1)
    return table, error


def report(results: Sequence[Result], verbose: bool) -> str:
    """All figures, as text for a terminal."""
    known = [one for one in results if one.labelled.topic is not None]
    none = [one for one in results if one.labelled.topic is None]
    raised = [one for one in results if _is_emergency(one.understood.topic)]
    urgent = [one for one in results if _is_emergency(one.labelled.topic)]
    lines = [
        f"messages {len(results)}",
        f"topic right {share(one.topic_right for one in results):.3f}",
        f"  of those with a topic {share(one.topic_right for one in known):.3f} ({len(known)})",
        f"  of those without one (rejected) {share(one.topic_right for one in none):.3f} ({len(none)})",
        f"slots right {share(one.slots_right for one in results):.3f}",
        f"language right {share(one.understood.language == one.labelled.language for one in results):.3f}",
        f"emergencies raised {share(map(_raised, urgent)):.3f} ({len(urgent)})",
        f"false alarms {sum(not _is_emergency(one.labelled.topic) for one in raised)} of {len(results) - len(urgent)}",
    ]
    by: dict[str, Callable[[Result], str]] = {
        "language": lambda one: one.labelled.language,
        "style": lambda one: one.labelled.style,
    }
    for name, key in by.items():
        groups: dict[str, list[Result]] = defaultdict(list)
        for one in results:
            groups[key(one)].append(one)
        for value, found in sorted(groups.items()):
            lines.append(f"  {name} {value}: topic {share(one.topic_right for one in found):.3f} ({len(found)})")
    table, error = reliability([(one.understood.confidence, one.topic_right) for one in results])
    lines.append(f"expected calibration error {error:.3f}")
    lines += [f"  confidence {confidence:.2f} right {right:.2f} ({count})" for confidence, right, count in table]
    confusions = Counter(
        (one.labelled.topic or "none", one.understood.topic or "none") for one in results if not one.topic_right
    )
    lines += [f"  {count} x {meant} taken for {taken}" for (meant, taken), count in confusions.most_common(10)]
    times = sorted(one.seconds for one in results)
    if times:
        lines.append(f"ms a message: median {_at(times, 0.5):.2f}, 99th percentile {_at(times, 0.99):.2f}")
    if verbose:
        lines += [_wrong(one) for one in results if not (one.topic_right and one.slots_right)]
    return "\n".join(lines)


def _is_emergency(topic: str | None) -> bool:
    return topic is not None and topic.startswith("emergency.")


def _raised(one: Result) -> bool:
    return _is_emergency(one.understood.topic)


def _at(times: Sequence[float], part: float) -> float:
    return times[min(int(len(times) * part), len(times) - 1)] * 1000


def _wrong(one: Result) -> str:
    choices = ", ".join(f"{choice.topic} {choice.confidence:.2f}" for choice in one.understood.choices)
    return (
        f"- {one.labelled.text!r}: {one.labelled.topic} {dict(one.labelled.slots)}"
        f" | {one.understood.topic} {one.understood.confidence:.2f} {public_slots(one.understood)} [{choices}]"
    )


def main(arguments: Sequence[str] | None = None) -> int:
    """The command line; returns the exit status."""
    parser = argparse.ArgumentParser(
        prog="python -m intents.evaluate", description="How well labelled messages are understood."
    )
    parser.add_argument(
        "files", nargs="+", type=Path, metavar="FILE", help="JSON lines with text, topic, lang, style, slots"
    )
    parser.add_argument(
        "--fryers", type=json.loads, default=DEMO_FRYERS, help='the kitchen\'s fryers as JSON: {"1": ["fries fryer"]}'
    )
    parser.add_argument("--verbose", action="store_true", help="list every message that was taken wrongly")
    options = parser.parse_args(arguments)
    try:
        labelled = read_labelled(options.files)
    except (OSError, ValueError) as fault:
        print(fault, file=sys.stderr)  # noqa: T201
        return 2
    understander = Understander.load(fryers=options.fryers)
    print(report(evaluate(understander, labelled), options.verbose))  # noqa: T201
    return 0


if __name__ == "__main__":
    sys.exit(main())
