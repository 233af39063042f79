"""Text to voice notes: OGG/Opus, by a synthesiser that is called as a program of its own.

The program is espeak-ng (GPL-3; Debian package ``espeak-ng``). It is not part of this product and not imported: text
goes in by its standard input, sound comes out by its standard output, and without it nothing is spoken. PyAV
(BSD-3-Clause), which comes with the extra ``voice``, packs the sound as messengers want it.
"""

from __future__ import annotations

import io
import re
import shutil
import subprocess
from collections.abc import Sequence
from dataclasses import dataclass

from bot.voice.for_the_ear import LANGUAGES, for_the_ear, voice_of
from intents.types import Language

PROGRAM = "espeak-ng"
WORDS_A_MINUTE = 170
"""A little slower than the program's own 175; common practice for instructions is 150 to 180."""

LONGEST_NOTE = 10.0
"""Seconds of one voice note: what is said fades, so it must be short enough to be kept in mind and said again."""

LONGEST_TO_SAY = 600
"""Characters of one note that go to the synthesiser, so that no text keeps it busy."""

PATIENCE = 20.0
"""Seconds after which the synthesiser is given up; it needs about .02 for a step (two cores, measured)."""

OPUS_RATE = 48_000
"""Samples a second: Opus knows this one everywhere (RFC 7845, section 5)."""
BIT_RATE = 24_000
"""Bits a second: enough for one voice (RFC 6716, section 2.1.1: 16 to 20 for wideband speech)."""


_SENTENCE_END = re.compile(r"(?<=[.!?]) (?=[\w¿¡])")


class VoiceMissingError(Exception):
    """There is nothing to speak with; the text says in a line what to install."""


class SpeechError(Exception):
    """This text could not be said."""


@dataclass(frozen=True, slots=True)
class Voice:
    """Speaks. Every call blocks for some hundredths of a second, so a door calls it in a thread."""

    program: str
    languages: frozenset[Language]

    def say(self, text: str, language: Language) -> bytes:
        """A text, as ``for_the_ear`` gives it, as OGG/Opus. Raises ``SpeechError``."""
        if language not in self.languages:
            raise SpeechError(f"no voice for {language}")
        arguments = [self.program, "-v", voice_of(language).name, "-s", str(WORDS_A_MINUTE), "--stdin", "--stdout"]
        try:
            spoken = subprocess.run(
                arguments, input=text[:LONGEST_TO_SAY].encode(), capture_output=True, timeout=PATIENCE, check=True
            ).stdout
        except (OSError, subprocess.SubprocessError) as error:
            raise SpeechError(f"the synthesiser failed ({type(error).__name__})") from error
        return _ogg(spoken)


def open_voice(program: str | None = None) -> Voice:
    """The voice of this machine. Raises ``VoiceMissingError``."""
    found = shutil.which(program or PROGRAM)
    if found is None:
        raise VoiceMissingError(f"{program or PROGRAM} is not installed; on Debian: apt install espeak-ng")
    try:
        import av as av
    except ImportError:
        raise VoiceMissingError("the extra 'voice' is not installed; pip install 'vatside[voice]'") from None
    return Voice(found, LANGUAGES)


def notes(lines: Sequence[str], language: Language) -> list[str]:
    """Lines of a message as voice notes for the ear, in their order; short neighbours share one.

    None is longer than ``LONGEST_NOTE`` by the voice's pace, unless a single sentence is.
    """
    said = filter(None, (for_the_ear(line, language) for line in lines))
    packed: list[str] = []
    for piece in (piece for line in said for piece in _pieces(line, language)):
        if packed and seconds(f"{packed[-1]} {piece}", language) <= LONGEST_NOTE:
            packed[-1] = f"{packed[-1]} {piece}"
        else:
            packed.append(piece)
    return packed


def seconds(said: str, language: Language) -> float:
    """About how long it takes to say a text for the ear, by the voice's pace in letters a second."""
    return len(said.replace(" ", "")) / voice_of(language).letters_a_second


def _pieces(line: str, language: Language) -> list[str]:
    """A line whole, or its sentences where it is too long for one note."""
    return [line] if seconds(line, language) <= LONGEST_NOTE else _SENTENCE_END.split(line)


def _ogg(wav: bytes) -> bytes:
    import av

    out = io.BytesIO()
    try:
        with av.open(io.BytesIO(wav), "r", format="wav") as source, av.open(out, "w", format="ogg") as target:
            stream = target.add_stream("libopus", rate=OPUS_RATE)
            stream.bit_rate = BIT_RATE
            stream.layout = "mono"
            resampler = av.AudioResampler(format="s16", layout="mono", rate=OPUS_RATE)
            for frame in source.decode(audio=0):
                for piece in resampler.resample(frame):
                    target.mux(stream.encode(piece))
            for piece in resampler.resample(None):
                target.mux(stream.encode(piece))
            target.mux(stream.encode(None))
    except (av.FFmpegError, IndexError, ValueError) as error:
        raise SpeechError(f"the sound could not be packed ({type(error).__name__})") from error
    return out.getvalue()
