"""Understanding one message, against rapidfuzz's ``extractOne`` over the same phrases in the same run.

Run: ``python -m tests.bench.bench_understanding [FILE.jsonl ...]`` (default: the phrases themselves, every fifth).
"""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from statistics import median, quantiles

from rapidfuzz import fuzz, process

from intents.understander import Understander


def main(files: Sequence[str]) -> None:
    """Print load time, median and 99th percentile, and the ratio to the peer."""
    began = time.perf_counter()
    understander = Understander.load(fryers={"1": ["fries fryer"], "2": ["falafel fryer"], "3": ["doughnut fryer"]})
    print(f"load {time.perf_counter() - began:.2f} s (fitted before, where the cache has it)")
    phrases = [phrase.text for phrase in understander.phrases]
    messages = [json.loads(line)["text"] for file in files for line in Path(file).read_text().splitlines()]
    messages = (messages or phrases[::5])[:500]
    ours = timed(understander.understand, messages)
    peer = timed(lambda text: process.extractOne(text, phrases, scorer=fuzz.token_sort_ratio), messages[:100])
    for name, times in (("vatside", ours), ("extractOne", peer)):
        print(f"{name:12} median {median(times) * 1e3:8.3f} ms   p99 {quantiles(times, n=100)[98] * 1e3:8.3f} ms")
    print(f"ratio of medians {median(ours) / median(peer):.3f} over {len(phrases)} phrases, {len(messages)} messages")


def timed(understand: Callable[[str], object], messages: Sequence[str]) -> list[float]:
    """Seconds each message takes, after one round to warm up."""
    times = []
    for message in messages[:20]:
        understand(message)
    for message in messages:
        began = time.perf_counter()
        understand(message)
        times.append(time.perf_counter() - began)
    return times


if __name__ == "__main__":
    main(sys.argv[1:])
