"""Everything that a message states, read in a fixed order: times first, then fryers, then amounts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from intents.lexicon import both
from intents.normalise import is_word
from intents.slots.amounts import SUPPLIES, Amount, amounts
from intents.slots.duties import duties_of, guide_of
from intents.slots.fryers import Fryers, Named
from intents.slots.notes import Note, note_in
from intents.slots.spans import Span, masked
from intents.slots.times import (
    Clock,
    Length,
    after_rush,
    clocks,
    days_ago,
    lengths,
    period_named,
    tomorrow_named,
    weekday_named,
)
from intents.types import Part, Period

NOTE_MASK = "{note}"


@dataclass(frozen=True)
class Stated:
    """What the words of one message state, before anyone knows its topic."""

    words: Sequence[str]
    clocks: tuple[Clock, ...]
    lengths: tuple[Length, ...]
    fryers: tuple[Named, ...]
    all_fryers: Span | None
    amounts: tuple[Amount, ...]
    note: Note | None
    kitchen: Fryers

    def spans(self) -> list[Span]:
        """The places that phrases would fill with a placeholder."""
        every: list[Span] = [*self.clocks, *self.lengths, *self.fryers, *self.amounts]
        if self.all_fryers and not any(_overlap(self.all_fryers, span) for span in every):
            every.append(self.all_fryers)
        return every

    def masked(self, words: Sequence[str]) -> list[str]:
        """``words`` (these, or their raw form) with placeholders and without marks; a clear note becomes one too."""
        spans = self.spans()
        note = self.note
        if note and not self.amounts and note.start >= 2:
            spans = [span for span in spans if span.end <= note.start]
            spans.append(Span(note.start, len(words), NOTE_MASK))
        return [word for word in masked(words, spans) if is_word(word) or word[0] == "{" or word in "%°"]

    def fryer_of_clock(self, clock: Clock) -> Named | None:
        """The fryer that a bare "at 3" means where no time makes sense."""
        return self.kitchen.of_clock(clock)

    @cached_property
    def duties(self) -> tuple[str, ...]:
        """The duties it speaks of."""
        return duties_of(self.words)

    @cached_property
    def guide(self) -> str | None:
        """The guide that its words point to."""
        return guide_of(self.words)

    @cached_property
    def period(self) -> Period | None:
        """The week or month it names."""
        return period_named(self.words)

    @cached_property
    def weekday(self) -> int | None:
        """The day of the week it names."""
        return weekday_named(self.words)

    @cached_property
    def after_rush(self) -> bool:
        """Whether it names the end of the rush."""
        return after_rush(self.words)

    @cached_property
    def tomorrow(self) -> bool:
        """Whether it names the next day."""
        return tomorrow_named(self.words)

    @cached_property
    def food_of(self) -> str | None:
        """The one fryer whose food it names ("the fries"), where it names no fryer."""
        return self.kitchen.by_food_alone(self.words)

    @cached_property
    def is_asked(self) -> bool:
        """Whether a question mark makes a question of it, and nothing in it says that somebody reports."""
        return "?" in self.words and not any(True for _ in both("question.own_report").find(self.words))

    @cached_property
    def part(self) -> Part | None:
        """The protective device it speaks of."""
        if any(True for _ in both("part.high_limit").find(self.words)):
            return "high_limit"
        return "pump" if any(True for _ in both("part.pump").find(self.words)) else None

    @cached_property
    def item(self) -> str | None:
        """The supply it names."""
        for name in SUPPLIES:
            if any(True for _ in both(f"items.{name}").find(self.words)):
                return name
        return None

    @cached_property
    def days_ago(self) -> int | None:
        """Days back from today, where the message names a day."""
        return days_ago(self.words)

    @cached_property
    def future(self) -> bool:
        """Whether the time stated lies ahead."""
        named = any(True for _ in both("days.future").find(self.words))
        return named or any(length.ahead for length in self.lengths)


def _overlap(one: Span, other: Span) -> bool:
    return one.start < other.end and other.start < one.end


def read(words: Sequence[str], fryers: Fryers) -> Stated:
    """Read the words (spelt out and repaired, marks included) of one message."""
    times = tuple(clocks(words))
    spans = tuple(lengths(words, times))
    named = tuple(fryers.find(words, [*times, *spans]))
    counted = tuple(amounts(words, [*times, *spans, *named]))
    return Stated(words, times, spans, named, fryers.all_named(words), counted, note_in(words), fryers)
