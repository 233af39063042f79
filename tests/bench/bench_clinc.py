"""The engine alone on CLINC150, beside general-purpose peers fitted in the same run.

CLINC150: Larson et al., An Evaluation Dataset for Intent Classification and Out-of-Scope Prediction, EMNLP-IJCNLP
2019, CC BY 3.0. Thresholds are chosen on its validation part; its test part is for reporting alone. Typing noise is
synthetic.

Run: ``python -m tests.bench.bench_clinc [full] [shot] [noise]``. The data lies in ``$VATSIDE_SHARED/data/clinc150``
(default: ``../shared``). Peers that are not installed are left out and named: scikit-learn, nebulento.
"""

from __future__ import annotations

import importlib.util
import json
import os
import random
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from statistics import quantiles
from typing import Any

import numpy as np
from rapidfuzz import fuzz, process

from intents.engine import NEARNESS, Engine
from intents.normalise import is_word, tokens

SHOTS = 20
PEER_SAMPLE = 600
"""Messages that a slow peer is asked; ours are asked all."""

Answer = tuple[str, float]
Messages = Sequence[tuple[str, str]]


def words(text: str) -> list[str]:
    """A message as the engine takes it."""
    return [token for token in tokens(text) if is_word(token)]


def ours(train: Messages) -> Callable[[str], Answer]:
    """The engine: label, and the head's chance and the nearness of the best as its score."""
    engine = Engine.fit([words(text) for text, _ in train], [label for _, label in train])

    def answer(text: str) -> Answer:
        ranked = engine.rank(words(text))
        if not ranked:
            return "", -1e9
        return ranked[0].label, float(np.log(ranked[0].head + 1e-9)) + NEARNESS * ranked[0].near

    return answer


def extract_one(train: Messages) -> Callable[[str], Answer]:
    """rapidfuzz's nearest message by ``token_sort_ratio``."""
    texts, labels = [text for text, _ in train], [label for _, label in train]

    def answer(text: str) -> Answer:
        _, score, at = process.extractOne(text, texts, scorer=fuzz.token_sort_ratio)
        return labels[at], float(score)

    return answer


def linear(train: Messages) -> Callable[[str], Answer]:
    """scikit-learn: words and letter groups, TF-IDF, a linear support vector machine."""
    from sklearn.feature_extraction.text import TfidfVectorizer
    from sklearn.pipeline import make_pipeline, make_union
    from sklearn.svm import LinearSVC

    features = make_union(
        TfidfVectorizer(ngram_range=(1, 2), sublinear_tf=True),
        TfidfVectorizer(analyzer="char_wb", ngram_range=(2, 5), sublinear_tf=True),
    )
    fitted = make_pipeline(features, LinearSVC()).fit([text for text, _ in train], [label for _, label in train])

    def answer(text: str) -> Answer:
        scores = fitted.decision_function([text])[0]
        return str(fitted.classes_[scores.argmax()]), float(scores.max())

    return answer


def fuzzy_intents(train: Messages) -> Callable[[str], Answer]:
    """nebulento: an intent parser that matches fuzzily."""
    from nebulento import IntentContainer

    container: Any = IntentContainer()
    by_label: dict[str, list[str]] = {}
    for text, label in train:
        by_label.setdefault(label, []).append(text)
    for label, texts in by_label.items():
        container.add_intent(label, texts)

    def answer(text: str) -> Answer:
        found = container.calc_intent(text)
        return str(found["name"]), float(found["conf"])

    return answer


PEERS: list[tuple[str, str, Callable[[Messages], Callable[[str], Answer]], bool]] = [
    ("vatside", "", ours, True),
    ("rapidfuzz extractOne", "", extract_one, False),
    ("scikit-learn linear", "sklearn", linear, False),
    ("nebulento", "nebulento", fuzzy_intents, False),
]


def noisy(text: str, chance: random.Random) -> str:
    """``text`` with one or two slips of the thumb or a dropped word."""
    parts = text.split()
    for _ in range(chance.choice((1, 2))):
        at = chance.randrange(len(parts))
        word = parts[at]
        if chance.random() < 0.2 and len(parts) > 2:
            del parts[at]
        elif len(word) > 2:
            spot = chance.randrange(len(word) - 1)
            parts[at] = chance.choice(
                (
                    word[:spot] + word[spot + 1] + word[spot] + word[spot + 2 :],
                    word[:spot] + word[spot + 1 :],
                    word[: spot + 1] + word[spot:],
                    word[:spot] + chance.choice("abcdefghijklmnopqrstuvwxyz") + word[spot + 1 :],
                )
            )
    return " ".join(parts)


