"""What has to be said, chat by chat, in order, and marked as delivered only after the server's OK."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import datetime

from telegram.error import BadRequest, ChatMigrated, Forbidden, InvalidToken, TelegramError

from bot.channels.port import Helper
from bot.channels.telegram.addresses import AddressBook
from bot.channels.telegram.line import Line, LineClosedError, cancel_all
from bot.channels.telegram.logs import happened, went_wrong
from bot.channels.telegram.out import EmptyMessageError, Ref, deliver, parse_ref
from bot.core.records import Outgoing

AWAITED = ("alert", "reply")
"""Kinds that somebody is waiting for: after an outage they don't queue behind what was merely scheduled."""


@dataclass(frozen=True, order=True, slots=True)
class _Letter:
    scheduled: bool
    place: int
    helper: Helper = field(compare=False)
    out: Outgoing = field(compare=False)


class Outbox:
    """One queue and one worker for every chat, so that a chat that is slow or gone holds up no other."""

    def __init__(
        self, line: Line, book: AddressBook, clock: Callable[[], datetime], token_lost: Callable[[], None]
    ) -> None:
        """``token_lost`` is called when the server no longer accepts the bot's token."""
        self._line = line
        self._book = book
        self._clock = clock
        self._token_lost = token_lost
        self._posted = 0
        self._queues: dict[int, asyncio.PriorityQueue[_Letter]] = {}
        self._workers: list[asyncio.Task[None]] = []

    def post(self, helper: Helper, messages: Iterable[Outgoing]) -> None:
        """Take messages to be sent, each to its chat; one whose chat isn't known is given up at once."""
        for out in messages:
            chat = self._book.chat_id(helper, out.to)
            if chat is None:
                self._give_up(helper, out, "no_chat")
                continue
            self._posted += 1
            scheduled = out.kind not in AWAITED or out.edit
            self._queue(chat).put_nowait(_Letter(scheduled, self._posted, helper, out))

    async def settled(self) -> None:
        """Wait until everything posted so far was delivered or given up."""
        for queue in tuple(self._queues.values()):
            await queue.join()

    async def close(self) -> None:
        """Stop the workers; what they had not sent is still the helper's to keep. Close the line first."""
        await cancel_all(self._workers)

    def _queue(self, chat: int) -> asyncio.PriorityQueue[_Letter]:
        if chat not in self._queues:
            self._queues[chat] = asyncio.PriorityQueue()
            self._workers.append(asyncio.create_task(self._work(self._queues[chat])))
        return self._queues[chat]

    async def _work(self, queue: asyncio.PriorityQueue[_Letter]) -> None:
        while True:
            letter = await queue.get()
            try:
                await self._send(letter.helper, letter.out)
            except LineClosedError:
                return
            except InvalidToken:
                self._token_lost()
                return
            except Exception as error:  # whatever is wrong with one message, the next one must still go out
                went_wrong("send_failed", error, kind=letter.out.kind)
                self._give_up(letter.helper, letter.out, "error")
            finally:
                queue.task_done()

    async def _send(self, helper: Helper, out: Outgoing) -> None:
        chat = self._book.chat_id(helper, out.to)
        if chat is None:
            self._give_up(helper, out, "no_chat")
            return
        shown = parse_ref(helper.ref(out.to, out.key)) if out.key is not None else None
        if shown is not None and shown.chat != chat:
            shown = None
        try:
            ref = await self._deliver(chat, helper, out, shown)
        except ChatMigrated as moved:
            if not self._book.move(chat, moved.new_chat_id):
                self._give_up(helper, out, "moved")
                return
            happened("crew_chat_moved", kitchen_file_needs_crew_chat=moved.new_chat_id)
            await self._send(helper, out)
        except Forbidden:
            self._give_up(helper, out, "blocked")
        except EmptyMessageError:
            self._give_up(helper, out, "empty")
        except BadRequest as error:
            self._give_up(helper, out, "no_chat" if "chat not found" in error.message.lower() else "refused")
        except InvalidToken:
            raise
        except TelegramError:
            self._give_up(helper, out, "server_fault")
        else:
            await self._sent(helper, out, ref, shown)

    async def _deliver(self, chat: int, helper: Helper, out: Outgoing, shown: Ref | None) -> Ref:
        pictures = self._pictures(helper, out)
        try:
            return await deliver(self._line, chat, out, pictures, shown)
        except BadRequest:
            if not pictures or not out.text.strip():
                raise
            # The words are worth more than the picture, and it may be the picture that was refused.
            happened("picture_left_out", kind=out.kind)
            return await deliver(self._line, chat, out, [], shown)

    def _pictures(self, helper: Helper, out: Outgoing) -> list[bytes]:
        try:
            made = [helper.file(wanted, out.to) for wanted in out.files]
        except Exception as error:  # the words go out without the picture
            went_wrong("picture_failed", error, kind=out.kind)
            return []
        return [picture for picture in made if picture is not None]

    async def _sent(self, helper: Helper, out: Outgoing, ref: Ref, replaced: Ref | None) -> None:
        try:
            helper.delivered(out.number, str(ref), self._clock())
        except Exception as error:  # it was sent; at the worst it is sent once more after a restart
            went_wrong("delivery_unrecorded", error, kind=out.kind)
        happened("sent", kind=out.kind, edit=int(ref == replaced))
        if replaced is None or replaced == ref:
            return
        try:
            await self._line.take_buttons(replaced.chat, replaced.message)
        except (InvalidToken, LineClosedError):
            raise
        except Exception as error:  # mostly: gone, or without buttons already; the new message stands
            happened("old_buttons_stay", error=type(error).__name__)

    def _give_up(self, helper: Helper, out: Outgoing, why: str) -> None:
        happened("given_up", kind=out.kind, why=why)
        try:
            helper.failed(out.number, why, self._clock())
        except Exception as error:  # it stays undelivered in the records and is tried again after a restart
            went_wrong("failure_unrecorded", error, kind=out.kind)
