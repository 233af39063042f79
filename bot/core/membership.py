"""Who came, who went and in which role, as the history has it; the kitchen file's people are the ground it lies on.

What was said in chat lies over the kitchen file as long as the file says what it said then: an edit of the file is
newer. ``bot.core.records`` says how the frozen types may change.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from msgspec import Struct, field

from bot.core.kitchen import Role
from intents.types import Language

NOBODY = 0
"""Stands for the number of a phone that was erased from the records."""

KEEP_ENDED = timedelta(days=7)
"""How long a link that has ended is told so; later it is refused like one that never was."""


class PersonInvited(Struct, frozen=True, tag="person_invited"):
    """A link was made that lets one person in, once, until ``expires``. Only its seal is kept, never the link.

    ``person`` is whose link it is, where it is for somebody the kitchen knows; ``by`` is None for one that was made
    at the command line.
    """

    seal: str
    role: Role
    expires: datetime
    by: str | None = None
    person: str | None = None


class PersonJoined(Struct, frozen=True, tag="person_joined"):
    """A person came in by the link of that seal; ``phone`` is their number in the channel."""

    person: str
    seal: str
    name: str
    role: Role
    language: Language
    under_16: bool
    phone: int
    instead_of: int | None = None
    """The number that the kitchen file gave then."""


class PhoneLost(Struct, frozen=True, tag="phone_lost"):
    """From now on a person's old phone is a stranger's."""

    person: str
    by: str | None = None
    instead_of: int | None = None


class PersonLeft(Struct, frozen=True, tag="person_left"):
    """A person is no longer of this kitchen: they left (``by`` is themselves), or were taken out."""

    person: str
    by: str


class RoleChanged(Struct, frozen=True, tag="role_changed"):
    """A person has another role."""

    person: str
    role: Role
    by: str
    instead_of: Role | None = None


class AgeSet(Struct, frozen=True, tag="age_set"):
    """A manager says whether a person is under 16."""

    person: str
    under_16: bool
    by: str
    instead_of: bool | None = None


class CrewChatSet(Struct, frozen=True, tag="crew_chat_set"):
    """The crew's chat is this group."""

    chat: int
    by: str
    instead_of: int | None = None


MembershipChange = PersonInvited | PersonJoined | PhoneLost | PersonLeft | RoleChanged | AgeSet | CrewChatSet


class Invite(Struct):
    """A link that was made, and whether somebody came in by it."""

    role: Role
    expires: datetime
    by: str | None = None
    person: str | None = None
    used: bool = False


class Joined(Struct, frozen=True):
    """A person whom no kitchen file need know."""

    name: str
    role: Role
    language: Language
    under_16: bool


class Phone(Struct, frozen=True):
    """A person's number; None where it was lost. ``instead_of`` is what the kitchen file said then."""

    number: int | None
    instead_of: int | None


class RoleHeld(Struct, frozen=True):
    """A role given in chat, in place of the kitchen file's."""

    role: Role
    instead_of: Role | None


class Age(Struct, frozen=True):
    """Whether a person is under 16, in place of the kitchen file's word."""

    under_16: bool
    instead_of: bool | None


class CrewChat(Struct, frozen=True):
    """The crew's group, in place of the kitchen file's."""

    chat: int
    instead_of: int | None


class Membership(Struct):
    """The fold of these changes. ``changed`` counts those after which the roster is another one."""

    changed: int = 0
    invites: dict[str, Invite] = field(default_factory=dict)
    joined: dict[str, Joined] = field(default_factory=dict)
    phones: dict[str, Phone] = field(default_factory=dict)
    roles: dict[str, RoleHeld] = field(default_factory=dict)
    ages: dict[str, Age] = field(default_factory=dict)
    left: dict[str, datetime] = field(default_factory=dict)
    """Whoever went, and when; no id is ever given to another person."""
    crew: CrewChat | None = None

    def take(self, change: MembershipChange, at: datetime) -> None:
        """Take one change in."""
        if isinstance(change, PersonInvited):
            self._forget_old(at)
            if change.person is not None:
                self._withdraw(change.person)
            self.invites[change.seal] = Invite(change.role, change.expires, change.by, change.person)
            return
        self.changed += 1
        match change:
            case PersonJoined():
                self._join(change, at)
            case PhoneLost(person=person):
                self.phones[person] = Phone(None, change.instead_of)
            case PersonLeft(person=person):
                self._withdraw(person)
                for known in (self.joined, self.phones, self.roles, self.ages):
                    known.pop(person, None)
                self.left[person] = at
            case RoleChanged(person=person):
                self.roles[person] = RoleHeld(change.role, change.instead_of)
            case AgeSet(person=person):
                self.ages[person] = Age(change.under_16, change.instead_of)
            case CrewChatSet():
                self.crew = CrewChat(change.chat, change.instead_of)

    def _join(self, change: PersonJoined, at: datetime) -> None:
        invite = self.invites.get(change.seal)
        if invite is not None:
            invite.used = True
        if change.phone == NOBODY:
            # They were let go of since; nobody stands behind the id any more.
            self.left[change.person] = at
            return
        self.left.pop(change.person, None)
        self.joined[change.person] = Joined(change.name, change.role, change.language, change.under_16)
        self.phones[change.person] = Phone(change.phone, change.instead_of)

    def _withdraw(self, person: str) -> None:
        self.invites = {seal: i for seal, i in self.invites.items() if i.person != person or i.used}

    def _forget_old(self, at: datetime) -> None:
        self.invites = {seal: i for seal, i in self.invites.items() if at - i.expires < KEEP_ENDED}
