"""The running Telegram door: updates in, messages out, and one wake-up job for whatever falls due."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any

from apscheduler.schedulers.asyncio import AsyncIOScheduler  # type: ignore[import-untyped]
from apscheduler.triggers.date import DateTrigger  # type: ignore[import-untyped]
from apscheduler.triggers.interval import IntervalTrigger  # type: ignore[import-untyped]
from telegram import Bot
from telegram.error import BadRequest, Conflict, EndPointNotFound, InvalidToken

from bot.channels.telegram import wire
from bot.channels.telegram.acting import Attendant
from bot.channels.telegram.addresses import AddressBook
from bot.channels.telegram.commands import Command, load_commands
from bot.channels.telegram.control import Controls
from bot.channels.telegram.deeplinks import new_secret
from bot.channels.telegram.errands import Errands
from bot.channels.telegram.health import WRITE_EVERY, Health
from bot.channels.telegram.lanes import Lanes
from bot.channels.telegram.line import Jitter, Line, Patience, Sleep, cancel_all
from bot.channels.telegram.logs import happened, went_wrong
from bot.channels.telegram.menus import Menus
from bot.channels.telegram.notices import Notices
from bot.channels.telegram.outbox import Outbox
from bot.channels.telegram.polling import Polling
from bot.channels.telegram.voice import TEXT_ONLY, Sound, Speech, VoiceNotes
from bot.channels.telegram.webhook import CONNECTIONS, Plan, Webhook
from bot.core.records import Outgoing

CATCH_UP_SECONDS = 10.0
"""How long the messages that came while nobody was here may take to be read, before the first tick."""

CLOSING_SECONDS = 2.0
"""Grace for calls under way at the end; the whole stop is to take less than five seconds."""

BETWEEN_TICKS = timedelta(seconds=1)
AFTER_A_FAULT = timedelta(seconds=15)
"""Pause after a tick, and after one that failed, so that no fault of ours keeps the machine busy."""

WRONG_TOKEN = (
    "the server does not accept the token in VATSIDE_TELEGRAM_TOKEN; "
    "get a valid one, and check VATSIDE_TELEGRAM_BASE_URL if it is set"
)
SECOND_POLLER = (
    "another program is receiving this bot's messages with the same token; stop it, then start this one again"
)
NO_WEBHOOK = "the server refuses the address in VATSIDE_WEBHOOK_URL; it must be https, with a certificate, from outside"


@dataclass(frozen=True, slots=True)
class Ending:
    """How the door came to close: the process's exit status, and a line for whoever runs it."""

    status: int
    line: str | None = None


