"""The door of this package: a message in, what it was taken to mean out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from intents import fitted
from intents.calibration import Calibration, calibration
from intents.emergencies import Alarm, alarm_in
from intents.engine import Engine, Ranked
from intents.language import detect
from intents.normalise import is_word
from intents.own import ABOUT_DUTIES, EXACTLY, LONGEST, NEARLY, Found, Key, Objection, OwnDuties, OwnPhrases
from intents.phrasebook import BUILT_IN, Phrase, stray_brace
from intents.prepare import spelt_out
from intents.slots.fill import fill
from intents.slots.fryers import Fryers
from intents.slots.read import Stated, read
from intents.topics import topics
from intents.types import Choice, Language, Slots, Understood
from intents.weighing import EMERGENCY, by_what_is_stated, calm, overruled, raised_by_phrases, share_of_emergencies

EMERGENCY_CONFIDENCE = 0.99
MOST_CHOICES = 3
WORTH_ASKING = 0.05
"""A topic less likely than this is no use in "did you mean"."""
NO_BRACES = str.maketrans("{}", "  ")
"""Braces are for placeholders in phrase files; in a message they mean nothing."""
NEAR_EMERGENCY = 0.2
"""A phrase of which emergencies have this share must not be taught to mean anything else."""
LIKE_A_CRY = 0.25
"""The cosine to an emergency's phrase from which on that share is more than chance."""
TOO_NEAR = 0.9
"""Of the built-in phrases .3 % are so near (cosine) to one of another topic."""
NOT_DONE = "outside.not_done"
SHORT_ANSWER = 4
"""Words of a bare answer to a question ("the falafel one please"); more is a message of its own."""


@dataclass(frozen=True, slots=True)
class Explanation:
    """Why a message was taken as it was."""

    understood: Understood
    nearest: tuple[tuple[Phrase, str, float, float], ...]
    """The nearest phrase of each likely topic: phrase, topic, chance, cosine; best first."""
    repaired: tuple[tuple[str, str], ...]
    """Words as written and as repaired."""
    read_as: tuple[str, ...]
    """The words that were compared, placeholders in place."""
    alarm: Alarm | None
    """The emergency pattern that fired."""
    own: Phrase | None = None
    """The kitchen's own phrase that it says."""


@dataclass(frozen=True, slots=True)
class _Look:
    words: Sequence[str]
    repaired: Sequence[str]
    stated: Stated
    ranked: Sequence[Ranked]
    alarm: Alarm | None
    urgent: float
    """The share of emergencies in the ranking, before calm words were weighed."""
    own: Found | None = None
    """The kitchen's own phrase that it says."""
    instead: _Instead | None = None


@dataclass(frozen=True, slots=True)
class _Instead:
    """The message with the words of duties that everybody knows in place of the kitchen's own."""

    look: _Look
    duties: Mapping[str, str]
    """The kitchen's own duties, by those that stand in for them."""


