"""Round trip: what the helper's voice says, its ear hears as the same thing.

Run by hand: ``python tests/bench/bench_round_trip.py``. Needs the program espeak-ng, the extra ``voice`` and a speech
model (``VATSIDE_VOICE_MODEL``, or one that is installed). Every guide's title, every command of a walk and a few things
to log are said in both languages and heard again. A title counts as right where the same topic is understood from the
words heard as from the words written; the share understood from what is written is the limit to compare with.
"""

from __future__ import annotations

import os
import time

from bot.commands.loading import understander_of
from bot.content.catalogue import load_content
from bot.content.kitchen_file import read_kitchen
from bot.content.places import demo_folder
from bot.core.messages import Words
from bot.voice.bias import names_of
from bot.voice.ear import open_ear
from bot.voice.for_the_ear import for_the_ear
from bot.voice.speaking import LONGEST_NOTE, notes, open_voice
from intents.types import Language
from tests.core.stage import local

COMMANDS: dict[Language, tuple[str, ...]] = {
    "en": ("next", "next step", "go back", "repeat", "say that again", "stop", "how long does this take", "yes", "no"),
    "es": ("siguiente", "siguiente paso", "regresa", "repite", "otra vez", "para", "cuánto tarda esto", "sí", "no"),
}
LOGS: dict[Language, tuple[str, ...]] = {
    "en": ("pad change done on fryer 2", "oil on fryer 1 is 18 %", "12 drops on fryer 3", "fryer 2 is at 350 °F"),
    "es": ("cambié el papel de la freidora 2", "el aceite de la freidora 1 está a 18 %", "12 tandas en la freidora 3"),
}


def main() -> None:
    """Print the shares of each language, and how long a step is and takes to make."""
    kitchen = read_kitchen(demo_folder() / "kitchen.toml")
    content, understander, now = load_content(), understander_of(kitchen), local("2026-09-15 21:30")
    voice, ear = open_voice(), open_ear(os.environ.get("VATSIDE_VOICE_MODEL"), understander=understander)
    for language in sorted(set(ear.languages) & voice.languages):
        titles = [
            content.wording.render(Words(f"{topic}/title"), language, kitchen, now) for topic in content.library.guides
        ]
        for name, texts in (("titles", titles), ("walk commands", COMMANDS[language]), ("logs", LOGS[language])):
            right = known = 0
            confidences = []
            for text in texts:
                sound = voice.say(for_the_ear(text, language), language)
                heard = ear.hear(sound, language, names_of(kitchen))
                confidences.append(heard.confidence)
                wanted = understander.understand(text, language=language)
                got = understander.understand(heard.text, language=language)
                known += wanted.topic is not None
                same = got.topic == wanted.topic and got.slots.fryer == wanted.slots.fryer
                right += same and (name != "logs" or got.slots.amount == wanted.slots.amount)
            sure = sorted(confidences)[len(confidences) // 2]
            print(
                f"{language} {name}: same after the round trip {right} of {len(texts)}; "
                f"understood as written {known}; median confidence {sure:.2f}"
            )
        long, took, count, said = 0.0, 0.0, 0, 0.0
        for topic, guide in content.library.guides.items():
            if guide.kind != "walk":
                continue
            for n in range(1, len(guide.steps) + 1):
                text = Words(f"{topic}/step.{n}", {"fryer": Words("fryer.plain", {"id": "2"})})
                line = Words("walk.step", {"n": n, "of": len(guide.steps), "text": text})
                for note in notes([content.wording.render(line, language, kitchen, now)], language):
                    began = time.perf_counter()
                    sound = voice.say(note, language)
                    took += time.perf_counter() - began
                    seconds = _seconds(sound)
                    long, said, count = max(long, seconds), said + seconds, count + 1
        print(
            f"{language} steps: {count} notes, the longest {long:.1f} s (limit {LONGEST_NOTE:.0f} s); "
            f"made in {took / said:.3f} of the time that they last"
        )


def _seconds(sound: bytes) -> float:
    import io

    import av

    with av.open(io.BytesIO(sound), "r") as opened:
        return float(opened.duration or 0) / av.time_base


if __name__ == "__main__":
    main()
