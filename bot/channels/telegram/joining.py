"""The reception: who comes by a link is asked who they are, and let in; who has left gets a last word.

What a visitor says stays in memory until they are in. Whoever gives up, or is cut off by a restart, taps the link
again.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from telegram import InlineKeyboardMarkup
from telegram.error import BadRequest

from bot.channels.port import Helper
from bot.channels.telegram import wire
from bot.channels.telegram.addresses import AddressBook
from bot.channels.telegram.commands import read_command
from bot.channels.telegram.deeplinks import secret_in
from bot.channels.telegram.errands import Errands
from bot.channels.telegram.line import Line
from bot.channels.telegram.logs import happened, went_wrong
from bot.channels.telegram.out import layout
from bot.channels.telegram.outbox import Outbox
from bot.channels.telegram.strangers import Attempts
from bot.content.languages import LANGUAGES
from bot.core import visitors
from bot.core.invites import Refusal
from bot.core.kitchen import Kitchen
from bot.core.messages import Arrived, GroupOffered, Words
from bot.core.records import OutButton, Outgoing
from bot.core.visitors import Asked, Visitor
from bot.store import StoreError
from intents.types import Language

MOST_VISITORS = 200
"""Who can be at the door at once; whoever was quiet for longest taps their link again."""

PATIENCE = timedelta(hours=1)
"""After so long without an answer a visitor begins anew."""


@dataclass(slots=True)
class _Guest:
    helper: Helper
    visitor: Visitor
    guess: Language
    at: datetime

    @property
    def language(self) -> Language:
        known = self.visitor.known
        return self.visitor.language or (known.language if known is not None else self.guess)


class Reception:
    """Takes what comes from those who aren't in yet."""

    def __init__(self, book: AddressBook, line: Line, outbox: Outbox, errands: Errands) -> None:
        self._book = book
        self._line = line
        self._outbox = outbox
        self._errands = errands
        self._attempts = Attempts()
        self._guests: OrderedDict[int, _Guest] = OrderedDict()

    def takes(self, event: wire.Event, user: int | None, tapped: int | None, now: datetime) -> bool:
        """Whether an event was the reception's, and is seen to. Raises ``StoreError``."""
        match event:
            case wire.Started():
                return self._started(event, now)
            case wire.Answered():
                self._answered(event, tapped, now)
                return True
            case wire.GroupOffered():
                self._offered(event, now)
                return True
            case wire.Stranger(text=text, cause=cause):
                return self._said(event.user, text, cause, now)
            case wire.Words(place=place, text=text, cause=cause) if user is not None and place.chat == place.sender:
                if place.helper.is_urgent(place.sender, text):
                    return False
                return self._said(user, text, cause, now)
            case _:
                return False

    def farewell(self, helper: Helper, before: Kitchen, out: Sequence[Outgoing], now: datetime) -> list[Outgoing]:
        """What is left to be posted: last words to those who are out since then are said here and now."""
        if helper.kitchen is before:
            return list(out)
        gone = {
            p.id: p.telegram for p in before.people if p.telegram is not None and helper.kitchen.person(p.id) is None
        }
        rest = []
        for message in out:
            user = gone.get(message.to)
            if user is None:
                rest.append(message)
                continue
            self._say(user, message.text)
            try:
                helper.delivered(message.number, None, now)
            except StoreError as error:  # it was said; the records take it for undelivered, and nobody is there
                went_wrong("delivery_unrecorded", error, kind=message.kind)
        return rest

    # --- inside ---

    def _started(self, event: wire.Started, now: datetime) -> bool:
        secret = secret_in(event.value)
        if secret is None:
            # A sticker's code, or nothing of ours: whoever is known is greeted, a stranger refused as always.
            return False
        if not self._attempts.may_try(event.user, now):
            happened("link_tried_too_often")
            return True
        why: Refusal = "unknown"
        for helper in self._book.helpers:
            found = helper.invitation(secret, now)
            if isinstance(found, str):
                why = found if found != "unknown" else why
                continue
            here = next((p for p in self._book.private_places(event.user) if p.helper is helper), None)
            if here is not None:
                person = helper.kitchen.person(here.sender)
                name = {"name": person.name if person is not None else ""}
                self._say(event.user, helper.text("join.in_already", helper.language_of(here.sender), name))
                return True
            known = helper.kitchen.person(found.person) if found.person is not None else None
            self._meet(event, helper, Visitor(secret, found.role, known), now)
            return True
        if event.place is not None and why == "unknown":
            return False
        happened("link_refused", why=why)
        if self._attempts.may_tell(now) and not self._errands.busy:
            self._say(event.user, self._book.helpers[0].text(f"stranger.link_{why}", event.language))
        return True

    def _meet(self, event: wire.Started, helper: Helper, visitor: Visitor, now: datetime) -> None:
        guest = self._guests[event.user] = _Guest(helper, visitor, event.language, now)
        self._guests.move_to_end(event.user)
        if len(self._guests) > MOST_VISITORS:
            self._guests.popitem(last=False)
        happened("visitor")
        self._ask(event.user, guest, visitors.question(visitor, helper.kitchen, LANGUAGES), None)

    def _answered(self, event: wire.Answered, tapped: int | None, now: datetime) -> None:
        guest = self._guest(event.user, now)
        after = visitors.pressed(guest.visitor, event.action, LANGUAGES) if guest is not None else None
        if guest is None or after is None:
            happened("answer_to_nothing")
            return
        self._go_on(event.user, guest, after, event.cause, tapped, now)

    def _said(self, user: int, text: str, cause: str, now: datetime) -> bool:
        guest = self._guest(user, now)
        if guest is None or not text.strip() or read_command(text) is not None:
            return False
        self._go_on(user, guest, visitors.said(guest.visitor, text, guest.helper.kitchen), cause, None, now)
        return True

    def _go_on(
        self, user: int, guest: _Guest, after: Visitor | Asked, cause: str, tapped: int | None, now: datetime
    ) -> None:
        guest.at = now
        if isinstance(after, Asked):
            self._ask(user, guest, after, tapped)
            return
        if after.has_answered:
            self._let_in(user, guest, after, cause, now)
            return
        guest.visitor = after
        self._ask(user, guest, visitors.question(after, guest.helper.kitchen, LANGUAGES), tapped)

    def _let_in(self, user: int, guest: _Guest, visitor: Visitor, cause: str, now: datetime) -> None:
        helper, known = guest.helper, visitor.known
        found = helper.invitation(visitor.secret, now)
        if isinstance(found, str):
            # Somebody was quicker, or the link ended meanwhile.
            self._guests.pop(user, None)
            happened("link_refused", why=found)
            self._say(user, helper.text(f"stranger.link_{found}", guest.language))
            return
        arrived = Arrived(
            visitor.secret,
            user,
            known.name if known is not None else visitor.name or "",
            guest.language,
            known.under_16 if known is not None else bool(visitor.under_16),
        )
        out = helper.happens(arrived, now, cause=cause)
        self._guests.pop(user, None)
        happened("joined")
        self._outbox.post(helper, out)

    def _offered(self, event: wire.GroupOffered, now: datetime) -> None:
        theirs = self._book.private_places(event.user)
        owner = next((h for h in self._book.helpers if h.kitchen.crew_chat == event.group), None)
        if owner is not None:
            self._say(event.user, theirs[0].helper.text("crew.taken", theirs[0].helper.language_of(theirs[0].sender)))
            return
        for place in theirs:
            out = place.helper.happens(GroupOffered(place.sender, event.group), now, cause=event.cause)
            self._outbox.post(place.helper, out)

    def _guest(self, user: int, now: datetime) -> _Guest | None:
        guest = self._guests.get(user)
        if guest is not None and now - guest.at > PATIENCE:
            del self._guests[user]
            return None
        return guest

    def _ask(self, user: int, guest: _Guest, asked: Asked, tapped: int | None) -> None:
        lines = [guest.helper.text(line.id, guest.language, line.params) for line in asked.lines]
        buttons = [OutButton(self._label(guest, b.label), b.action) for b in asked.buttons]
        self._errands.run(self._speak(user, "\n".join(lines), layout(buttons), tapped))

    @staticmethod
    def _label(guest: _Guest, label: Words) -> str:
        return guest.helper.text(label.id, guest.language, label.params)

    async def _speak(self, user: int, text: str, keyboard: InlineKeyboardMarkup | None, instead_of: int | None) -> None:
        """Say something in a private chat: in place of the message whose button was pressed, where there is one."""
        if instead_of is not None:
            try:
                await self._line.edit_text(user, instead_of, text, keyboard)
            except BadRequest:
                pass  # gone, or too old: it is said anew
            else:
                return
        await self._line.send_text(user, text, keyboard)

    def _say(self, user: int, text: str) -> None:
        self._errands.run(self._speak(user, text, None, None))
