"""A sound file as samples, within bounds: two minutes, and no more memory than they take, whatever the file claims.

PyAV carries its own decoders, so no program has to be there besides; OGG/Opus is what voice notes come in.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

Wave = NDArray[np.float32]
"""Mono, 16,000 samples a second, -1 to 1."""

RATE = 16_000
LONGEST = 120.0
"""Seconds of a voice note that is listened to."""
SPARE = 2.0
"""Seconds over, for recorders that round."""
LARGEST = 20 * 2**20
"""Bytes of a file; the messenger's own limit for what bots may fetch (facts 8.14: 20 MB)."""

FORMATS = "ogg,mp3,mov,matroska,wav,flac,aac,amr,aiff"
"""What recorders write (FFmpeg's names). Others may name files or addresses, which the decoder would open: playlists,
lists of parts, descriptions of streams."""
NOTHING_ELSE = {"format_whitelist": FORMATS, "protocol_whitelist": "none"}
"""The file is read from memory, and whatever stands in it opens nothing besides."""

QUIET = 10 ** (-50 / 20)
"""Where the loudest tenth of a second lies below -50 dB of full scale, nothing was said near the microphone."""
WINDOW = RATE // 10


class BrokenSoundError(Exception):
    """No sound in there that can be read."""


class LongSoundError(Exception):
    """Longer than two minutes, or too big a file."""


@dataclass(frozen=True, slots=True)
class Sound:
    """Samples, and how long they last in seconds."""

    wave: Wave
    seconds: float

    @property
    def quiet(self) -> bool:
        """Whether nothing loud enough for speech is in it."""
        whole = len(self.wave) // WINDOW * WINDOW
        if not whole:
            return True
        power = np.square(self.wave[:whole]).reshape(-1, WINDOW).mean(axis=1)
        return float(np.sqrt(power.max())) < QUIET


def read(sound: bytes | Path) -> Sound:
    """The samples of a file or of its bytes. Raises ``BrokenSoundError`` and ``LongSoundError``."""
    try:
        size = len(sound) if isinstance(sound, bytes) else sound.stat().st_size
        if size > LARGEST:
            raise LongSoundError
        data = sound if isinstance(sound, bytes) else sound.read_bytes()
    except OSError as error:
        raise BrokenSoundError from error
    return _decoded(data)


def _decoded(data: bytes) -> Sound:
    import av

    most = int((LONGEST + SPARE) * RATE)
    parts: list[Any] = []
    total = 0
    try:
        with av.open(io.BytesIO(data), mode="r", options=NOTHING_ELSE, metadata_errors="ignore") as container:
            resampler = av.AudioResampler(format="flt", layout="mono", rate=RATE)
            for packet in container.demux(audio=0):
                try:
                    frames = packet.decode()
                except av.error.InvalidDataError:
                    # A note that lost a packet on its way still has words in it.
                    continue
                for frame in frames:
                    # At a rate of a few samples a second, a few kilobytes would fill gigabytes.
                    if frame.samples > (LONGEST + SPARE) * frame.sample_rate:
                        raise LongSoundError
                    for piece in resampler.resample(frame):
                        parts.append(piece.to_ndarray()[0])
                        total += len(parts[-1])
                if total > most:
                    raise LongSoundError
            parts += [piece.to_ndarray()[0] for piece in resampler.resample(None)]
    # ValueError and the others are what PyAV raises for streams that change or lie about themselves.
    except (av.FFmpegError, IndexError, ValueError, EOFError, MemoryError) as error:
        raise BrokenSoundError from error
    if not parts:
        raise BrokenSoundError
    wave = np.nan_to_num(np.concatenate(parts).astype(np.float32, copy=False))
    return Sound(np.clip(wave, -1.0, 1.0), len(wave) / RATE)
