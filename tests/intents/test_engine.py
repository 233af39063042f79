"""The engine that knows no kitchen, on a handful of messages."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from intents import fitted
from intents.calibration import Calibration
from intents.engine import Engine, Ranked
from intents.repair import Repairer, sound
from intents.vector import Reading, Vectoriser, mix

MESSAGES = [
    ("change the pad", "pad"), ("put a new pad in", "pad"), ("swap the filter pad", "pad"),
    ("how do i change pads", "pad"),
    ("the oil is too hot", "hot"), ("temperature is too high", "hot"), ("oil runs hot", "hot"), ("way too hot",
    "hot"),
    ("order more jugs", "order"), ("how many jugs are left", "order"), ("jugs to order", "order"),
    ("we need jugs", "order"),
]  # fmt: skip


def fitted_on(messages: list[tuple[str, str]]) -> Engine:
    return Engine.fit([text.split() for text, _ in messages], [label for _, label in messages])


@pytest.mark.parametrize(("text", "label"), [("new pad", "pad"), ("it is hot", "hot"), ("more jugs please", "order")])
def test_new_words_around_known_ones_find_their_label(text: str, label: str) -> None:
    assert fitted_on(MESSAGES).rank(text.split())[0].label == label


def test_the_same_messages_give_the_same_engine() -> None:
    first, second = fitted_on(MESSAGES), fitted_on(MESSAGES)
    assert np.array_equal(first.model.head, second.model.head)
    assert first.rank(["new", "pad"]) == second.rank(["new", "pad"])


def test_shares_add_up_and_come_in_order() -> None:
    ranked = fitted_on(MESSAGES).rank(["hot", "pad"])
    assert sum(one.chance for one in ranked) == pytest.approx(1)
    assert [one.chance for one in ranked] == sorted((one.chance for one in ranked), reverse=True)


def test_a_message_of_the_fit_is_its_own_nearest() -> None:
    best = fitted_on(MESSAGES).rank(["order", "more", "jugs"])[0]
    assert MESSAGES[best.nearest][0] == "order more jugs"


def test_no_words_have_no_label() -> None:
    assert fitted_on(MESSAGES).rank([]) == []


def test_unknown_words_make_a_message_less_near() -> None:
    engine = fitted_on(MESSAGES)
    near = engine.rank(["order", "more", "jugs"])[0].near
    far = engine.rank(["order", "more", "jugs", "zzyx", "qqwv", "kkjh"])[0].near
    assert far < near


def test_a_vector_is_never_longer_than_one() -> None:
    vectoriser = Vectoriser.fit([Reading(text.split()) for text, _ in MESSAGES])
    for words in (["change", "the", "pad"], ["unknown", "pad"], ["nothing"], []):
        _, values = vectoriser.vector(Reading(words))
        assert float(values @ values) <= 1.0001


def test_mixing_a_vector_with_itself_changes_nothing() -> None:
    vector = Vectoriser.fit([Reading(text.split()) for text, _ in MESSAGES]).vector(Reading(["pad"]))
    columns, values = mix(vector, vector, 0.6)
    assert dict(zip(columns.tolist(), values.tolist(), strict=True)) == pytest.approx(
        dict(zip(vector[0].tolist(), vector[1].tolist(), strict=True))
    )


@pytest.mark.parametrize(
    ("written", "meant"),
    [("chnage", "change"), ("filtr", "filter"), ("baskt", "basket"), ("change", "change"), ("xx", "xx")],
)
def test_a_slip_is_repaired_and_a_known_word_left_alone(written: str, meant: str) -> None:
    assert Repairer({"change": 50, "filter": 40, "basket": 30}).repair(written) == meant


def test_a_word_is_also_repaired_by_its_sound() -> None:
    rules = [("ce", "se"), ("z", "s"), ("v", "b"), ("h", "")]
    assert sound("hacer", rules) == sound("aser", rules)
    assert Repairer({"hacer": 20}, rules=rules).repair("aser") == "hacer"


def test_confidence_rises_with_the_share() -> None:
    curve = Calibration(odds=0.7, head=0.0, near=0.0, offset=0.3, accept=0.45)
    sure, unsure = (
        curve.confidences([Ranked("a", share, 0.5, 0.5, 0), Ranked("b", 1 - share, 0.5, 0.5, 1)])[0]
        for share in (0.95, 0.55)
    )
    assert 0 < unsure < sure < 1


def test_a_fit_is_kept_and_comes_back_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "phrases" / "en"
    folder.mkdir(parents=True)
    for topic, texts in {
        "guide.skim": ["skim the crumbs", "how to skim"],
        "fault.foam": ["foam on top", "it foams"],
    }.items():
        (folder / f"{topic}.txt").write_text("# words\n" + "\n".join(texts) + "\n", encoding="utf-8")
    monkeypatch.setenv("VATSIDE_CACHE", str(tmp_path / "cache"))
    fresh, _ = fitted.load([tmp_path / "phrases"])
    assert len(list((tmp_path / "cache").glob("*.npz"))) == 1
    again, phrases = fitted.load([tmp_path / "phrases"])
    assert again.rank(["skim"])[0].label == fresh.rank(["skim"])[0].label == "guide.skim"
    assert len(phrases) == 4


def test_a_spoilt_cache_only_costs_a_new_fit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "phrases" / "en"
    folder.mkdir(parents=True)
    (folder / "guide.skim.txt").write_text("# words\nskim the crumbs\nhow to skim\n", encoding="utf-8")
    monkeypatch.setenv("VATSIDE_CACHE", str(tmp_path / "cache"))
    fitted.load([tmp_path / "phrases"])
    (kept,) = (tmp_path / "cache").glob("*.npz")
    kept.write_bytes(b"torn")
    engine, _ = fitted.load([tmp_path / "phrases"])
    assert engine.rank(["skim"])[0].label == "guide.skim"