@dataclass(frozen=True, slots=True)
class Understander:
    """Understands messages of one kitchen. Load it once; it holds no state that a message changes."""

    engine: Engine
    phrases: Sequence[Phrase]
    fryers: Fryers
    calibration: Calibration
    own: OwnPhrases = field(default_factory=OwnPhrases)
    duties: OwnDuties = field(default_factory=OwnDuties)

    @classmethod
    def load(
        cls,
        phrase_folders: Sequence[Path] = (BUILT_IN,),
        fryers: Mapping[str, Sequence[str]] | None = None,
        *,
        own: Sequence[Phrase] = (),
        duties: Mapping[str, Sequence[str]] | None = None,
    ) -> Understander:
        """Ready to understand the phrases of ``phrase_folders`` and a kitchen's ``fryers`` (id -> names).

        ``own`` are the kitchen's own phrases, ``duties`` the words for its own duties (id -> titles and words).
        Faulty lines of phrase files are left out; ``intents.phrasebook.read`` lists them. The fit is kept in the
        user's cache folder, so that only the first load after a change takes seconds.
        """
        folders, names = tuple(phrase_folders), Fryers(dict(fryers or {}))
        made = cls(*fitted.load(folders), names, calibration(), duties=OwnDuties.of(duties or {}))
        # An emergency's own phrase is for its very words; fitted, it could raise alarms in others.
        sound = [one for one in own if not one.topic.startswith(EMERGENCY) and not made.objection(one.text, one.topic)]
        if sound:
            learnt = [replace(one, text=" ".join(made._key(one.text)[0])) for one in sound]
            engine, phrases = fitted.load(folders, learnt)
            made = replace(made, engine=engine, phrases=phrases)
        return made.with_own(own)

    def with_own(self, phrases: Iterable[Phrase]) -> Understander:
        """The same with these own phrases of a kitchen, at once; without those that there is an ``objection`` to."""
        known = {(phrase.text, phrase.topic) for phrase in self.own.phrases}
        sound = [
            one for one in phrases if (one.text, one.topic) in known or self.objection(one.text, one.topic) is None
        ]
        return replace(self, own=OwnPhrases.of(sound, self._key))

    def objection(self, text: str, topic: str) -> Objection | None:
        """Why ``text`` must not be taught as a phrase of ``topic``; None where it may."""
        if topic not in topics():
            return Objection("unknown_topic")
        if len(text) > LONGEST:
            return Objection("long")
        if stray_brace(text) is not None:
            return Objection("placeholder")
        look = self._read(spelt_out(text))
        key = tuple(look.stated.masked(look.repaired))
        if not any(is_word(word) for word in key):
            return Objection("empty")
        if not topic.startswith(EMERGENCY):
            if look.alarm is not None:
                return Objection("emergency", look.alarm.topic)
            # Of gibberish, emergencies may have a share too; but none of their phrases is near to it.
            cries = [one for one in look.ranked if one.label.startswith(EMERGENCY) and one.near >= LIKE_A_CRY]
            if cries and look.urgent >= NEAR_EMERGENCY and not calm(look.repaired):
                return Objection("near_emergency", cries[0].label)
        others = ((one.label, self.phrases[one.nearest]) for one in look.ranked if one.label != topic)
        return next((Objection("taken", label, one) for label, one in others if self._key(one.text)[1] == key), None)

    def too_near(self, phrase: Phrase) -> Phrase | None:
        """A phrase of another topic so near that the two pull their topics together; None where there is none."""
        near = [one for one in self._read(spelt_out(phrase.text)).ranked if one.label != phrase.topic]
        closest = max(near, key=lambda one: one.near, default=None)
        return self.phrases[closest.nearest] if closest is not None and closest.near >= TOO_NEAR else None

    def understand(self, text: str, *, language: Language | None = None) -> Understood:
        """What ``text`` was taken to mean. ``language`` is the person's setting, for messages that could be either."""
        return self._understood(text, self._look(text), language)

    def explain(self, text: str, *, language: Language | None = None) -> Explanation:
        """What ``text`` was taken to mean, and why."""
        look = self._look(text)
        return Explanation(
            understood=self._understood(text, look, language),
            nearest=tuple((self.phrases[one.nearest], one.label, one.chance, one.near) for one in look.ranked),
            repaired=tuple(
                (raw, mended) for raw, mended in zip(look.words, look.repaired, strict=True) if raw != mended
            ),
            read_as=tuple(look.stated.masked(look.repaired)),
            alarm=look.alarm,
            own=look.own.phrase if look.own is not None else None,
        )

    def _key(self, text: str) -> tuple[Key, Key]:
        words = spelt_out(text)
        repaired = self.engine.repaired(words)
        stated = read(repaired, self.fryers)
        return tuple(stated.masked(words)), tuple(stated.masked(repaired))

    def _known(self, word: str) -> bool:
        return word in self.engine.repairer.counts or word in self.engine.repairer.vocabulary

    def _look(self, text: str) -> _Look:
        look = self._read(spelt_out(text.translate(NO_BRACES)))
        if look.alarm is not None:
            return look
        own = self.own.find(look.stated.masked(look.words), look.stated.masked(look.repaired), self._known)
        words, duties = self.duties.replaced(look.words, look.stated.duties)
        return replace(look, own=own, instead=_Instead(self._read(words), duties) if duties and own is None else None)

    def _read(self, words: Sequence[str]) -> _Look:
        repaired = self.engine.repaired(words)
        stated = read(repaired, self.fryers)
        empty: Sequence[Ranked] = []
        found = self.engine.rank(stated.masked(words), stated.masked(repaired)) if words else empty
        ranked = by_what_is_stated(found, stated)
        urgent = share_of_emergencies(ranked)
        alarm = alarm_in(words, repaired)
        if alarm and not alarm.sure and overruled(ranked):
            alarm = None
        elif alarm is None:
            alarm, ranked = raised_by_phrases(ranked, repaired)
        return _Look(words, repaired, stated, ranked, alarm, urgent)

    def _understood(self, text: str, look: _Look, hint: Language | None) -> Understood:
        found = self._meant(text, look, hint)
        return replace(found, said_fryer=_said_fryer(look.stated), said_number=_said_number(look.stated))

    def _meant(self, text: str, look: _Look, hint: Language | None) -> Understood:
        if look.own is not None:
            return self._as_taught(text, look, look.own, hint)
        if look.instead is not None:
            found = self._usually(text, look.instead.look, hint)
            if found.slots.not_done or found.topic in ABOUT_DUTIES:
                own = look.instead.duties
                first, *more = (
                    replace(slots, duty=own.get(slots.duty or "", slots.duty)) for slots in (found.slots, *found.more)
                )
                return replace(found, slots=first, more=tuple(more))
        return self._usually(text, look, hint)

    def _as_taught(self, text: str, look: _Look, own: Found, hint: Language | None) -> Understood:
        """By the kitchen's own phrase, unless the usual way is surer of it, or knows what a merely near one means."""
        usual = self._usually(text, look, hint)
        topic, sure = own.phrase.topic, EXACTLY if own.exactly else NEARLY
        if usual.topic == topic and usual.confidence >= sure:
            return usual
        if usual.topic is not None and usual.topic != topic and not own.exactly:
            return usual
        language = detect(look.repaired, text, hint, own.phrase.language)
        if not topics()[topic].inside:
            slots, more = fill(look.stated, None, text, not_done=topic == NOT_DONE)
            return Understood(text, None, sure, language, slots, more)
        slots, more = fill(look.stated, topic, text)
        return Understood(text, topic, sure, language, slots, more, (Choice(topic, sure),))

    def _usually(self, text: str, look: _Look, hint: Language | None) -> Understood:
        nearest: Language = self.phrases[look.ranked[0].nearest].language if look.ranked else "en"
        language = detect(look.repaired, text, hint, nearest)
        if look.alarm:
            slots, _ = fill(look.stated, look.alarm.topic, text)
            choice = Choice(look.alarm.topic, EMERGENCY_CONFIDENCE)
            return Understood(text, look.alarm.topic, EMERGENCY_CONFIDENCE, language, slots, (), (choice,))
        if not look.ranked:
            return Understood(text, None, 1.0, language)
        confidences = self.calibration.confidences(look.ranked)
        inside = [
            Choice(one.label, round(confidence, 4))
            for one, confidence in zip(look.ranked, confidences, strict=True)
            if topics()[one.label].inside
        ]
        choices = tuple(choice for choice in inside if choice.confidence >= WORTH_ASKING)[:MOST_CHOICES]
        best = look.ranked[0]
        outside = not topics()[best.label].inside
        # An emergency that raised no alarm is only a guess: the caller asks.
        if outside or best.label.startswith(EMERGENCY) or confidences[0] < self.calibration.accept:
            not_done = best.label == NOT_DONE
            slots, more = fill(look.stated, None, text, not_done=not_done)
            chance_of_none = confidences[0] if outside else 1 - confidences[0]
            return Understood(text, None, round(chance_of_none, 4), language, slots, more, choices)
        slots, more = fill(look.stated, best.label, text)
        return Understood(text, best.label, round(confidences[0], 4), language, slots, more, choices)


