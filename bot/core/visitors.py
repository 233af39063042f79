"""Somebody at the door: what they are asked before they are in. Pure; nothing of it is written down until they are."""

from __future__ import annotations

from dataclasses import dataclass, replace

from bot.core import roster
from bot.core.actions import action, parse
from bot.core.kitchen import Kitchen, Person, Role
from bot.core.messages import Button, Words
from intents.types import Language


@dataclass(frozen=True, slots=True)
class Visitor:
    """Somebody who came by a link that lets them in as ``role``, or as ``known`` where the link is that person's."""

    secret: str
    role: Role
    known: Person | None = None
    language: Language | None = None
    name: str | None = None
    under_16: bool | None = None
    is_known: bool = False

    @property
    def has_answered(self) -> bool:
        """Whether there is nothing left to ask."""
        return self.is_known if self.known is not None else self.under_16 is not None


@dataclass(frozen=True, slots=True)
class Asked:
    """What is said to a visitor, and the buttons to answer with."""

    lines: tuple[Words, ...]
    buttons: tuple[Button, ...] = ()


def question(visitor: Visitor, kitchen: Kitchen, languages: tuple[Language, ...]) -> Asked:
    """What a visitor is asked next."""
    if visitor.known is not None:
        params = {"kitchen": kitchen.name, "name": visitor.known.name}
        buttons = (Button(Words("button.thats_me"), _me("yes")), Button(Words("button.not_me"), _me("no")))
        return Asked((Words("join.known", params),), buttons)
    if visitor.language is None:
        role = Words(f"role.{visitor.role}")
        offered = tuple(Button(Words(f"language.{code}"), action("join", "lang", code)) for code in languages)
        return Asked((Words("join.hello", {"kitchen": kitchen.name, "role": role}), Words("talk.languages")), offered)
    if visitor.name is None:
        return Asked((Words("join.name"),))
    ages = (
        Button(Words("button.adult"), action("join", "young", "no")),
        Button(Words("button.young"), action("join", "young", "yes")),
    )
    return Asked((Words("join.age", {"name": visitor.name}),), ages)


def pressed(visitor: Visitor, written: str, languages: tuple[Language, ...]) -> Visitor | Asked | None:
    """The visitor after a button: further on, or sent away with a word; None for a button of another question."""
    match parse(written).args:
        case "me", "yes" if visitor.known is not None:
            return replace(visitor, is_known=True)
        case "me", "no" if visitor.known is not None:
            return Asked((Words("join.known_not", {"name": visitor.known.name}),))
        case "lang", str() as code if visitor.known is None and visitor.name is None and code in languages:
            return replace(visitor, language=code)
        case "young", ("yes" | "no") as young if visitor.name is not None:
            return replace(visitor, under_16=young == "yes")
        case _:
            return None


def said(visitor: Visitor, text: str, kitchen: Kitchen) -> Visitor | Asked:
    """The visitor after words: with a name, where one was asked for; a name that nobody has there yet."""
    if visitor.known is not None or visitor.language is None or visitor.name is not None:
        return visitor
    name = roster.clean_name(text)
    if name is None:
        return Asked((Words("join.name_odd", {"n": roster.LONGEST_NAME}),))
    if any(roster.sounds_like(name, person.name) for person in kitchen.people):
        return Asked((Words("join.name_taken", {"name": name}),))
    return replace(visitor, name=name)


def _me(answer: str) -> str:
    return action("join", "me", answer)
