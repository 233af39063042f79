"""What a decision is made on: the kitchen, what there is to answer with, where things stand, and the time."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cached_property
from typing import Any

from bot.core import records as r
from bot.core.calendar import Calendar, calendar
from bot.core.kitchen import Fryer, Kitchen, Person
from bot.core.library import Library
from bot.core.messages import Button, Kind, Outcome, Reply, Words
from bot.core.state import State
from intents.types import Language


@dataclass(frozen=True, slots=True)
class Speaker:
    """A person of the kitchen, and the chat in which they speak."""

    person: Person
    chat: str


@dataclass(frozen=True)
class Scene:
    """Read only: whatever should change goes out as changes."""

    kitchen: Kitchen
    library: Library
    state: State
    now: datetime
    memo: dict[Any, Any] | None = field(default=None, compare=False, repr=False)
    """What was worked out before and may still hold; whoever looks there checks that it does. None: nothing is kept."""
    filed: Kitchen | None = field(default=None, compare=False, repr=False)
    """The kitchen as its file has it, where ``kitchen`` has other people by now."""
    voices: frozenset[Language] = frozenset()
    """The languages in which the door can speak."""
    days: Calendar = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "days", calendar(self.rules))

    @cached_property
    def rules(self) -> r.Rules:
        """The rules in force now; before the first turn of the history, those of the kitchen file."""
        return self.state.current_rules() or rules_of(self.kitchen)

    @cached_property
    def today(self) -> date:
        """The kitchen day that is now."""
        return self.days.day_of(self.now)

    @property
    def next_entry(self) -> int:
        """The number of the next entry of the log."""
        return self.state.entries + 1

    def language_of(self, person: Person) -> Language:
        """The language that a person wants to be answered in."""
        return language_of(self.library, self.state, person)

    def answer(
        self,
        who: Speaker,
        *lines: Words,
        buttons: tuple[Button, ...] = (),
        changes: tuple[r.Change, ...] = (),
        kind: Kind = "reply",
        key: str | None = None,
        edit: bool = False,
    ) -> Outcome:
        """An outcome that answers one person where they spoke, in their language."""
        reply = Reply(who.chat, kind, lines, buttons, key=key, edit=edit, language=self.language_of(who.person))
        return Outcome(changes, (reply,))


def language_of(library: Library, state: State, person: Person) -> Language:
    """The language that a person wants to be answered in; the kitchen file's, where theirs is no longer spoken."""
    wanted = state.languages.get(person.id)
    return next((code for code in library.languages if code == wanted), person.language)


def rules_of(kitchen: Kitchen) -> r.Rules:
    """The part of a kitchen file by which its days are judged."""
    return r.Rules(
        name=kitchen.name,
        timezone=kitchen.timezone,
        opens=kitchen.opens,
        closes=kitchen.closes,
        closed_days=kitchen.closed_days,
        closed_dates=kitchen.closed_dates,
        fryers=tuple(fryer.id for fryer in kitchen.fryers),
        duties=kitchen.duties,
    )


def fryer_words(fryer: Fryer | str) -> Words:
    """A fryer as people call it."""
    return Words("fryer.plain", {"id": fryer if isinstance(fryer, str) else fryer.id})


def duty_words(duty: str) -> Words:
    """A duty as people call it."""
    return Words(f"duty.{duty}")


def slot_words(duty: str, fryer: str | None) -> Words:
    """A duty on its fryer, or of the whole kitchen."""
    if fryer is None:
        return duty_words(duty)
    return Words("slot.on_fryer", {"duty": duty_words(duty), "fryer": fryer_words(fryer)})


def grouped(slots: Iterable[tuple[str, str | None]]) -> tuple[Words, ...]:
    """Duties on their fryers, each duty named once with all of its fryers."""
    fryers: dict[str, list[str]] = {}
    for duty, fryer in slots:
        fryers.setdefault(duty, []).extend([fryer] if fryer is not None else [])
    return tuple(
        slot_words(duty, ids[0] if ids else None)
        if len(ids) < 2
        else Words("slot.on_fryers", {"duty": duty_words(duty), "fryers": tuple(ids)})
        for duty, ids in fryers.items()
    )


def name_words(scene: Scene, person_id: str | None) -> str | Words:
    """A person's name; of somebody who is not known any more, that."""
    person = scene.kitchen.person(person_id) if person_id is not None else None
    return person.name if person is not None else Words("person.gone")
