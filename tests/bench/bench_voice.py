"""Listening, measured: topics right, words wrong, emergencies, false alarms, and what would be logged unasked.

Run: ``python -m tests.bench.bench_voice FOLDER [--model base] [--every N]``. FOLDER holds spoken clips
and a ``clips.jsonl`` (per line: file, text, topic, slots, lang, voice, snr_db; topic "none" for what the helper can't
answer, voice "noise" for none at all). Needs the extra ``voice`` and the model; says so where they are missing. The
clips' words are compared and never printed.

Then 200 notes of silence, hiss, hum, clatter and music from a fixed seed, of which none may become an action; babble of
three clips at once; and how long a written message takes while a note is listened to, against the same without, in the
same run.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import sys
import time
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median
from typing import Any

import numpy as np
from rapidfuzz.distance import Levenshtein

from bot.content.kitchen_file import read_kitchen
from bot.content.places import demo_folder
from bot.content.voice_words import plain_words
from bot.core.skills.hearing import is_sure
from bot.reading import Reading, best
from bot.voice.bias import names_of
from bot.voice.ear import Ear, EarMissingError, open_ear
from bot.voice.heard import Heard
from bot.voice.sound import read
from bot.voice.worker import Listener
from intents.understander import Understander, public_slots
from tests.voice import noises

NOISES = 200
SEED = 20261125
BABBLES = 20
TEXTS = 200
ACTS = ("log.", "cooldown.", "emergency.")


@dataclass
class Tally:
    """What became of the clips of one kind."""

    counts: Counter[str] = field(default_factory=Counter)
    times: list[float] = field(default_factory=list)
    works: list[float] = field(default_factory=list)
    """Seconds of work of all cores together: what a note costs however busy the machine is."""
    factors: list[float] = field(default_factory=list)
    troubles: Counter[str] = field(default_factory=Counter)

    def line(self) -> str:
        """One row of the table."""
        n = self.counts
        return (
            f"{n['clips']:4} {share(n['right'], n['clips'])} {share(n['right_text'], n['clips'])} "
            f"{share(n['wrong_words'], n['words'])}  {n['raised']:2}/{n['emergencies']:<2}  "
            f"{n['false']:2}/{n['calm']:<3} "
            f"{n['logged_wrong']:2}  {n['logged']:2}/{n['logs']:<3} "
            f"{median(self.times):6.2f} s  {median(self.factors):5.2f}  {median(self.works):5.2f} s   "
            f"{dict(self.troubles) or ''}"
        )


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("folder", type=Path)
    parser.add_argument("--model", default="base")
    parser.add_argument("--every", type=int, default=1, metavar="N", help="only every Nth clip")
    args = parser.parse_args()
    kitchen = read_kitchen(demo_folder() / "kitchen.toml")
    understander = Understander.load(fryers={fryer.id: fryer.names for fryer in kitchen.fryers})
    try:
        began = time.perf_counter()
        ear = open_ear(args.model, understander=understander)
    except EarMissingError as error:
        sys.exit(f"not measured: {error}")
    print(f"model {args.model}, languages {', '.join(ear.languages)}, ready in {time.perf_counter() - began:.1f} s")
    clips = [json.loads(line) for line in (args.folder / "clips.jsonl").read_text(encoding="utf-8").splitlines()]
    clips = clips[:: args.every]
    names = names_of(kitchen)
    spoken(ear, understander, args.folder, clips, names)
    noise(ear, understander, names)
    babble(ear, understander, args.folder, clips, names)
    asyncio.run(texts_meanwhile(ear, understander, (args.folder / clips[0]["file"]).read_bytes()))


def spoken(
    ear: Ear, understander: Understander, folder: Path, clips: list[dict[str, Any]], names: tuple[str, ...]
) -> None:
    """The clips, by voice and loudness of the noise over which they speak."""
    tallies: dict[tuple[str, str], Tally] = defaultdict(Tally)
    for clip in clips:
        kind = clip["voice"].split()[0] + (" es" if clip["lang"] == "es" else "")
        level = "clean" if clip["snr_db"] is None else f"{clip['snr_db']:2} dB"
        language = clip["lang"] or "en"
        if language not in ear.languages:
            continue
        began, worked = time.perf_counter(), time.process_time()
        heard = ear.hear(folder / clip["file"], language, names)
        took, work = time.perf_counter() - began, time.process_time() - worked
        count(tallies[kind, level], understander, clip, heard, language, took, work)
    head = "clips right (typed) wrong  emergencies false logged: wrong right  median    /len   work"
    print(f"\n{'voice':22} {head}", flush=True)
    for (kind, level), tally in sorted(tallies.items()):
        print(f"{kind:14} {level:6}  {tally.line()}")


def count(
    tally: Tally,
    understander: Understander,
    clip: dict[str, Any],
    heard: Heard,
    language: Any,
    took: float,
    work: float,
) -> None:
    """Add one clip."""
    wanted = None if clip["topic"] in ("none", "") else clip["topic"]
    reading, sure = meant(understander, heard, language)
    topic = reading.understood.topic
    typed = understander.understand(clip["text"], language=language)
    tally.counts["clips"] += 1
    tally.counts["right"] += topic == wanted
    tally.counts["right_text"] += typed.topic == wanted
    said, got = plain_words(clip["text"]), plain_words(heard.text)
    if clip["voice"] != "noise":
        tally.counts["words"] += len(said)
        tally.counts["wrong_words"] += Levenshtein.distance(said, got)
    urgent = (topic or "").startswith("emergency.")
    if (wanted or "").startswith("emergency."):
        tally.counts["emergencies"] += 1
        tally.counts["raised"] += urgent
    else:
        tally.counts["calm"] += 1
        tally.counts["false"] += urgent
    right = topic == wanted and public_slots(reading.understood) == public_slots(typed)
    unasked = is_sure(sure, reading.understood)
    tally.counts["logs"] += (wanted or "").startswith("log.")
    if (topic or "").startswith("log.") and unasked:
        tally.counts["logged" if right else "logged_wrong"] += 1
    tally.times.append(took)
    tally.works.append(work)
    tally.factors.append(took / max(heard.seconds, 0.1))
    if heard.trouble:
        tally.troubles[heard.trouble] += 1


def noise(ear: Ear, understander: Understander, names: tuple[str, ...]) -> None:
    """Notes in which nobody speaks."""
    random = np.random.default_rng(SEED)
    print(f"\n{NOISES} notes without a word (seed {SEED}):")
    for kind in noises.KINDS:
        tally: Counter[str] = Counter()
        for _ in range(NOISES // len(noises.KINDS)):
            heard = ear.hear(noises.as_wav(kind(random, random.uniform(2, 6))), "en", names)
            topic = meant(understander, heard, "en")[0].understood.topic or ""
            tally[heard.trouble or "words"] += 1
            tally["action"] += topic.startswith(ACTS)
        print(f"  {kind.__name__:8} {dict(tally)}")


def babble(
    ear: Ear, understander: Understander, folder: Path, clips: list[dict[str, Any]], names: tuple[str, ...]
) -> None:
    """Three calm clips at once: people talk, and nobody to the helper."""
    random = np.random.default_rng(SEED)
    calm = [
        clip
        for clip in clips
        if clip["lang"] == "en" and clip["snr_db"] is None and clip["topic"].startswith(("guide.", "ask.", "fault."))
    ]
    tally: Counter[str] = Counter()
    for _ in range(BABBLES):
        waves = [read(folder / calm[int(n)]["file"]).wave for n in random.choice(len(calm), 3, replace=False)]
        mixed = np.zeros(max(map(len, waves)))
        for wave in waves:
            mixed[: len(wave)] += wave / 3
        reading, sure = meant(understander, heard := ear.hear(noises.as_wav(mixed), "en", names), "en")
        topic = reading.understood.topic or ""
        tally[heard.trouble or "words"] += 1
        tally["emergency"] += topic.startswith("emergency.")
        unasked = is_sure(sure, reading.understood)
        tally["logged unasked"] += topic.startswith("log.") and unasked
    print(f"{BABBLES} notes of three clips at once: {dict(tally)}")


async def texts_meanwhile(ear: Ear, understander: Understander, note: bytes) -> None:
    """A written message, understood on the event loop while notes are listened to and while none is."""
    listener = Listener(ear)

    async def texts() -> float:
        times = []
        for number in range(TEXTS):
            began = time.perf_counter()
            understander.understand(f"what is due on fryer {number % 3 + 1}")
            await asyncio.sleep(0)
            times.append(time.perf_counter() - began)
        return median(times)

    await texts()
    alone = await texts()
    listening = [asyncio.create_task(listener.hear(note, "en")) for _ in range(4)]
    await asyncio.sleep(0.05)
    beside = await texts()
    was_listening = not all(task.done() for task in listening)
    await asyncio.gather(*listening)
    listener.close()
    late = "" if was_listening else " (but the notes were done before the texts were)"
    print(f"\na text while notes are listened to takes {beside / alone:.2f} times as long as without{late}")


def meant(understander: Understander, heard: Heard, language: Any) -> tuple[Reading, float]:
    """What the helper takes a note to mean, as the app does."""
    texts = (heard.text, *heard.alternatives)
    return best([Reading(understander.understand(text, language=language)) for text in texts], heard.confidence)


def share(part: int, whole: int) -> str:
    """A part as a decimal share."""
    return f"{part / whole:.3f}" if whole else "  -  "


if __name__ == "__main__":
    main()
