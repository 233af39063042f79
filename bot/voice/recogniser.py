"""One speech model at work: a stretch of sound to guesses at its words, each with how likely the model finds it.

It goes one level below the library's own ``transcribe``: the sound is encoded once, which is most of the work, and
looked at as often as wanted, with a bias and without; and each look gives its best guesses, not just one.
"""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from functools import cache
from math import exp
from pathlib import Path
from typing import Any

import numpy as np

from bot.voice.models import GET_ONE, EarMissingError
from bot.voice.sound import RATE, Wave

LONGEST_PIECE = 28
"""Seconds of one look; the models see thirty at once."""
FRAMES = 3000
"""Hundredths of a second that the models see at once; what is shorter is filled up with silence."""
WORDS_A_SECOND = 8
"""Tokens of text in a second of the fastest speech; more than that is invented, and ends there."""
TOKENS_AT_LEAST = 24
MOST_TOKENS = 448
LONGEST_BIAS = 200
"""Tokens; the models take 223 before the text."""
PAUSE_MS = 700
"""A pause from which on a note may be cut into pieces."""
PAD_MS = 300
THREADS = 4
"""More give nothing for a short note."""

_SPECIAL = re.compile(r"<\|[^|]*\|>")


@dataclass(frozen=True, slots=True)
class Guess:
    """Words, and the mean log-probability of their tokens."""

    text: str
    log_chance: float


@dataclass(frozen=True, slots=True)
class Encoded:
    """A stretch of sound as the model sees it."""

    inner: Any
    seconds: float


class Recogniser:
    """A loaded model. Not for several threads at once."""

    def __init__(self, folder: Path) -> None:
        """Load the model of ``folder``. Raises ``EarMissingError`` where it or the library is not there."""
        try:
            from faster_whisper import WhisperModel
        except ImportError as error:
            raise EarMissingError(f"nothing to listen with; {GET_ONE}") from error
        threads = min(THREADS, os.cpu_count() or 1)
        try:
            self._model = WhisperModel(str(folder), device="cpu", compute_type="int8", cpu_threads=threads)
        # Damaged files: the library below throws plain RuntimeErrors and the tokenizer bare Exceptions.
        except Exception as error:
            raise EarMissingError(f"the speech model in {folder} can't be loaded; get it again") from error
        self._tokenizer = cache(self._new_tokenizer)

    @property
    def languages(self) -> tuple[str, ...]:
        """Codes of the languages that the model knows."""
        return tuple(self._model.supported_languages)

    def speech(self, wave: Wave) -> list[Wave]:
        """The stretches in which somebody speaks, cut at pauses where they are too long for one look."""
        from faster_whisper.vad import VadOptions, get_speech_timestamps

        options = VadOptions(
            max_speech_duration_s=LONGEST_PIECE, min_silence_duration_ms=PAUSE_MS, speech_pad_ms=PAD_MS
        )
        pieces: list[tuple[int, int]] = []
        for found in get_speech_timestamps(wave, options):
            start, end = int(found["start"]), int(found["end"])
            # Sentences of one note help each other, so that neighbours stay in one look as long as they fit.
            if pieces and end - pieces[-1][0] <= LONGEST_PIECE * RATE:
                pieces[-1] = (pieces[-1][0], end)
            else:
                pieces.append((start, end))
        return [wave[start:end] for start, end in pieces]

    def encoded(self, wave: Wave) -> Encoded:
        """The stretch, ready to be looked at; at most thirty seconds."""
        features = self._model.feature_extractor(wave)[..., :FRAMES]
        short = FRAMES - features.shape[-1]
        if short > 0:
            features = np.pad(features, [(0, 0), (0, short)])
        return Encoded(self._model.encode(features), len(wave) / RATE)

    def spoken_language(self, encoded: Encoded) -> dict[str, float]:
        """How likely each language is; empty where the model knows only one."""
        if not self._model.model.is_multilingual:
            return {}
        found = self._model.model.detect_language(encoded.inner)[0]
        return {_SPECIAL.sub(lambda mark: mark[0][2:-2], code): float(chance) for code, chance in found}

    def look(self, encoded: Encoded, language: str, bias: str, guesses: int) -> list[Guess]:
        """The best ``guesses`` at the words, best first; ``bias`` is text that is likely to come."""
        tokenizer = self._tokenizer(language)
        hint = tokenizer.encode(" " + bias.strip())[:LONGEST_BIAS] if bias else []
        prompt = self._model.get_prompt(tokenizer, hint, without_timestamps=True)
        most = len(prompt) + TOKENS_AT_LEAST + int(WORDS_A_SECOND * encoded.seconds)
        [found] = self._model.model.generate(
            encoded.inner,
            [prompt],
            beam_size=guesses,
            num_hypotheses=guesses,
            max_length=min(most, MOST_TOKENS),
            return_scores=True,
            suppress_blank=True,
        )
        made = []
        for ids, score in zip(found.sequences_ids, found.scores, strict=True):
            # The score is a mean over the tokens without the one that ends the text.
            made.append(Guess(tokenizer.decode(ids).strip(), score * len(ids) / (len(ids) + 1)))
        return made

    def warm_up(self, language: str) -> None:
        """Do once what makes the first look slow."""
        still = np.zeros(RATE, dtype=np.float32)
        self.speech(still)
        self.look(self.encoded(still), language, "", 1)

    def _new_tokenizer(self, language: str) -> Any:
        from faster_whisper.tokenizer import Tokenizer

        many = self._model.model.is_multilingual
        return Tokenizer(
            self._model.hf_tokenizer,
            many,
            task="transcribe" if many else None,
            language=language if many else None,
        )


def chance(log_chance: float) -> float:
    """A mean log-probability as a chance from 0 to 1."""
    return min(1.0, exp(log_chance))
