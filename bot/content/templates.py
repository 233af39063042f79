"""Texts with named placeholders: ``{who}``, or with a manner after a colon, ``{at:when}``."""

from __future__ import annotations

import re
from dataclasses import dataclass
from string import Formatter

from bot.content.fields import Fault

MANNERS = ("", "when", "the", "long", "or")
"""How a value may be put: plainly; a time as a clause ("at 9:30 pm") or as it stands after "until" and "since"
("las 9:30 p. m."); a length of time in full words ("30 minutes")."""

GIVEN = frozenset({"cool_down", "emergency_number", "service_contact"})
"""Placeholders that the kitchen itself fills, in any text."""

_NAME = re.compile(r"[a-z][a-z_0-9]*")
_SENTENCE_START = re.compile(r"[.!?…][\"»)]?\s+[¿¡\"«(]*$")


@dataclass(frozen=True, slots=True)
class Slot:
    """A place to fill; ``starts_sentence`` where its first letter is a capital whatever fills it."""

    name: str
    manner: str
    starts_sentence: bool


@dataclass(frozen=True, slots=True)
class Template:
    """A text taken apart: pieces of text, and slots between them."""

    parts: tuple[str | Slot, ...]

    @property
    def names(self) -> frozenset[str]:
        """The names of its placeholders."""
        return frozenset(part.name for part in self.parts if isinstance(part, Slot))


def template(text: str) -> Template:
    """Take a text apart. Raises ``Fault`` where a placeholder is malformed."""
    parts: list[str | Slot] = []
    try:
        pieces = list(Formatter().parse(text))
    except ValueError as error:
        raise Fault(f"the braces don't match ({error})", "write placeholders as {name}") from None
    before = ""
    for literal, name, manner, conversion in pieces:
        if literal:
            parts.append(literal)
            before = literal
        if name is None:
            continue
        if not _NAME.fullmatch(name) or conversion or manner not in MANNERS:
            written = f"{{{name}{f'!{conversion}' if conversion else ''}{f':{manner}' if manner else ''}}}"
            todo = "write {name} in small letters, or {name:when}, {name:the}, {name:long}"
            raise Fault(f"{written} is no placeholder", todo)
        parts.append(Slot(name, manner or "", _SENTENCE_START.search(before) is not None))
        before = ""
    return Template(tuple(parts))


def checked(text: str, allowed: frozenset[str]) -> str:
    """A text whose placeholders are all allowed. Raises ``Fault`` otherwise."""
    for name in sorted(template(text).names - allowed):
        raise Fault(f"unknown placeholder {{{name}}}", f"known here: {', '.join(sorted(allowed))}")
    return text
