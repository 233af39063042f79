"""What is heard in sound files, with the small English model; clips: see ``clips/README.md``."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from bot.cli import main
from bot.voice.ear import Ear, open_ear
from intents.understander import Understander
from tests.voice import noises

CLIPS = Path(__file__).parent / "clips"
SEED = 7


@pytest.fixture(scope="module")
def understander() -> Understander:
    return Understander.load(fryers={"1": ["fries fryer"], "2": ["falafel fryer"], "3": ["doughnut fryer"]})


@pytest.fixture(scope="module")
def ear(understander: Understander) -> Ear:
    return open_ear("tiny.en", understander=understander)


def topic_of(ear: Ear, understander: Understander, clip: str) -> str | None:
    return understander.understand(ear.hear(CLIPS / clip, "en").text, language="en").topic


@pytest.mark.parametrize(
    ("clip", "topic"), [("pad.ogg", "log.done"), ("burn.ogg", "emergency.burn"), ("fire.ogg", "emergency.fire")]
)
def test_what_is_said_is_heard(ear: Ear, understander: Understander, clip: str, topic: str) -> None:
    assert topic_of(ear, understander, clip) == topic


def test_a_fryer_that_does_not_drain_is_no_fire(ear: Ear, understander: Understander) -> None:
    assert topic_of(ear, understander, "drain.ogg") == "fault.wont_drain"


def test_what_was_heard_says_how_long_it_was_and_how_sure_it_is(ear: Ear) -> None:
    heard = ear.hear(CLIPS / "pad.ogg", "en")
    assert heard.trouble is None
    assert heard.seconds == pytest.approx(2.9, abs=0.1)
    assert 0.5 < heard.confidence <= 1
    assert heard.text not in heard.alternatives


def test_bytes_are_heard_as_a_file_is(ear: Ear) -> None:
    assert ear.hear((CLIPS / "pad.ogg").read_bytes(), "en") == ear.hear(CLIPS / "pad.ogg", "en")


def test_hearing_leaves_no_file_behind_and_the_given_one_as_it_was(ear: Ear, tmp_path: Path) -> None:
    note = tmp_path / "note.ogg"
    note.write_bytes((CLIPS / "pad.ogg").read_bytes())
    ear.hear(note, "en")
    assert [path.name for path in tmp_path.iterdir()] == ["note.ogg"]
    assert note.read_bytes() == (CLIPS / "pad.ogg").read_bytes()


@pytest.mark.parametrize("kind", noises.KINDS, ids=lambda kind: kind.__name__)
def test_where_nobody_speaks_nothing_is_heard(ear: Ear, kind: object) -> None:
    assert callable(kind)
    random = np.random.default_rng(SEED)
    for _ in range(4):
        heard = ear.hear(noises.as_wav(kind(random, random.uniform(2, 5))), "en")
        assert (heard.text, heard.trouble) in {("", "silence"), ("", "noise")}


def test_silence_is_told_apart_from_noise(ear: Ear) -> None:
    random = np.random.default_rng(SEED)
    assert ear.hear(noises.as_wav(noises.silence(random, 3)), "en").trouble == "silence"
    assert ear.hear(noises.as_wav(noises.clatter(random, 3)), "en").trouble == "noise"


def test_a_language_that_the_model_lacks_is_said_to_be_lacking(ear: Ear) -> None:
    assert ear.languages == ("en",)
    assert ear.hear(CLIPS / "cambio_es.ogg", "es").trouble == "language"


def test_speech_in_a_language_that_the_model_lacks_is_never_sure(ear: Ear) -> None:
    assert ear.hear(CLIPS / "cambio_es.ogg", "en").confidence < 0.5


def test_the_listen_command_writes_an_object_a_file(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("VATSIDE_VOICE_MODEL", "tiny.en")
    quiet = tmp_path / "quiet.wav"
    quiet.write_bytes(noises.as_wav(noises.silence(np.random.default_rng(SEED), 2)))
    text = tmp_path / "text.ogg"
    text.write_text("not a sound")
    files = [str(CLIPS / "pad.ogg"), str(quiet), str(text), str(tmp_path / "none.ogg")]

    assert main(["listen", *files, "--language", "en"]) == 0

    said = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [one["file"] for one in said] == files
    pad, silence, broken, missing = said
    assert pad["topic"] == "log.done"
    assert pad["slots"] == {"duty": "pad_change", "fryer": "1"}
    assert 0 < pad["confidence"] <= 1
    assert pad["seconds"] > 0
    assert (silence["text"], silence["topic"]) == ("", None)
    assert "no sound" in broken["error"]
    assert "no such file" in missing["error"]
    assert "text" not in broken


def test_without_a_model_the_command_says_what_to_install(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("VATSIDE_VOICE_MODEL", str(tmp_path))
    assert main(["listen", str(CLIPS / "pad.ogg"), "--language", "en"]) == 2
    complaint = capsys.readouterr().err
    assert complaint.count("\n") == 1
    assert "no speech model" in complaint
