"""The people of a kitchen now: those of its file with those who joined, left, or changed since. Merged here alone."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from msgspec.structs import replace

from bot.core.kitchen import Kitchen, Person, Role
from bot.core.membership import Membership
from bot.core.messages import CREW

LONGEST_NAME = 40
"""Letters of a name: it stands in buttons and lists on a phone."""

LONGEST_ID = 10
"""Letters of an id made from a name, before a number that tells two apart; buttons carry ids of up to 12."""

ROLES: tuple[Role, ...] = ("cook", "lead", "manager", "trainer")

_BETWEEN = " '’-."
"""Signs that a name may have besides letters."""

_ADDRESS = re.compile(r"\.\w")
_MEMO = "roster"


@dataclass(frozen=True, slots=True)
class _Merged:
    ground: Kitchen
    changed: int
    kitchen: Kitchen


def as_of(file: Kitchen, membership: Membership, memo: dict[Any, Any] | None = None) -> Kitchen:
    """The kitchen with the people and the crew chat that it has now.

    The same value as long as nothing changes, where there is a ``memo`` to keep it in.
    """
    if not membership.changed:
        return file
    known: _Merged | None = memo.get(_MEMO) if memo is not None else None
    if known is not None and known.ground is file and known.changed == membership.changed:
        return known.kitchen
    merged = replace(file, people=tuple(_people(file, membership)), crew_chat=_crew_chat(file, membership))
    if memo is not None:
        memo[_MEMO] = _Merged(file, membership.changed, merged)
    return merged


def _people(file: Kitchen, membership: Membership) -> Iterable[Person]:
    for person in file.people:
        if person.id not in membership.left:
            yield _as_now(person, membership)
    named = {person.id for person in file.people}
    for person_id, joined in membership.joined.items():
        if person_id in named:
            continue
        person = Person(person_id, joined.name, joined.role, joined.language, joined.under_16)
        yield _as_now(person, membership)


def _as_now(person: Person, membership: Membership) -> Person:
    """What was said in chat counts while the file says what it said then."""
    phone, role = membership.phones.get(person.id), membership.roles.get(person.id)
    age = membership.ages.get(person.id)
    changes: dict[str, Any] = {}
    if phone is not None and phone.instead_of == person.telegram:
        changes["telegram"] = phone.number
    if role is not None and role.instead_of == person.role:
        changes["role"] = role.role
    if age is not None and age.instead_of == person.under_16:
        changes["under_16"] = age.under_16
    return replace(person, **changes) if changes else person


def _crew_chat(file: Kitchen, membership: Membership) -> int | None:
    crew = membership.crew
    return crew.chat if crew is not None and crew.instead_of == file.crew_chat else file.crew_chat


def as_filed(filed: Kitchen, membership: Membership, person: Person) -> Person:
    """A person as they would be without what was said in chat since: what such a word then stands in place of."""
    joined = membership.joined.get(person.id)
    if joined is None:
        return filed.person(person.id) or person
    new = Person(person.id, joined.name, joined.role, joined.language, joined.under_16)
    return filed.person(person.id) or new


def is_last_manager(kitchen: Kitchen, person: Person) -> bool:
    """Whether nobody would manage the kitchen from a phone any more without this person."""
    if person.role != "manager":
        return False
    others = [p for p in kitchen.with_role("manager") if p.id != person.id]
    return not any(p.telegram is not None for p in others) if person.telegram is not None else not others


def clean_name(said: str) -> str | None:
    """A name as it may stand in messages and records; None where it is no name.

    Letters of any script, spaces, apostrophes, hyphens, and full stops that end a word: no line ends, no marks that
    turn the text around, no addresses.
    """
    name = " ".join(unicodedata.normalize("NFC", said).split())
    if not name or len(name) > LONGEST_NAME or not name[0].isalpha() or _ADDRESS.search(name):
        return None
    return name if all(sign in _BETWEEN or unicodedata.category(sign)[0] in "LM" for sign in name) else None


def sounds_like(name: str, other: str) -> bool:
    """Whether two names would be taken for one: case, accents and signs between the letters don't matter."""
    return _bare(name) == _bare(other)


def _bare(name: str) -> str:
    return "".join(sign for sign in unicodedata.normalize("NFKD", name).casefold() if sign.isalpha())


def new_id(name: str, kitchen: Kitchen, membership: Membership) -> str:
    """An id for somebody who joins, that nobody has or ever had here."""
    return slug(name, {p.id for p in kitchen.people} | set(membership.joined) | set(membership.left))


def slug(name: str, taken: set[str]) -> str:
    """An id made from a name, unlike those that are taken."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    base = re.sub(r"[^a-z0-9]", "", plain)[:LONGEST_ID] or "person"
    number = 1
    found = base
    while found in taken or found == CREW:
        number += 1
        found = f"{base[: LONGEST_ID + 2 - len(str(number))]}{number}"
    return found
