"""Which of several guesses at a stretch of speech is taken, and how sure that is: by sound and by sense.

Emergencies come first: where two guesses are as likely, the one that raises an emergency is taken, and words that call
for help are never mended away. The figures were set on aggregates of ``tests/bench/bench_voice.py``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import exp

from bot.content.voice_words import VoiceWords
from bot.voice import judging
from bot.voice.bias import echoes
from bot.voice.judging import Candidate
from intents.types import Language, Understood
from intents.understander import Understander

EMERGENCY = "emergency."
SURE_OF_SOUND = -0.25
"""Mean log-probability from which the first look needs no second one."""
NEAR = 0.1
"""How much less likely (see ``judging.worth``) an alarm of the second look may be than the first look's best."""
AS_LIKELY = 0.02
"""The same within one look, where a "fire" for a "fryer" comes close: more raised more false alarms and no more real
ones."""
REMEMBERED = 64
"""Guesses whose meaning is remembered while a note is weighed."""


@dataclass(frozen=True, slots=True)
class Weighed:
    """What a stretch of speech may say, likeliest first, and the chance that the first is right enough to act on."""

    candidates: tuple[Candidate, ...] = ()
    """None where nobody said anything that could be made out."""
    confidence: float = 0.0


class Scales:
    """Weighs guesses in one language."""

    def __init__(self, understander: Understander, words: VoiceWords, language: Language) -> None:
        self._understander = understander
        self._words = words
        self._language = language
        self._understood = lru_cache(REMEMBERED)(self._understand)

    def mended(self, text: str) -> str:
        """The text with misheard words put right, but never one that calls for help."""
        calm = self._words.put_calm(text)
        return calm if self.raises_alarm(calm) else self._words.put_right(calm)

    def raises_alarm(self, text: str) -> bool:
        """Whether a text speaks of an emergency."""
        return (self._understood(text).topic or "").startswith(EMERGENCY)

    def doubtful(self, first: Sequence[Candidate], told: str) -> bool:
        """Whether a sound needs a second look, without the bias: nothing or little was made out, only some of the
        guesses raise an alarm, or the best may be but an echo of what the recogniser was told."""
        best = judging.ranked(first, self._sense)
        if not best:
            return True
        alarms = [self.raises_alarm(one.text) for one in best]
        return best[0].log_chance < SURE_OF_SOUND or any(alarms) != all(alarms) or echoes(best[0].text, told)

    def weighed(self, first: Sequence[Candidate], plain: Sequence[Candidate] = (), told: str = "") -> Weighed:
        """The guesses of the first look beside those of the second, ``plain`` one, if there was one."""
        backed = [one for one in first if not told or not echoes(one.text, told) or self._backed(one, plain)]
        best = self._real(backed)
        other = self._real(plain)
        if not best:
            best = other
        elif other and self.raises_alarm(other[0].text) and self._worth(other[0]) >= self._worth(best[0]) - NEAR:
            best = [other[0], *(one for one in best if one.text != other[0].text)]
        return self._chosen(best) if best else Weighed()

    # --- inside ---

    def _real(self, candidates: Sequence[Candidate]) -> list[Candidate]:
        return [one for one in judging.ranked(candidates, self._sense) if not judging.invented(one, self._words)]

    def _chosen(self, best: Sequence[Candidate]) -> Weighed:
        """One or more real guesses, the likeliest first, with the one to be taken in front."""
        alarms = [one for one in best if self.raises_alarm(one.text)]
        calm = [one for one in best if one not in alarms]
        likely = alarms and self._worth(alarms[0]) >= self._worth(best[0]) - AS_LIKELY
        chosen = alarms[0] if likely or not calm else calm[0]
        confidence = self._confidence(chosen, best)
        # Alarms that were weighed and found too unlikely are left out: whoever tries the alternatives in turn is not
        # to weigh them again.
        return Weighed((chosen, *(one for one in calm if one is not chosen)), confidence)

    def _confidence(self, chosen: Candidate, among: Sequence[Candidate]) -> float:
        """The smaller of how likely the words sound, and of how many of the guesses, weighed, mean the same."""
        meant = self._meaning(chosen.text)
        shares = judging.shares([one.log_chance for one in among])
        agreeing = sum(share for share, one in zip(shares, among, strict=True) if self._meaning(one.text) == meant)
        return round(min(agreeing, exp(chosen.log_chance), 1.0), 4)

    def _backed(self, one: Candidate, plain: Sequence[Candidate]) -> bool:
        """Whether the look without a bias heard about the same, or an alarm too."""
        alarm = self.raises_alarm(one.text)
        return any(judging.alike(one.text, other.text) or (alarm and self.raises_alarm(other.text)) for other in plain)

    def _worth(self, one: Candidate) -> float:
        return judging.worth(one, self._sense)

    def _sense(self, text: str) -> float:
        understood = self._understood(text)
        return understood.confidence if understood.topic is not None else 0.0

    def _meaning(self, text: str) -> object:
        """What would be done about a text: two that differ only in their words mean the same."""
        understood = self._understood(text)
        return understood.topic, replace(understood.slots, note=None), understood.said_fryer, understood.said_number

    def _understand(self, text: str) -> Understood:
        return self._understander.understand(text, language=self._language)