def auroc(inside: Sequence[float], outside: Sequence[float]) -> float:
    """The chance that a message in scope scores higher than one out of scope."""
    _, place, count = np.unique(np.array([*inside, *outside]), return_inverse=True, return_counts=True)
    ranks = (np.cumsum(count) - (count - 1) / 2)[place]
    first = len(inside)
    return float((ranks[:first].sum() - first * (first + 1) / 2) / (first * len(outside)))


def thresholds(right: Sequence[bool], inside: Sequence[float], outside: Sequence[float]) -> tuple[float, float]:
    """On validation data: the threshold with the best sum of both shares, and the one two points below in scope."""
    plain = sum(right) / len(right)
    balanced, gentle, best = -np.inf, -np.inf, -1.0
    for limit in np.unique(np.array([*inside, *outside])):
        kept = sum(ok and score >= limit for ok, score in zip(right, inside, strict=True)) / len(right)
        refused = sum(score < limit for score in outside) / len(outside)
        if kept + refused > best:
            best, balanced = kept + refused, float(limit)
        if kept >= plain - 0.02:
            gentle = float(limit)
    return balanced, gentle


def measure(name: str, answer: Callable[[str], Answer], data: dict[str, Messages], all_of_it: bool) -> str:
    """One line of the table."""
    chance = random.Random(3)

    def asked(part: str) -> tuple[list[Answer], Messages, list[float]]:
        messages = list(data[part])
        if not all_of_it and len(messages) > PEER_SAMPLE:
            messages = chance.sample(messages, PEER_SAMPLE)
        answers, times = [], []
        for text, _ in messages:
            began = time.perf_counter()
            answers.append(answer(text))
            times.append(time.perf_counter() - began)
        return answers, messages, times

    got, meant, times = asked("test")
    far, _, _ = asked("oos_test")
    val_got, val_meant, _ = asked("val")
    val_far, _, _ = asked("oos_val")
    right = [label == wanted for (label, _), (_, wanted) in zip(got, meant, strict=True)]
    val_right = [label == wanted for (label, _), (_, wanted) in zip(val_got, val_meant, strict=True)]
    limits = thresholds(val_right, [score for _, score in val_got], [score for _, score in val_far])
    at = [
        (
            sum(ok and score >= limit for ok, (_, score) in zip(right, got, strict=True)) / len(right),
            sum(score < limit for _, score in far) / len(far),
        )
        for limit in limits
    ]
    cut = quantiles(times, n=100)
    return (
        f"{name:22} acc {sum(right) / len(right):.3f}  auroc {auroc([s for _, s in got], [s for _, s in far]):.3f}"
        f"  balanced {at[0][0]:.3f}/{at[0][1]:.3f}  gentle {at[1][0]:.3f}/{at[1][1]:.3f}"
        f"  p50 {cut[49] * 1e3:.2f} ms  p99 {cut[98] * 1e3:.2f} ms  (n {len(right)})"
    )


def main(which: Sequence[str]) -> int:
    """Print the table for each setting; returns the exit status."""
    file = Path(os.environ.get("VATSIDE_SHARED", "../shared")) / "data" / "clinc150" / "data_full.json"
    if not file.exists():
        print(f"{file}: not there; set VATSIDE_SHARED to the folder that holds data/clinc150", file=sys.stderr)
        return 2
    data: dict[str, Messages] = {
        part: [(t, label) for t, label in rows] for part, rows in json.loads(file.read_text()).items()
    }
    chance = random.Random(1)
    by_label: dict[str, list[tuple[str, str]]] = {}
    for text, label in data["train"]:
        by_label.setdefault(label, []).append((text, label))
    few = [one for label in sorted(by_label) for one in chance.sample(by_label[label], SHOTS)]
    slips = random.Random(2)
    rough = {
        part: [(noisy(text, slips), label) for text, label in rows] for part, rows in data.items() if part != "train"
    }
    settings = {"full": (data["train"], data), "shot": (few, data), "noise": (few, rough)}
    for name in which or settings:
        train, parts = settings[name]
        print(f"{name}: {len(train)} messages to learn from")
        for peer, needs, fit, all_of_it in PEERS:
            if needs and importlib.util.find_spec(needs) is None:
                print(f"{peer:22} not installed")
                continue
            began = time.perf_counter()
            answer = fit(train)
            took = time.perf_counter() - began
            print(measure(peer, answer, parts, all_of_it) + f"  fitted in {took:.1f} s", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