def _said_fryer(stated: Stated) -> str | None:
    """The fryer that a short answer names, a bare number among them; None in anything longer."""
    if len(stated.words) > SHORT_ANSWER:
        return None
    if stated.fryers:
        return stated.fryers[0].id
    number = _said_number(stated)
    return str(number) if number is not None and str(number) in stated.kitchen.names else None


def _said_number(stated: Stated) -> int | None:
    """The one whole number that a short answer gives."""
    digits = [word for word in stated.words if word.isdecimal()]
    if len(stated.words) > SHORT_ANSWER or len(digits) != 1 or len(digits[0]) > 2:
        return None
    return int(digits[0])


def public_topic(understood: Understood) -> str | None:
    """The topic of ``vatside understand``: None where the message has none, or one that only the helper knows."""
    topic = understood.topic
    return topic if topic is not None and topics()[topic].public else None


def public_slots(understood: Understood) -> dict[str, object]:
    """The slots of ``vatside understand``: those that the message's topic calls for, and only what is stated."""
    slots = understood.slots
    topic = public_topic(understood)
    if topic is None:
        wanted = topics()[NOT_DONE].slots if slots.not_done else frozenset[str]()
    else:
        wanted = topics()[topic].slots
    stated: dict[str, object] = {
        "fryer": slots.fryer,
        "part": slots.part,
        "duty": slots.duty,
        "amount": None if slots.amount is None else _whole(slots.amount),
        "unit": slots.unit,
        "minutes": slots.minutes,
        "clock": slots.clock,
        "note": slots.note,
        "not_done": slots.not_done or None,
    }
    return {name: value for name, value in stated.items() if value is not None and name in wanted}


def _whole(amount: float) -> float | int:
    return int(amount) if amount == int(amount) else amount


__all__ = ["Explanation", "Slots", "Understander", "public_slots", "public_topic"]
