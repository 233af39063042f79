"""Voice notes on Telegram: theirs are fetched and listened to, ours are made and sent beside the text.

Listening and speaking block a processor, so both are done in threads. A sound is held in memory only and let go of as
soon as it was heard; nothing of it is logged.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Protocol

from telegram.error import InvalidToken, TelegramError

from bot.channels.port import Helper
from bot.channels.telegram import wire
from bot.channels.telegram.around import Around
from bot.channels.telegram.errands import Errands
from bot.channels.telegram.line import Line, LineClosedError
from bot.channels.telegram.logs import happened, went_wrong
from bot.core.records import Outgoing
from bot.voice.bias import names_of
from bot.voice.heard import Heard
from bot.voice.speaking import SpeechError, notes
from intents.types import Language

LONGEST = 120
"""Seconds of a note that is listened to."""

LARGEST = 20_000_000
"""Bytes that the server hands out (public Bot API documentation, getFile)."""

READY_WITHIN = 30.0
"""Seconds that a note waits for the ear to be opened; a model is loaded in a few (measured: under 3)."""

NO_NEWS_AFTER = timedelta(minutes=2)
"""What could only be sent later than this is not said aloud any more."""


class Listening(Protocol):
    """What listens without holding up the event loop (``bot.voice.worker.Listener``)."""

    async def hear(self, sound: bytes, language: str, bias: Sequence[str] = ()) -> Heard: ...

    def close(self) -> None: ...


class Speaking(Protocol):
    """What speaks (``bot.voice.speaking.Voice``)."""

    @property
    def languages(self) -> frozenset[Language]: ...

    def say(self, text: str, language: Language) -> bytes: ...


class DeafError(Exception):
    """There is nothing to listen with; the text says why, for the log."""


@dataclass(frozen=True, slots=True)
class Sound:
    """What this machine can do with sound: open an ear (raises ``DeafError``; takes seconds), and speak."""

    open_ear: Callable[[], Listening] | None = None
    voice: Speaking | None = None
    mute: str | None = None
    """Why there is no voice, for the log."""


TEXT_ONLY = Sound()
"""Neither ear nor voice."""


class VoiceNotes:
    """Their voice notes."""

    def __init__(self, line: Line, open_ear: Callable[[], Listening] | None) -> None:
        self._line = line
        self._open_ear = open_ear
        self._listener: Listening | None = None
        self._opened = asyncio.Event()
        self._closed = False

    async def open(self) -> None:
        """Open the ear, in the background; whoever speaks meanwhile waits for it a little."""
        try:
            if self._open_ear is not None:
                listener = await asyncio.to_thread(self._open_ear)
                if self._closed:
                    listener.close()
                else:
                    self._listener = listener
                happened("listening")
        except DeafError as error:
            happened("not_listening", why=str(error))
        except Exception as error:  # the text goes on without
            went_wrong("not_listening", error)
        finally:
            self._opened.set()

    async def hear(self, event: wire.Voice, around: Around) -> wire.Spoken:
        """Listen to a note; what stands in the way of that is said in ``Heard.trouble``."""
        return wire.Spoken(event.place, await self._heard(event, around), event.addressed, event.cause)

    def close(self) -> None:
        """Listen to nothing more."""
        self._closed = True
        if self._listener is not None:
            self._listener.close()

    async def _heard(self, event: wire.Voice, around: Around) -> Heard:
        if self._open_ear is None:
            return Heard("", trouble="absent")
        sound = around.sound
        if sound is None or around.chat is None:
            return Heard("", trouble="broken")
        if (sound.seconds or 0) > LONGEST or (sound.size or 0) > LARGEST:
            return Heard("", trouble="too_long")
        async with self._line.typing(around.chat, around.thread):
            try:
                async with asyncio.timeout(READY_WITHIN):
                    await self._opened.wait()
            except TimeoutError:
                return Heard("", trouble="busy")
            if self._listener is None:
                return Heard("", trouble="absent")
            try:
                data = await self._line.fetch(sound.name)
            except InvalidToken:
                raise
            except (TelegramError, TimeoutError) as error:
                happened("sound_not_fetched", error=type(error).__name__)
                return Heard("", trouble="broken")
            helper, sender = event.place.helper, event.place.sender
            heard = await self._listener.hear(data, helper.language_of(sender), names_of(helper.kitchen))
        happened("heard", seconds=round(heard.seconds, 1), trouble=heard.trouble or "none")
        return heard


class Speech:
    """Our voice notes. They follow their message; a newer message of a chat takes the place of what is unsaid there."""

    def __init__(self, line: Line, errands: Errands, voice: Speaking | None, clock: Callable[[], datetime]) -> None:
        self._line = line
        self._errands = errands
        self._voice = voice
        self._clock = clock
        self._newest: dict[int, int] = {}

    @property
    def languages(self) -> frozenset[Language]:
        """The languages that can be spoken."""
        return self._voice.languages if self._voice is not None else frozenset()

    def say(self, helper: Helper, out: Outgoing, chat: int, thread: int | None = None) -> None:
        """Say a message aloud that was just sent in writing."""
        if self._voice is None or not out.aloud or self._clock() - out.at > NO_NEWS_AFTER:
            return
        self._newest[chat] = out.number
        language = helper.language_of(out.to)
        self._errands.run(self._say(self._voice, out, language, chat, thread))

    async def _say(self, voice: Speaking, out: Outgoing, language: Language, chat: int, thread: int | None) -> None:
        said = 0
        try:
            for note in notes(out.aloud, language):
                # An alert is said to its end, whatever else is said meanwhile.
                if self._newest.get(chat) != out.number and out.kind != "alert":
                    break
                sound = await asyncio.to_thread(voice.say, note, language)
                await self._line.send_voice(chat, sound, thread)
                said += 1
        except (InvalidToken, LineClosedError):
            raise
        except (SpeechError, TelegramError) as error:  # the words have arrived in writing
            happened("not_spoken", error=type(error).__name__)
        finally:
            if self._newest.get(chat) == out.number:
                del self._newest[chat]
        happened("spoken", notes=said)
