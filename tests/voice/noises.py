"""Sounds in which nobody says a word, made from a seed: silence, hiss, hum, clatter and music."""

from __future__ import annotations

import io
import wave
from collections.abc import Callable

import av
import numpy as np
from numpy.typing import NDArray

RATE = 16_000
Samples = NDArray[np.float64]


def silence(random: np.random.Generator, seconds: float) -> Samples:
    """A pocket's silence: the last bit flickers."""
    return random.normal(0, 2e-5, int(seconds * RATE))


def hiss(random: np.random.Generator, seconds: float) -> Samples:
    """Frying oil or a tap: noise whose power falls with frequency, by a random slope."""
    count = int(seconds * RATE)
    spectrum = np.fft.rfft(random.normal(0, 1, count))
    slope = random.uniform(0, 1)
    shaped = np.fft.irfft(spectrum / np.maximum(1, np.arange(len(spectrum))) ** slope, count)
    return _loud(random, shaped)


def hum(random: np.random.Generator, seconds: float) -> Samples:
    """A hood's fan: mains hum with overtones, and a little hiss."""
    time = np.arange(int(seconds * RATE)) / RATE
    base = random.choice([50.0, 60.0])
    tones = sum(np.sin(2 * np.pi * base * n * time + random.uniform(0, 6)) / n for n in range(1, 9))
    return _loud(random, tones + random.normal(0, 0.2, len(time)))


def clatter(random: np.random.Generator, seconds: float) -> Samples:
    """Baskets and pans: strokes that ring out, over a little hiss."""
    count = int(seconds * RATE)
    sound = random.normal(0, 0.01, count)
    for _ in range(random.integers(4, 16)):
        start = int(random.integers(0, count))
        time = np.arange(count - start) / RATE
        ring = sum(np.sin(2 * np.pi * random.uniform(400, 6000) * time) for _ in range(5))
        sound[start:] += ring * np.exp(-time * random.uniform(8, 40)) * random.uniform(0.3, 1)
    return _loud(random, sound)


def music(random: np.random.Generator, seconds: float) -> Samples:
    """A radio: chords that change twice a second."""
    count = int(seconds * RATE)
    sound = np.zeros(count)
    step = RATE // 2
    for start in range(0, count, step):
        time = np.arange(min(step, count - start)) / RATE
        root = 220 * 2 ** (random.integers(0, 12) / 12)
        for ratio in (1.0, 1.25, 1.5, 2.0):
            for overtone in (1, 2, 3):
                sound[start : start + len(time)] += np.sin(2 * np.pi * root * ratio * overtone * time) / overtone
    return _loud(random, sound)


KINDS: tuple[Callable[[np.random.Generator, float], Samples], ...] = (silence, hiss, hum, clatter, music)


def as_wav(samples: Samples) -> bytes:
    """The samples as the bytes of a WAV file."""
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes((np.clip(samples, -1, 1) * 32767).astype("<i2").tobytes())
    return out.getvalue()


def as_flac(samples: NDArray[np.int16], rate: int) -> bytes:
    """The samples as the bytes of a FLAC file with as many in one frame as go (RFC 9639: 65,535)."""
    out = io.BytesIO()
    with av.open(out, "w", format="flac") as container:
        stream = container.add_stream("flac", rate=rate, layout="mono", options={"frame_size": str(len(samples))})
        stream.codec_context.format = "s16"
        frame = av.AudioFrame.from_ndarray(samples[np.newaxis], format="s16", layout="mono")
        frame.sample_rate = rate
        for packet in (*stream.encode(frame), *stream.encode(None)):
            container.mux(packet)
    return out.getvalue()


def _loud(random: np.random.Generator, samples: Samples) -> Samples:
    """As loud as some phone somewhere in the kitchen would take it."""
    return samples / np.abs(samples).max() * random.uniform(0.05, 0.9)
