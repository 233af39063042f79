"""The running Telegram door: updates in, messages out, and one wake-up job for whatever falls due.

The library's own polling confirms updates to the server before anybody has read them. Here an update is confirmed
only after the helper has it on the disk, so a crash in between loses nothing; the helper knows what it has seen.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Coroutine, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from apscheduler.schedulers.asyncio import AsyncIOScheduler  # type: ignore[import-untyped]
from apscheduler.triggers.date import DateTrigger  # type: ignore[import-untyped]
from telegram import Bot, BotCommand
from telegram.error import Conflict, EndPointNotFound, InvalidToken, TelegramError

from bot.channels.telegram import wire
from bot.channels.telegram.addresses import AddressBook
from bot.channels.telegram.commands import Command, load_commands
from bot.channels.telegram.line import Jitter, Line, LineClosedError, Patience, Sleep, cancel_all
from bot.channels.telegram.logs import happened, went_wrong
from bot.channels.telegram.outbox import Outbox
from bot.channels.telegram.strangers import Doorkeeper
from bot.core.records import Outgoing
from bot.store import StoreError
from intents.types import Language

POLL_SECONDS = 30
"""How long the server may hold a request for updates; it bounds how late a tick can be after the machine slept."""

CATCH_UP_SECONDS = 10.0
"""How long the messages that came while nobody was here may take to be read, before the first tick."""

CLOSING_SECONDS = 2.0
"""Grace for calls under way at the end; the whole stop is to take less than five seconds."""

BETWEEN_TICKS = timedelta(seconds=1)
AFTER_A_FAULT = timedelta(seconds=15)
"""Pause after a tick, and after one that failed, so that no fault of ours keeps the machine busy."""

MOST_ERRANDS = 100
"""Small calls under way at once; beyond that, strangers get no answer."""

LANGUAGES: Mapping[str, Language] = {"": "en", "es": "es"}
"""The menu's languages: Telegram's codes, "" for everybody else, and ours."""

WRONG_TOKEN = (
    "the server does not accept the token in VATSIDE_TELEGRAM_TOKEN; "
    "get a valid one, and check VATSIDE_TELEGRAM_BASE_URL if it is set"
)
SECOND_POLLER = (
    "another program is receiving this bot's messages with the same token; stop it, then start this one again"
)


@dataclass(frozen=True, slots=True)
class Ending:
    """How the door came to close: the process's exit status, and a line for whoever runs it."""

    status: int
    line: str | None = None


