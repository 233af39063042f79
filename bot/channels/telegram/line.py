"""A patient line to the server: every call is tried again for as long as it makes sense to.

A call that brought no answer may have been carried out all the same. The Bot API has no way to ask, so such a
message can come twice, which is better here than not at all.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable, Iterable
from contextlib import asynccontextmanager
from dataclasses import dataclass
from datetime import timedelta
from typing import Any, TypeVar

import httpx
from telegram import Bot, InlineKeyboardMarkup, InputFile, LinkPreviewOptions
from telegram.error import BadRequest, NetworkError, RetryAfter, TelegramError

from bot.channels.telegram.logs import happened, went_wrong

LETTING_GO = 0.5
"""Seconds."""

SHOWS_TYPING_AFTER = 1.0
TYPING_LASTS = 4.0
"""Seconds. A phone shows it for five (public Bot API documentation, sendChatAction)."""

FETCH_SECONDS = 30.0
"""For a file of at most 20 MB (the Bot API's limit) over a kitchen's weak wireless network."""

T = TypeVar("T")
Sleep = Callable[[float], Awaitable[None]]
Jitter = Callable[[], float]
"""Gives a number from 0 to 1."""


@dataclass(frozen=True, slots=True)
class Patience:
    """How long to wait between tries, in seconds, and how many faulty answers to take for one call."""

    first: float = 1.0
    longest: float = 60.0
    tries: float = 8

    def pause(self, tried: int, jitter: Jitter) -> float:
        """The pause after so many tries: doubling up to the longest, half of it by chance."""
        full = min(self.longest, self.first * 2.0 ** min(tried - 1, 30))
        return full * (0.5 + 0.5 * jitter())


class LineClosedError(Exception):
    """The door is closing; nothing more goes out."""


class Line:
    """The bot's outgoing calls.

    - The server says when to come back (429): that long, then again, without end.
    - No answer at all (the network is down, or too slow): again and again with pauses of at most
      ``Patience.longest``, until it is back; what has to be said waits.
    - Faulty answers (5xx and nonsense): ``Patience.tries`` times in all, then the error is raised.
    - Refusals (``BadRequest``, ``Forbidden``, ...) are raised at once.
    """

    def __init__(
        self, bot: Bot, patience: Patience, sleep: Sleep, jitter: Jitter, retrying: Callable[[], None] = lambda: None
    ) -> None:
        """``retrying`` is called whenever a call is to be tried again."""
        self._bot = bot
        self._retrying = retrying
        self._patience = patience
        self._sleep = sleep
        self._jitter = jitter
        self._closed = False
        self._under_way = 0
        self._idle = asyncio.Event()
        self._idle.set()

    async def send_text(
        self, chat: int, text: str, keyboard: InlineKeyboardMarkup | None, thread: int | None = None
    ) -> int:
        """Send words, into a topic of the group where ``thread`` names one; gives the message's number."""
        plain = LinkPreviewOptions(is_disabled=True)
        sent = await self.call(
            lambda: self._bot.send_message(
                chat, text, reply_markup=keyboard, link_preview_options=plain, message_thread_id=thread
            )
        )
        return sent.message_id

    async def send_photo(
        self,
        chat: int,
        picture: bytes,
        caption: str | None,
        keyboard: InlineKeyboardMarkup | None,
        thread: int | None = None,
    ) -> int:
        """Send a picture (PNG), as above; gives the message's number."""
        photo = InputFile(picture, filename="picture.png")
        sent = await self.call(
            lambda: self._bot.send_photo(chat, photo, caption=caption, reply_markup=keyboard, message_thread_id=thread)
        )
        return sent.message_id

    async def send_voice(self, chat: int, sound: bytes, thread: int | None = None) -> int:
        """Send a voice note (OGG/Opus), without another ring of the phone; gives the message's number."""
        note = InputFile(sound, filename="note.ogg")
        sent = await self.call(
            lambda: self._bot.send_voice(chat, note, disable_notification=True, message_thread_id=thread)
        )
        return sent.message_id

    async def edit_text(self, chat: int, message: int, text: str, keyboard: InlineKeyboardMarkup | None) -> None:
        """Put other words and buttons into a message."""
        plain = LinkPreviewOptions(is_disabled=True)
        await self.call(
            lambda: self._bot.edit_message_text(
                text, chat_id=chat, message_id=message, reply_markup=keyboard, link_preview_options=plain
            )
        )

    async def take_buttons(self, chat: int, message: int) -> None:
        """Take the buttons off a message."""
        await self.call(lambda: self._bot.edit_message_reply_markup(chat_id=chat, message_id=message))

    async def answer(self, query: str, text: str | None) -> None:
        """Tell a phone that its tap has arrived, with a short text over the chat or none."""
        await self.call(lambda: self._bot.answer_callback_query(query, text=text))

    async def fetch(self, name: str) -> bytes:
        """A file that somebody sent. Raises ``TimeoutError`` too, where it doesn't come."""
        async with asyncio.timeout(FETCH_SECONDS):
            file = await self.call(lambda: self._bot.get_file(name))
            return bytes(await self.call(file.download_as_bytearray))

    @asynccontextmanager
    async def typing(self, chat: int, thread: int | None = None) -> AsyncIterator[None]:
        """While this lasts, and once it has lasted a second, the chat shows that an answer is being written."""
        showing = asyncio.create_task(self._show_typing(chat, thread))
        try:
            yield
        finally:
            showing.cancel()

    async def _show_typing(self, chat: int, thread: int | None) -> None:
        await self._sleep(SHOWS_TYPING_AFTER)
        while True:
            try:
                await self._once(lambda: self._bot.send_chat_action(chat, "typing", message_thread_id=thread))
            except (TelegramError, LineClosedError):
                return
            await self._sleep(TYPING_LASTS)

    async def call(self, request: Callable[[], Awaitable[T]]) -> T:
        """Carry out one call, as patiently as the class says.

        Raises ``LineClosedError`` once the line is closed, and the server's refusals.
        """
        tried = faults = 0
        while True:
            tried += 1
            try:
                return await self._once(request)
            except RetryAfter as error:
                pause = seconds(error) + self._jitter()
                happened("told_to_wait", seconds=round(pause, 1))
            except TelegramError as error:
                if refused(error):
                    raise
                faults += answered(error)
                if faults >= self._patience.tries:
                    raise
                pause = self._patience.pause(tried, self._jitter)
                happened("call_failed", tried=tried, pause=round(pause, 1), error=type(error).__name__)
            self._retrying()
            await self._sleep(pause)

    async def close(self, grace: float) -> None:
        """Start nothing more, and give what is under way ``grace`` seconds to come to its end."""
        self._closed = True
        try:
            async with asyncio.timeout(grace):
                await self._idle.wait()
        except TimeoutError:
            happened("calls_cut_short", calls=self._under_way)

    async def _once(self, request: Callable[[], Awaitable[T]]) -> T:
        if self._closed:
            raise LineClosedError
        self._under_way += 1
        self._idle.clear()
        try:
            return await request()
        except (AttributeError, KeyError, TypeError, ValueError) as error:
            # What the library raises where an answer is well-formed, and not as documented.
            went_wrong("answer_unreadable", error)
            raise TelegramError("Invalid server response") from error
        finally:
            self._under_way -= 1
            if not self._under_way:
                self._idle.set()


async def cancel_all(tasks: Iterable[asyncio.Task[Any]]) -> None:
    """Cancel tasks and see them end, but for one that won't be cancelled wait no longer than ``LETTING_GO``."""
    ending = list(tasks)
    for task in ending:
        task.cancel()
    if ending:
        await asyncio.wait(ending, timeout=LETTING_GO)


def refused(error: TelegramError) -> bool:
    """Whether the server understood a call and said no, so that it would say no again.

    To the library a bad request is a kind of network error, and an answer that can't be read is a bare error.
    """
    return isinstance(error, BadRequest) or not (isinstance(error, NetworkError) or type(error) is TelegramError)


def answered(error: TelegramError) -> bool:
    """Whether a failed call brought an answer, if a faulty one; False where the server wasn't reached in time."""
    return not isinstance(error.__cause__, httpx.TransportError)


def seconds(error: RetryAfter) -> float:
    """How long the server told us to wait."""
    wait = error.retry_after
    return wait.total_seconds() if isinstance(wait, timedelta) else float(wait)
