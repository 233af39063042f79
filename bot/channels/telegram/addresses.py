"""Who is who: numbers on the wire to people and chats of kitchens, and back."""

from __future__ import annotations

import hashlib
from base64 import urlsafe_b64encode
from collections.abc import Sequence
from dataclasses import dataclass
from operator import attrgetter, is_

from bot.channels.port import Helper
from bot.core.kitchen import Kitchen
from bot.core.messages import CREW

_KITCHEN = attrgetter("kitchen")

TAG_LENGTH = 3
"""Characters that name a kitchen on the buttons of somebody who is in several; 64 ** 3 tags."""


@dataclass(frozen=True, slots=True)
class Place:
    """A person of one kitchen, speaking in one of its chats."""

    helper: Helper
    sender: str
    chat: str


class SharedAddressError(ValueError):
    """Two kitchens claim the same group, or can't be told apart on a button."""


class AddressBook:
    """The people and crew chats of all the kitchens behind one door.

    People come and go while it runs: whatever is asked is answered from the kitchens as they are now.
    """

    def __init__(self, helpers: Sequence[Helper]) -> None:
        """Raises ``SharedAddressError`` where two kitchens have the same crew chat, or one person and one tag."""
        self._helpers = tuple(helpers)
        self._moved: dict[int, int] = {}
        self._read: tuple[Kitchen, ...] = ()
        self._people: dict[int, list[tuple[Helper, str]]] = {}
        self._crews: dict[int, Helper] = {}
        crews: dict[int, Helper] = {}
        for helper in helpers:
            crew = helper.kitchen.crew_chat
            if crew is not None and (other := crews.setdefault(crew, helper)) is not helper:
                raise SharedAddressError(
                    f"{other.kitchen.name} and {helper.kitchen.name} have the same crew_chat; "
                    "give each kitchen a group of its own"
                )
        self._look()
        for theirs in self._people.values():
            tags = {tag_of(helper): helper for helper, _ in theirs}
            if len(tags) < len(theirs):
                names = " and ".join(sorted(helper.kitchen.name for helper, _ in theirs))
                raise SharedAddressError(f"{names} share a person and look alike on a button; change one's name")

    @property
    def helpers(self) -> tuple[Helper, ...]:
        """All the helpers, in the order given."""
        return self._helpers

    @property
    def kitchens(self) -> tuple[Kitchen, ...]:
        """The kitchens of all the helpers as they are now; each the same value as long as it is the same."""
        self._look()
        return self._read

    def place(self, user: int, chat: int, *, private: bool) -> Place | None:
        """Where somebody speaks: their own private chat, or the crew chat of a kitchen of theirs; None elsewhere.

        In the private chat of somebody of several kitchens it is the first of them.
        """
        if private:
            theirs = self.private_places(user) if user == chat else ()
            return theirs[0] if theirs else None
        self._look()
        helper = self._crews.get(chat)
        person = next((person for h, person in self._people.get(user, ()) if h is helper), None)
        return Place(helper, person, CREW) if helper is not None and person is not None else None

    def private_places(self, user: int) -> tuple[Place, ...]:
        """The places that share somebody's private chat: one for each kitchen of theirs, in the order given."""
        self._look()
        return tuple(Place(helper, person, person) for helper, person in self._people.get(user, ()))

    def is_shared(self, helper: Helper, to: str) -> bool:
        """Whether a chat of a kitchen is the private chat of somebody who is in other kitchens too."""
        person = None if to == CREW else helper.kitchen.person(to)
        return person is not None and person.telegram is not None and len(self.private_places(person.telegram)) > 1

    def chat_id(self, helper: Helper, to: str) -> int | None:
        """The wire's number of one of a kitchen's chats, or None where it isn't known."""
        if to == CREW:
            chat = helper.kitchen.crew_chat
            return None if chat is None else self._moved.get(chat, chat)
        person = helper.kitchen.person(to)
        return None if person is None else person.telegram

    def move(self, old: int, new: int) -> Helper | None:
        """A group became a supergroup and got a new number; gives the helper for whose crew chat that was news."""
        self._look()
        helper = self._crews.get(old)
        if helper is None or new == old or self._crews.get(new) is not None:
            return None
        self._crews[new] = helper
        if helper.kitchen.crew_chat is not None:
            self._moved[helper.kitchen.crew_chat] = new
        return helper

    def _look(self) -> None:
        """Read the kitchens again where one of them has changed."""
        # Done for every update, for all kitchens behind the door: hence in as few steps as can be.
        kitchens = tuple(map(_KITCHEN, self._helpers))
        if same(kitchens, self._read):
            return
        self._read = kitchens
        self._people = {}
        self._crews = {}
        for helper, kitchen in zip(self._helpers, kitchens, strict=True):
            for person in kitchen.people:
                if person.telegram is not None:
                    self._people.setdefault(person.telegram, []).append((helper, person.id))
            for chat in (kitchen.crew_chat, self._moved.get(kitchen.crew_chat or 0)):
                if chat is not None:
                    self._crews.setdefault(chat, helper)


def same(kitchens: Sequence[Kitchen], before: Sequence[Kitchen]) -> bool:
    """Whether these are the very same values as before."""
    return len(kitchens) == len(before) and all(map(is_, kitchens, before))


def tag_of(helper: Helper) -> str:
    """What names a kitchen on a button: always the same three characters for the same name."""
    digest = hashlib.sha256(helper.kitchen.name.encode()).digest()
    return urlsafe_b64encode(digest).decode()[:TAG_LENGTH]