class Door:
    """One bot, for one kitchen or several. Built in a running event loop and used once."""

    def __init__(
        self,
        book: AddressBook,
        bot: Bot,
        clock: Callable[[], datetime],
        *,
        patience: Patience,
        sleep: Sleep,
        jitter: Jitter,
    ) -> None:
        self._book = book
        self._bot = bot
        self._clock = clock
        self._sleep = sleep
        self._patience = patience
        self._commands: Mapping[str, Command] = load_commands()
        self._line = Line(bot, patience, sleep, jitter)
        endless = Patience(patience.first, patience.longest, tries=float("inf"))
        self._listening = Line(bot, endless, sleep, jitter)
        self._token_lost = asyncio.Event()
        self.outbox = Outbox(self._line, book, clock, self._token_lost.set)
        self.scheduler = AsyncIOScheduler(timezone=UTC)
        self._doorkeeper = Doorkeeper()
        self._errands: set[asyncio.Task[None]] = set()
        self._me = wire.Me(0, "")

    async def run(self, stop: asyncio.Event) -> Ending:
        """Serve until ``stop`` is set, or until it makes no sense to go on."""
        work = asyncio.create_task(self._work())
        signs = [asyncio.create_task(event.wait()) for event in (stop, self._token_lost)]
        try:
            await asyncio.wait([work, *signs], return_when=asyncio.FIRST_COMPLETED)
        finally:
            await self._close([work, *signs])
        if self._token_lost.is_set():
            return Ending(2, WRONG_TOKEN)
        error = None if work.cancelled() else work.exception()
        if error is None:
            happened("stopped")
            return Ending(0)
        if isinstance(error, InvalidToken | EndPointNotFound):
            return Ending(2, WRONG_TOKEN)
        if isinstance(error, Conflict):
            return Ending(1, SECOND_POLLER)
        went_wrong("door_failed", error)
        return Ending(1, f"the Telegram door failed ({type(error).__name__}); see the log, then start it again")

    async def _work(self) -> None:
        await self._listening.call(self._bot.initialize)
        await self._listening.call(lambda: self._bot.delete_webhook(drop_pending_updates=False))
        self._me = wire.Me(self._bot.id, self._bot.bot.username or "")
        happened("open", kitchens=len(self._book.helpers))
        for helper in self._book.helpers:
            self.outbox.post(helper, helper.undelivered())
        self._errand(self._set_commands())
        self.scheduler.start()
        try:
            async with asyncio.timeout(CATCH_UP_SECONDS):
                await self._catch_up()
        except TimeoutError:
            happened("catch_up_cut_short")
        await self._tick()
        offset: int | None = None
        while True:
            offset = await self._receive(offset, hold=POLL_SECONDS)
            self._arm()

    async def _catch_up(self) -> None:
        """Take everything that came while nobody was here, so that nobody is reminded of what they reported."""
        offset = await self._receive(None, hold=0)
        while offset is not None:
            offset = await self._receive(offset, hold=0)

    async def _receive(self, offset: int | None, *, hold: int) -> int | None:
        """Take one batch of updates; gives the offset that confirms them.

        After an empty batch there is nothing left to confirm, and the offset is dropped: after a quiet week the
        server starts its numbers anew, perhaps with lower ones.
        """
        asked = {"offset": offset, "timeout": hold, "allowed_updates": list(wire.KINDS)}
        batch = await self._listening.call(
            lambda: self._bot.do_api_request(
                "getUpdates",
                api_kwargs={key: value for key, value in asked.items() if value is not None},
                read_timeout=hold + 10,
            )
        )
        updates = batch if isinstance(batch, list) else []
        numbers = [number for raw in updates if (number := wire.update_id(raw)) is not None]
        for raw in updates:
            await self._take(raw)
        if updates and not numbers:
            happened("updates_unreadable", updates=len(updates))
            await self._sleep(self._patience.longest)
        return max(numbers) + 1 if numbers else None

    async def _take(self, raw: object) -> None:
        """Act on one update; while the records can't be written it is not let go of."""
        event = wire.read(raw, self._me, self._book, self._commands)
        self._answer_tap(event)
        while True:
            try:
                self._act(event)
            except StoreError as error:
                went_wrong("records_unwritable", error)
                await self._sleep(AFTER_A_FAULT.total_seconds())
            except Exception as error:  # a fault of ours; the next message must still be heard
                went_wrong("event_failed", error, event_kind=type(event).__name__)
                return
            else:
                return

    def _answer_tap(self, event: wire.Event) -> None:
        match event:
            case wire.Tap(query=query) | wire.StrangeTap(query=query):
                self._errand(self._line.answer(query, None))
            case wire.StaleTap(helper=helper, language=language, query=query):
                self._errand(self._line.answer(query, helper.text("tap.stale", language)))
            case _:
                pass

    def _act(self, event: wire.Event) -> None:
        now = self._clock()
        match event:
            case wire.Words(place, text, addressed, cause):
                out = place.helper.hear(place.sender, place.chat, text, now, cause=cause, addressed=addressed)
                self.outbox.post(place.helper, out)
            case wire.Tap(place, action, _, cause):
                out = place.helper.tap(place.sender, place.chat, action, now, cause=cause)
                self.outbox.post(place.helper, out)
            case wire.Arrival(place, what, cause):
                out = place.helper.receive(place.sender, place.chat, what, now, cause=cause)
                self.outbox.post(place.helper, out)
            case wire.Stranger(user, language):
                self._refuse(user, language, now)
            case wire.GroupMoved(old, new):
                if self._book.move(old, new):
                    happened("crew_chat_moved", kitchen_file_needs_crew_chat=new)
            case _:
                pass

    def _refuse(self, user: int, language: Language, now: datetime) -> None:
        told = self._doorkeeper.may_tell(user, now) and len(self._errands) < MOST_ERRANDS
        happened("stranger", told=int(told), turned_away=self._doorkeeper.turned_away)
        if told:
            text = self._book.helpers[0].text("stranger.refused", language)
            self._errand(self._say(user, text))

    async def _say(self, chat: int, text: str) -> None:
        await self._line.send_text(chat, text, None)

    async def _tick(self) -> None:
        """Say what has fallen due in every kitchen, then set the next wake-up."""
        now = self._clock()
        pause = BETWEEN_TICKS
        for helper in self._book.helpers:
            out: Sequence[Outgoing] = ()
            try:
                out = helper.tick(now)
            except Exception as error:  # the other kitchens, and the next tick, must still come
                went_wrong("tick_failed", error)
                pause = AFTER_A_FAULT
            self.outbox.post(helper, out)
        self._arm(not_before=now + pause)

    def _arm(self, not_before: datetime | None = None) -> None:
        """Put the one wake-up job where the first helper wants it."""
        now = self._clock()
        wanted = [at for helper in self._book.helpers if (at := helper.wake_at(now)) is not None]
        if not wanted:
            self.scheduler.remove_all_jobs()
            return
        at = min(wanted) if not_before is None else max(min(wanted), not_before)
        # The job that is just running counts as an instance while it sets its successor.
        self.scheduler.add_job(
            self._tick, DateTrigger(at), id="wake", replace_existing=True, misfire_grace_time=None, max_instances=3
        )

    async def _set_commands(self) -> None:
        for code, language in LANGUAGES.items():
            text = self._book.helpers[0].text
            menu = [
                BotCommand(command.name, text(f"command.{command.name}", language))
                for command in self._commands.values()
                if not command.hidden
            ]
            await self._line.call(
                lambda menu=menu, code=code: self._bot.set_my_commands(menu, language_code=code)  # type: ignore[misc]
            )

    def _errand(self, call: Coroutine[Any, Any, None]) -> None:
        """Carry out a small call on the side; it matters too little to hold anything up."""

        async def go() -> None:
            try:
                await call
            except LineClosedError:
                return
            except InvalidToken:
                self._token_lost.set()
            except TelegramError as error:
                happened("errand_failed", error=type(error).__name__)
            except Exception as error:
                went_wrong("errand_failed", error)

        task = asyncio.create_task(go())
        self._errands.add(task)
        task.add_done_callback(self._errands.discard)

    async def _close(self, tasks: list[asyncio.Task[Any]]) -> None:
        await cancel_all(tasks)
        if self.scheduler.running:
            self.scheduler.shutdown(wait=False)
        await self._line.close(CLOSING_SECONDS)
        await cancel_all(self._errands)
        await self.outbox.close()
        await self._bot.shutdown()
