"""The voice: a program's sound becomes a voice note, and whatever goes wrong with it is one kind of error."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import av
import pytest

from bot.voice.speaking import SpeechError, Voice, VoiceMissingError, open_voice

SPEAKS = """#!{python}
import sys, wave
said = sys.stdin.read()
with wave.open(sys.stdout.buffer, "wb") as out:
    out.setnchannels(1)
    out.setsampwidth(2)
    out.setframerate(22050)
    out.writeframes(bytes(2 * 22050 * len(said.split()) // 2))
"""
FAILS = "#!{python}\nraise SystemExit(1)\n"
BABBLES = "#!{python}\nprint('no sound at all')\n"


def program(tmp_path: Path, source: str) -> str:
    path = tmp_path / "speaker"
    path.write_text(source.format(python=sys.executable))
    path.chmod(0o755)
    return str(path)


def test_a_text_becomes_an_ogg_opus_note_of_its_length(tmp_path: Path) -> None:
    sound = open_voice(program(tmp_path, SPEAKS)).say("wait thirty minutes now", "en")
    assert sound.startswith(b"OggS")
    with av.open(io.BytesIO(sound), "r") as opened:
        assert opened.streams.audio[0].codec_context.name in ("opus", "libopus")
        assert opened.duration is not None
        assert opened.duration / av.time_base == pytest.approx(2.0, abs=0.1)


@pytest.mark.parametrize("source", [FAILS, BABBLES])
def test_a_program_that_fails_is_a_speech_error(tmp_path: Path, source: str) -> None:
    with pytest.raises(SpeechError):
        open_voice(program(tmp_path, source)).say("hello", "en")


def test_a_language_without_a_voice_is_a_speech_error() -> None:
    with pytest.raises(SpeechError, match="no voice for es"):
        Voice("nothing", frozenset({"en"})).say("hola", "es")


def test_a_missing_program_says_what_to_install() -> None:
    with pytest.raises(VoiceMissingError, match="no-such-speaker is not installed; on Debian: apt install espeak-ng"):
        open_voice("no-such-speaker")
