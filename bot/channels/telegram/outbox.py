"""What has to be said, chat by chat, in order, and marked as delivered only after the server's OK."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import datetime

from msgspec.structs import replace
from telegram import InlineKeyboardMarkup
from telegram.error import BadRequest, ChatMigrated, Forbidden, InvalidToken, TelegramError

from bot.channels.port import Helper
from bot.channels.telegram.addresses import AddressBook, tag_of
from bot.channels.telegram.answered import Answered
from bot.channels.telegram.deeplinks import with_link
from bot.channels.telegram.health import Counters
from bot.channels.telegram.line import Line, LineClosedError, cancel_all
from bot.channels.telegram.logs import happened, went_wrong
from bot.channels.telegram.out import EmptyMessageError, Ref, deliver, parse_ref
from bot.channels.telegram.voice import Speech
from bot.core.messages import CREW
from bot.core.records import Outgoing
from bot.store import StoreError

AWAITED = ("alert", "reply")
"""Kinds that somebody is waiting for: after an outage they don't queue behind what was merely scheduled."""

URGENT, ANSWER, SCHEDULED = range(3)
"""What goes first in a chat, where one message a second is allowed; within each, the order in which it was said."""


@dataclass(frozen=True, order=True, slots=True)
class _Letter:
    rank: int
    place: int
    helper: Helper = field(compare=False)
    out: Outgoing = field(compare=False)
    thread: int | None = field(compare=False, default=None)
    """The topic of the group that it answers in."""
    instead_of: Ref | None = field(compare=False, default=None)
    """The message whose button it answers, and whose place it may take."""


@dataclass(frozen=True, slots=True)
class _InTopic:
    """The line into one topic of a group; where that is gone or closed, into the group."""

    line: Line
    thread: int

    async def send_text(self, chat: int, text: str, keyboard: InlineKeyboardMarkup | None) -> int:
        try:
            return await self.line.send_text(chat, text, keyboard, self.thread)
        except BadRequest as error:
            if not _topic_is_gone(error):
                raise
            return await self.line.send_text(chat, text, keyboard)

    async def send_photo(
        self, chat: int, picture: bytes, caption: str | None, keyboard: InlineKeyboardMarkup | None
    ) -> int:
        try:
            return await self.line.send_photo(chat, picture, caption, keyboard, self.thread)
        except BadRequest as error:
            if not _topic_is_gone(error):
                raise
            return await self.line.send_photo(chat, picture, caption, keyboard)

    async def edit_text(self, chat: int, message: int, text: str, keyboard: InlineKeyboardMarkup | None) -> None:
        await self.line.edit_text(chat, message, text, keyboard)


def _topic_is_gone(error: BadRequest) -> bool:
    """What the server says then is from memory: "message thread not found", "TOPIC_CLOSED", "TOPIC_DELETED"."""
    said = error.message.lower()
    return "thread" in said or "topic" in said


class Outbox:
    """One queue and one worker for every chat, so that a chat that is slow or gone holds up no other."""

    def __init__(
        self,
        line: Line,
        book: AddressBook,
        clock: Callable[[], datetime],
        token_lost: Callable[[], None],
        counters: Counters,
    ) -> None:
        """``token_lost`` is called when the server no longer accepts the bot's token."""
        self._line = line
        self._book = book
        self._clock = clock
        self._token_lost = token_lost
        self._counters = counters
        self._answered = Answered()
        self.bot_name = ""
        self.speech: Speech | None = None
        """What the server calls the bot; links into its chat bear it."""
        self._posted = 0
        self._queues: dict[int, asyncio.PriorityQueue[_Letter]] = {}
        self._workers: list[asyncio.Task[None]] = []

    @property
    def waiting(self) -> int:
        """How many messages wait for their turn."""
        return sum(queue.qsize() for queue in self._queues.values())

    def post(
        self,
        helper: Helper,
        messages: Iterable[Outgoing],
        *,
        thread: int | None = None,
        tapped: Ref | None = None,
        urgent: bool = False,
    ) -> None:
        """Take messages to be sent, each to its chat; one whose chat isn't known is given up at once.

        ``thread`` is the topic of the group in which they were asked for, ``tapped`` the message whose button was.
        What is ``urgent``, the answer to a call for help, waits behind nothing else that is to be said.
        """
        messages = tuple(messages)
        instead = self._answered.instead_of(tapped, messages)
        for out in messages:
            chat = self._book.chat_id(helper, out.to)
            if chat is None:
                self._give_up(helper, out, "no_chat")
                continue
            self._posted += 1
            rank = URGENT if urgent else SCHEDULED if out.kind not in AWAITED or out.edit else ANSWER
            topic = thread if out.to == CREW else None
            letter = _Letter(rank, self._posted, helper, out, topic, tapped if out is instead else None)
            self._queue(chat).put_nowait(letter)

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
                await self._send(letter)
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

    async def _send(self, letter: _Letter) -> None:
        helper, out = letter.helper, letter.out
        chat = self._book.chat_id(helper, out.to)
        if chat is None:
            self._give_up(helper, out, "no_chat")
            return
        shown = parse_ref(helper.ref(out.to, out.key)) if out.key is not None else letter.instead_of
        if shown is not None and shown.chat != chat:
            shown = None
        try:
            ref = await self._deliver(chat, letter, shown)
        except ChatMigrated as moved:
            if self._book.move(chat, moved.new_chat_id) is None:
                self._give_up(helper, out, "moved")
                return
            happened("crew_chat_moved")
            try:
                helper.crew_moved(moved.new_chat_id, self._clock())
            except StoreError as error:  # it is followed all the same, and found out again after a restart
                went_wrong("move_unrecorded", error)
            await self._send(letter)
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
            if self.speech is not None:
                self.speech.say(helper, out, ref.chat, letter.thread)
            await self._sent(helper, out, ref, shown)

    async def _deliver(self, chat: int, letter: _Letter, shown: Ref | None) -> Ref:
        helper = letter.helper
        out, squares = with_link(helper, letter.out, self.bot_name)
        pictures = [*squares, *self._pictures(helper, out)]
        sender = self._line if letter.thread is None else _InTopic(self._line, letter.thread)
        tag = None
        if self._book.is_shared(helper, out.to):
            tag = tag_of(helper)
            out = replace(out, text=f"{helper.kitchen.name}\n{out.text}")
        if letter.instead_of is not None:
            out = replace(out, edit=True)
        try:
            return await deliver(sender, chat, out, pictures, shown, tag)
        except BadRequest:
            if not pictures or not out.text.strip():
                raise
            # The words are worth more than the picture, and it may be the picture that was refused.
            happened("picture_left_out", kind=out.kind)
            return await deliver(sender, chat, out, [], shown, tag)

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
        self._counters.answers += 1
        self._answered.sent(ref, out)
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
        self._counters.failures += 1
        happened("given_up", kind=out.kind, why=why)
        try:
            self.post(helper, helper.failed(out.number, why, self._clock()))
        except Exception as error:  # it stays undelivered in the records and is tried again after a restart
            went_wrong("failure_unrecorded", error, kind=out.kind)