class _RefusedError(Exception):
    """It can't be opened as it was asked for; the message is for whoever runs it."""


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
        webhook: Plan | None = None,
        notices: Notices | None = None,
        controls: Controls | None = None,
        secret: Callable[[], str] = new_secret,
        sound: Sound = TEXT_ONLY,
    ) -> None:
        """``secret`` makes what a link that lets somebody in carries: 128 random bits or more, URL-safe."""
        self._book = book
        self._bot = bot
        self._clock = clock
        self._sleep = sleep
        self._patience = patience
        self._plan = webhook
        self._notices = notices
        self._controls = controls
        self._commands: Mapping[str, Command] = load_commands()
        self.health = Health(clock, "polling" if webhook is None else "webhook", len(book.helpers))
        self._line = Line(bot, patience, sleep, jitter, self._retrying)
        endless = Patience(patience.first, patience.longest, tries=float("inf"))
        self._listening = Line(bot, endless, sleep, jitter, self._retrying)
        self._token_lost = asyncio.Event()
        self._errands = Errands(self._token_lost.set)
        self.outbox = Outbox(self._line, book, clock, self._token_lost.set, self.health.counters)
        self.health.waiting = lambda: self.outbox.waiting
        self.scheduler = AsyncIOScheduler(timezone=UTC)
        self._lanes = Lanes()
        self.attendant = Attendant(
            book, self._line, self.outbox, self._errands, self.health, self._commands, clock, sleep
        )
        self._mute = sound.mute
        self.attendant.voice = VoiceNotes(self._line, sound.open_ear)
        self.outbox.speech = Speech(self._line, self._errands, sound.voice, clock)
        self._menus = Menus(bot, self._line, book, self._commands)
        self.attendant.menus = self._menus
        for helper in book.helpers:
            helper.links.source = secret
            helper.voices = self.outbox.speech.languages
        self._server: Webhook | None = None

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
        if isinstance(error, _RefusedError):
            return Ending(2, str(error))
        if isinstance(error, Conflict):
            return Ending(1, SECOND_POLLER)
        went_wrong("door_failed", error)
        return Ending(1, f"the Telegram door failed ({type(error).__name__}); see the log, then start it again")

    async def _work(self) -> None:
        await self._listening.call(self._bot.initialize)
        self.attendant.me = wire.Me(self._bot.id, self._bot.bot.username or "")
        self.health.contact()
        polling = Polling(
            self._bot,
            self._listening,
            self._lanes,
            self.attendant.lane,
            self.attendant.take,
            self._sleep,
            self._patience.longest,
        )
        if self._plan is None:
            await self._listening.call(lambda: self._bot.delete_webhook(drop_pending_updates=False))
        happened("open", kitchens=len(self._book.helpers), mode=self.health.mode)
        for helper in self._book.helpers:
            self.outbox.post(helper, helper.undelivered())
        self.outbox.bot_name = self.attendant.me.username
        self._errands.run(self._menus.open())
        self._errands.run(self.attendant.voice.open())
        if self._mute is not None:
            happened("not_speaking", why=self._mute)
        self.scheduler.start()
        self._watch()
        if self._plan is not None:
            await self._open_webhook(self._plan)
        else:
            try:
                async with asyncio.timeout(CATCH_UP_SECONDS):
                    await polling.catch_up()
            except TimeoutError:
                happened("catch_up_cut_short")
        await self._tick()
        if self._plan is not None:
            await asyncio.Event().wait()
        while True:
            await polling.receive()
            self.health.contact()
            self._arm()

    async def _open_webhook(self, plan: Plan) -> None:
        self._server = Webhook(plan, self._brought, self.health.report)
        try:
            self._server.open()
        except OSError as error:
            raise _RefusedError(
                f"VATSIDE_WEBHOOK_PORT: port {plan.port} can't be listened on ({error.strerror}); choose another"
            ) from error
        try:
            await self._listening.call(
                lambda: self._bot.set_webhook(
                    plan.url,
                    secret_token=plan.secret,
                    allowed_updates=list(wire.KINDS),
                    max_connections=CONNECTIONS,
                    drop_pending_updates=False,
                )
            )
        except BadRequest as error:
            raise _RefusedError(NO_WEBHOOK) from error

    async def _brought(self, raw: object) -> None:
        """Take an update that the server brought. Raises ``StoreError`` where it has to be brought again."""
        await self._lanes.add(self.attendant.lane(raw), partial(self.attendant.take_once, raw))
        self._arm()

    def _watch(self) -> None:
        """Look after the health files and what the operator wants, now and again."""
        self.health.started_at = self._clock()
        if self._controls is None:
            return
        files = self._controls.health_files
        self.health.write(files)
        # Coroutines, since the scheduler would run plain functions in threads.
        self.scheduler.add_job(self._write_health, IntervalTrigger(seconds=WRITE_EVERY.total_seconds()), [files])
        self.scheduler.add_job(self._obey, IntervalTrigger(seconds=1), [self._controls], max_instances=1)

    async def _write_health(self, files: Sequence[Path]) -> None:
        self.health.write(files)

    async def _obey(self, controls: Controls) -> None:
        if controls.obey(self.outbox.post, self.health.report, self._clock()):
            self._arm()

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
        if self._notices is not None:
            self._notices.send(self._line, self._errands, now)
        self._arm(not_before=now + pause)

    def _arm(self, not_before: datetime | None = None) -> None:
        """Put the one wake-up job where the first helper wants it."""
        now = self._clock()
        wanted = [at for helper in self._book.helpers if (at := helper.wake_at(now)) is not None]
        if self._notices is not None and (at := self._notices.next_at(now)) is not None:
            wanted.append(at)
        if not wanted:
            if self.scheduler.get_job("wake") is not None:
                self.scheduler.remove_job("wake")
            return
        at = min(wanted) if not_before is None else max(min(wanted), not_before)
        # The job that is just running counts as an instance while it sets its successor.
        self.scheduler.add_job(
            self._tick, DateTrigger(at), id="wake", replace_existing=True, misfire_grace_time=None, max_instances=3
        )

    def _retrying(self) -> None:
        self.health.counters.retries += 1

    async def _close(self, tasks: list[asyncio.Task[Any]]) -> None:
        if self._server is not None:
            await self._server.close()
        await cancel_all(tasks)
        self.attendant.voice.close()
        await self._lanes.close()
        if self.scheduler.running:
            self.scheduler.shutdown(wait=False)
        await self._line.close(CLOSING_SECONDS)
        await self._errands.close()
        await self.outbox.close()
        await self._bot.shutdown()
        if self._controls is not None:
            self._controls.close()
