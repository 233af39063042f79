"""Who is who: numbers on the wire to people and chats of kitchens, and back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from bot.channels.port import Helper
from bot.core.messages import CREW


@dataclass(frozen=True, slots=True)
class Place:
    """A person of one kitchen, speaking in one of its chats."""

    helper: Helper
    sender: str
    chat: str


class SharedAddressError(ValueError):
    """Two kitchens claim the same person or group, so that nobody could tell which of them is meant."""


class AddressBook:
    """The people and crew chats of all the kitchens behind one door."""

    def __init__(self, helpers: Sequence[Helper]) -> None:
        """Raises ``SharedAddressError`` where two kitchens have the same user id or the same crew chat."""
        self._helpers = tuple(helpers)
        self._people: dict[int, tuple[Helper, str]] = {}
        self._crews: dict[int, Helper] = {}
        self._moved: dict[int, int] = {}
        for helper in helpers:
            for person in helper.kitchen.people:
                if person.telegram is not None:
                    self._add_person(helper, person.id, person.telegram)
            if helper.kitchen.crew_chat is not None:
                self._add_crew(helper, helper.kitchen.crew_chat)

    @property
    def helpers(self) -> tuple[Helper, ...]:
        """All the helpers, in the order given."""
        return self._helpers

    def place(self, user: int, chat: int, *, private: bool) -> Place | None:
        """Where somebody speaks: their own private chat, or the crew chat of their own kitchen; None elsewhere."""
        known = self._people.get(user)
        if known is None:
            return None
        helper, person = known
        if private:
            return Place(helper, person, person) if user == chat else None
        return Place(helper, person, CREW) if self._crews.get(chat) is helper else None

    def chat_id(self, helper: Helper, to: str) -> int | None:
        """The wire's number of one of a kitchen's chats, or None where it isn't known."""
        if to == CREW:
            chat = helper.kitchen.crew_chat
            return None if chat is None else self._moved.get(chat, chat)
        person = helper.kitchen.person(to)
        return None if person is None else person.telegram

    def move(self, old: int, new: int) -> bool:
        """A group became a supergroup and got a new number; True where that was news about a crew chat of ours."""
        helper = self._crews.get(old)
        if helper is None or new == old or self._crews.get(new) is not None:
            return False
        self._crews[new] = helper
        if helper.kitchen.crew_chat is not None:
            self._moved[helper.kitchen.crew_chat] = new
        return True

    def _add_person(self, helper: Helper, person: str, user: int) -> None:
        if user in self._people:
            other, other_person = self._people[user]
            raise SharedAddressError(
                f'"{other_person}" of {other.kitchen.name} and "{person}" of {helper.kitchen.name} have the same '
                "telegram id; give each person to one kitchen"
            )
        self._people[user] = (helper, person)

    def _add_crew(self, helper: Helper, chat: int) -> None:
        if chat in self._crews:
            raise SharedAddressError(
                f"{self._crews[chat].kitchen.name} and {helper.kitchen.name} have the same crew_chat; "
                "give each kitchen a group of its own"
            )
        self._crews[chat] = helper
