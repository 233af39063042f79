"""What a door may ask of the helper of one kitchen. Every channel is written against this, and only this.

All calls are synchronous and quick. A call that raises has recorded nothing; one that returns has everything on
the disk already (or says in what it returns that it hasn't), so that a door may confirm the event to its wire and
then send what came back.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any, Literal, Protocol

from bot.core.invites import Refusal
from bot.core.kitchen import Kitchen
from bot.core.membership import Invite
from bot.core.messages import Coming
from bot.core.records import OutFile, Outgoing
from bot.links import Links
from bot.voice.heard import Heard
from intents.types import Language

Thing = Literal["photo", "sticker", "location", "file"]
"""What can arrive that is neither words nor a tap."""


class Helper(Protocol):
    """The helper of one kitchen.

    ``sender`` is the id of a person of the kitchen; ``chat`` is that id for their private chat, or "crew".
    ``cause`` is the channel's own name for the event: the same one twice gives nothing the second time.
    A method that records may raise ``bot.store.StoreError`` where the records can't be written.
    """

    @property
    def kitchen(self) -> Kitchen:
        """The kitchen as its file describes it."""

    voices: frozenset[Language]
    """The languages in which the door can speak; it says so here."""

    def hear(
        self,
        sender: str,
        chat: str,
        text: str,
        now: datetime,
        *,
        cause: str | None = None,
        addressed: bool = True,
    ) -> list[Outgoing]:
        """Answer words; ``addressed`` is False for talk in the crew chat that isn't plainly for the helper."""

    def hear_spoken(
        self,
        sender: str,
        chat: str,
        heard: Heard,
        now: datetime,
        *,
        cause: str | None = None,
        addressed: bool = True,
    ) -> list[Outgoing]:
        """Answer what was heard in a voice note, or say why nothing was."""

    def tap(self, sender: str, chat: str, action: str, now: datetime, *, cause: str | None = None) -> list[Outgoing]:
        """Answer a press of a button that carried ``action``."""

    def receive(
        self,
        sender: str,
        chat: str,
        what: Thing,
        now: datetime,
        *,
        cause: str | None = None,
        data: bytes | None = None,
        replied: str | None = None,
    ) -> list[Outgoing]:
        """Answer something that is neither words nor a tap.

        ``data`` are the bytes of a photo (at most 10 MB), ``replied`` the action of any button of the message that it
        answers.
        """

    def tick(self, now: datetime) -> list[Outgoing]:
        """Say whatever has fallen due by now."""

    def wake_at(self, now: datetime) -> datetime | None:
        """When the next tick is wanted; None where nothing is ahead."""

    def undelivered(self) -> list[Outgoing]:
        """What was to be said before now and has been neither delivered nor given up, oldest first."""

    def delivered(self, number: int, ref: str | None, now: datetime) -> None:
        """A message reached its chat, where the channel calls it ``ref``."""

    def failed(self, number: int, why: str, now: datetime) -> Sequence[Outgoing]:
        """A message was given up; gives what others are to be told of it."""

    def ref(self, chat: str, key: str) -> str | None:
        """The channel's name of the newest message with that key in that chat, or None."""

    def file(self, wanted: OutFile, to: str) -> bytes | None:
        """The picture (PNG) that goes with a message to one chat; None where there is none to send."""

    def language_of(self, person_id: str) -> Language:
        """The language in which a person is written to; the kitchen's, for anybody else."""

    @property
    def links(self) -> Links:
        """The secrets of links that were made; a door that can make links sets their source."""

    def invitation(self, secret: str, now: datetime) -> Invite | Refusal:
        """Whom a link would let in now, or why nobody."""

    def happens(self, event: Coming, now: datetime, *, cause: str | None = None) -> list[Outgoing]:
        """Take in what happens at the kitchen's edge. Somebody who came by a link is in only if that gives anything."""

    def crew_moved(self, chat: int, now: datetime) -> None:
        """The crew's chat goes on under another number. Raises ``StoreError``."""

    def is_urgent(self, sender: str, text: str) -> bool:
        """Whether words tell of an emergency or a dangerous act, and must be answered whatever else holds."""

    def remember(self, key: str, now: datetime) -> None:
        """Remember in the records that something was said, which the channel says for itself."""

    def remembered(self, key: str) -> datetime | None:
        """When that was last remembered, or None."""

    def text(self, words_id: str, language: Language, params: Mapping[str, Any] | None = None) -> str:
        """A text of the wording files."""

    def close(self) -> None:
        """Let go of the records."""
