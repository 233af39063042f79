"""From an update to what the helper does about it, and to what is said."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Mapping
from datetime import datetime, timedelta

from telegram import InlineKeyboardMarkup
from telegram.error import BadRequest, InvalidToken, TelegramError

from bot.channels.telegram import wire
from bot.channels.telegram.addresses import AddressBook
from bot.channels.telegram.around import LARGEST_PHOTO, Around, look_around
from bot.channels.telegram.commands import GREETING, Command
from bot.channels.telegram.errands import Errands
from bot.channels.telegram.health import Health
from bot.channels.telegram.joining import Reception
from bot.channels.telegram.kitchens import Kitchens, language_of, said_in
from bot.channels.telegram.line import Line, Sleep
from bot.channels.telegram.logs import happened, went_wrong
from bot.channels.telegram.menus import Menus
from bot.channels.telegram.out import Ref
from bot.channels.telegram.outbox import Outbox
from bot.channels.telegram.pace import Pace
from bot.channels.telegram.strangers import Doorkeeper
from bot.channels.telegram.voice import VoiceNotes
from bot.store import StoreError
from intents.types import Language

AFTER_A_FAULT = timedelta(seconds=15)
"""Pause while the records can't be written."""


class Attendant:
    """Takes updates, one at a time in each chat. Nothing that goes wrong with one of them stops the next."""

    def __init__(
        self,
        book: AddressBook,
        line: Line,
        outbox: Outbox,
        errands: Errands,
        health: Health,
        commands: Mapping[str, Command],
        clock: Callable[[], datetime],
        sleep: Sleep,
    ) -> None:
        self._book = book
        self._line = line
        self._outbox = outbox
        self._errands = errands
        self._health = health
        self._commands = commands
        self._clock = clock
        self._sleep = sleep
        self._kitchens = Kitchens(book)
        self._pace = Pace()
        self._slow: Counter[int | None] = Counter()
        self._doorkeeper = Doorkeeper()
        self._reception = Reception(book, line, outbox, errands)
        self.me = wire.Me(0, "")
        self.voice = VoiceNotes(line, None)
        self.menus: Menus | None = None

    def lane(self, raw: object) -> Hashable:
        """What an update waits for: whatever came before it in its chat; a call for help in writing, for nothing."""
        event, around = wire.read(raw, self.me, self._book, self._commands), look_around(raw)
        if _is_slow(event, around):
            self._slow[around.chat] += 1
        elif self._slow[around.chat] and isinstance(event, wire.Words):
            # Only behind a picture or a voice note there is something to wait for.
            return event.cause if event.place.helper.is_urgent(event.place.sender, event.text) else around.chat
        return around.chat

    async def take(self, raw: object) -> None:
        """Act on one update; while the records can't be written it is not let go of."""
        while True:
            try:
                await self.take_once(raw)
            except StoreError as error:
                went_wrong("records_unwritable", error)
                self._health.records_writable = False
                await self._sleep(AFTER_A_FAULT.total_seconds())
            else:
                return

    async def take_once(self, raw: object) -> None:
        """Act on one update. Raises ``StoreError`` where it isn't on the disk and has to come again."""
        self._health.contact()
        event, around = wire.read(raw, self.me, self._book, self._commands), look_around(raw)
        try:
            await self._take(event, around)
            if self.menus is not None and self.menus.stale:
                self._errands.run(self.menus.sync())
        except StoreError:
            raise
        except Exception as error:  # a fault of ours; the next message must still be heard
            self._health.counters.failures += 1
            went_wrong("event_failed", error, event_kind=type(event).__name__)
        else:
            self._health.records_writable = True
            self._health.counters.updates += 1
        finally:
            if _is_slow(event, around):
                self._slow[around.chat] = max(0, self._slow[around.chat] - 1)

    async def _take(self, event: wire.Event, around: Around) -> None:
        if isinstance(event, wire.Voice):
            event = await self.voice.hear(event, around)
        now = self._clock()
        if not self._in_time(event, around, now):
            return
        self._answer_tap(event)
        if self._reception.takes(event, around.user, around.tapped, now):
            return
        event, question = self._kitchens.sort(event, around, now)
        if question is not None:
            self._errands.run(self._say(question.user, question.text(), question.keyboard()))
        if isinstance(event, wire.KitchenChosen):
            await self._chosen(event, around, now)
        else:
            await self._act(event, around)

    async def _chosen(self, event: wire.KitchenChosen, around: Around, now: datetime) -> None:
        if around.user is None:
            return
        place = event.place
        waiting = self._kitchens.chosen(around.user, place, now)
        name = {"kitchen": place.helper.kitchen.name}
        text = place.helper.text("kitchens.now", language_of(place), name)
        self._errands.run(self._show(around.user, around.tapped, text))
        for kept, its_around in waiting:
            await self._act(kept, its_around)

    async def _act(self, event: wire.Event, around: Around) -> None:
        now = self._clock()
        match event:
            case wire.Words(place, text, addressed, cause):
                before = place.helper.kitchen
                out = place.helper.hear(place.sender, place.chat, text, now, cause=cause, addressed=addressed)
                out = self._reception.farewell(place.helper, before, out, now)
                self._outbox.post(place.helper, out, thread=around.thread, urgent=_is_urgent(event))
            case wire.Spoken(place, heard, addressed, cause):
                before = place.helper.kitchen
                out = place.helper.hear_spoken(place.sender, place.chat, heard, now, cause=cause, addressed=addressed)
                out = self._reception.farewell(place.helper, before, out, now)
                self._outbox.post(place.helper, out, thread=around.thread, urgent=_is_urgent(event))
            case wire.Tap(place, action, _, cause):
                before = place.helper.kitchen
                out = place.helper.tap(place.sender, place.chat, action, now, cause=cause)
                out = self._reception.farewell(place.helper, before, out, now)
                tapped = None
                if around.chat is not None and around.tapped is not None:
                    tapped = Ref(around.chat, around.tapped)
                self._outbox.post(place.helper, out, thread=around.thread, tapped=tapped)
            case wire.Arrival(place, what, cause):
                data = await self._photo(around) if what == "photo" else None
                out = place.helper.receive(
                    place.sender, place.chat, what, self._clock(), cause=cause, data=data, replied=around.replied
                )
                self._outbox.post(place.helper, out, thread=around.thread)
            case wire.Stranger(user, language):
                self._refuse(user, language, now)
            case wire.Started(user, _, language, None):
                self._refuse(user, language, now)
            case wire.Started(place=place, cause=cause) if place is not None:
                hello = self._commands[GREETING].said("", language_of(place))
                self._outbox.post(place.helper, place.helper.hear(place.sender, place.chat, hello, now, cause=cause))
            case wire.GroupMoved(old, new):
                moved = self._book.move(old, new)
                if moved is not None:
                    happened("crew_chat_moved")
                    moved.crew_moved(new, now)
            case _:
                pass

    async def _photo(self, around: Around) -> bytes | None:
        """The bytes of a photo; None where the server won't give them."""
        if around.photo is None or around.chat is None:
            return None
        name = around.photo
        try:
            async with self._line.typing(around.chat, around.thread):
                data = await self._line.fetch(name)
        except InvalidToken:
            raise
        except (TelegramError, TimeoutError) as error:
            happened("photo_not_fetched", error=type(error).__name__)
            return None
        return data if len(data) <= LARGEST_PHOTO else None

    def _in_time(self, event: wire.Event, around: Around, now: datetime) -> bool:
        """Whether a person of a kitchen may be heard, or has said too much in the last minute.

        A call for help always is.
        """
        if around.user is None or not isinstance(event, wire.Words | wire.Spoken | wire.Tap | wire.Arrival):
            return True
        sent_at = around.sent_at if around.sent_at is not None else now.timestamp()
        verdict = self._pace.of(around.user, sent_at)
        place = event.place
        if verdict == "go":
            return True
        if _is_urgent(event):
            return True
        self._health.counters.refusals += 1
        happened("too_fast", told=int(verdict == "tell"))
        text = place.helper.text("tap.too_fast", language_of(place))
        if isinstance(event, wire.Tap):
            self._errands.run(self._line.answer(event.query, text))
        elif verdict == "tell" and around.chat is not None:
            self._errands.run(self._say(around.chat, text))
        return False

    def _answer_tap(self, event: wire.Event) -> None:
        match event:
            case (
                wire.Tap(query=query)
                | wire.StrangeTap(query=query)
                | wire.KitchenChosen(query=query)
                | wire.Answered(query=query)
            ) if query:
                self._errands.run(self._line.answer(query, None))
            case wire.StaleTap(helper=helper, language=language, query=query):
                self._errands.run(self._line.answer(query, helper.text("tap.stale", language)))
            case _:
                pass

    def _refuse(self, user: int, language: Language, now: datetime) -> None:
        self._health.counters.refusals += 1
        told = self._doorkeeper.may_tell(user, now) and not self._errands.busy
        happened("stranger", told=int(told), turned_away=self._doorkeeper.turned_away)
        if told:
            text = self._book.helpers[0].text("stranger.refused", language)
            self._errands.run(self._say(user, text))

    async def _say(self, chat: int, text: str, keyboard: InlineKeyboardMarkup | None = None) -> None:
        await self._line.send_text(chat, text, keyboard)

    async def _show(self, chat: int, message: int | None, text: str) -> None:
        """Say it in place of the question, where there was one."""
        if message is None:
            await self._say(chat, text)
            return
        try:
            await self._line.edit_text(chat, message, text, None)
        except BadRequest:
            await self._say(chat, text)


def _is_urgent(event: wire.Words | wire.Spoken | wire.Tap | wire.Arrival) -> bool:
    said = said_in(event)
    return bool(said) and event.place.helper.is_urgent(event.place.sender, said)


def _is_slow(event: wire.Event, around: Around) -> bool:
    """Whether something has to be fetched, and perhaps listened to, before it can be taken."""
    return isinstance(event, wire.Voice) or (isinstance(event, wire.Arrival) and around.photo is not None)
