"""A helper that only writes down what it is asked, a kitchen to put it in, and a door between it and a server."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator, Callable, Mapping
from datetime import UTC, datetime, time
from typing import Any

from api_server import PATIENCE, ApiServer
from hypothesis import HealthCheck, settings

from bot.channels.port import Helper, Thing
from bot.channels.telegram.addresses import AddressBook
from bot.channels.telegram.control import Controls
from bot.channels.telegram.door import make_bot
from bot.channels.telegram.line import Patience
from bot.channels.telegram.logs import quiet_libraries
from bot.channels.telegram.notices import Notices
from bot.channels.telegram.running import Door, Ending
from bot.channels.telegram.voice import TEXT_ONLY, Sound
from bot.channels.telegram.webhook import Plan
from bot.core.invites import Refusal
from bot.core.kitchen import Fryer, Kitchen, Person
from bot.core.messages import Coming
from bot.core.records import OutButton, OutFile, Outgoing
from bot.links import Links
from bot.voice.heard import Heard
from intents.types import Language

BEN, ROSA, MAYA, CREW_CHAT, STRANGER = 1001, 1002, 1004, -1001, 6666
EVENING = datetime(2026, 9, 15, 21, 30, tzinfo=UTC)
CALM = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
"""For properties on a machine that is busy with other things."""
PICTURE = b"\x89PNG\r\n\x1a\nnot much of a picture"


def kitchen(name: str = "Lantern Street Kitchen", shift: int = 0, crew: int | None = CREW_CHAT) -> Kitchen:
    """A small kitchen; ``shift`` gives its people other Telegram numbers."""
    return Kitchen(
        name=name,
        timezone="America/New_York",
        language="en",
        opens=time(10),
        closes=time(22),
        summary_at=time(22, 30),
        fryers=(Fryer("1"), Fryer("2")),
        people=(
            Person("ben", "Ben", "cook", "en", telegram=BEN + shift),
            Person("rosa", "Rosa", "cook", "es", telegram=ROSA + shift),
            Person("maya", "Maya", "lead", "en", telegram=MAYA + shift),
            Person("lena", "Lena", "trainer", "en"),
        ),
        crew_chat=crew,
    )


class FakeHelper:
    """Answers every message with its own words, unless told what to answer; remembers like the real one."""

    def __init__(self, kitchen_: Kitchen | None = None) -> None:
        self.kitchen = kitchen_ if kitchen_ is not None else kitchen()
        self.heard: list[tuple[str, str, str, bool]] = []
        self.tapped: list[tuple[str, str, str]] = []
        self.received: list[tuple[str, str, Thing]] = []
        self.photos: list[tuple[bytes | None, str | None]] = []
        self.told: dict[str, datetime] = {}
        self.moves: list[int] = []
        self.links = Links()
        self.voices: frozenset[Language] = frozenset()
        self.ticks: list[datetime] = []
        self.sent: dict[int, str | None] = {}
        self.given_up: dict[int, str] = {}
        self.left_over: list[Outgoing] = []
        self.answer: Callable[[str, str], list[Outgoing]] = lambda chat, text: [self.say(chat, f"heard: {text}")]
        self.due: list[Outgoing] = []
        self.wake: datetime | None = None
        self.faults: list[Exception] = []
        self.picture: bytes | None = PICTURE
        self._numbers = 0
        self._keys: dict[int, tuple[str, str]] = {}
        self._refs: dict[tuple[str, str], str] = {}
        self._causes: set[str] = set()
        self._changed = asyncio.Event()

    def say(
        self,
        to: str,
        text: str,
        *buttons: str,
        kind: str = "reply",
        key: str | None = None,
        edit: bool = False,
        files: tuple[OutFile, ...] = (),
    ) -> Outgoing:
        """A message with a number of its own; a button's label is also its action."""
        self._numbers += 1
        if key is not None:
            self._keys[self._numbers] = (to, key)
        return Outgoing(
            self._numbers, EVENING, to, kind, text,
            buttons=tuple(OutButton(label, label) for label in buttons), key=key, edit=edit, files=files,
        )  # fmt: skip

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
        if self._seen(cause):
            return []
        self.heard.append((sender, chat, text, addressed))
        return self.answer(chat, text)

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
        said = heard.text if heard.trouble is None else f"[{heard.trouble}]"
        return self.hear(sender, chat, said, now, cause=cause, addressed=addressed)

    def tap(self, sender: str, chat: str, action: str, now: datetime, *, cause: str | None = None) -> list[Outgoing]:
        if self._seen(cause):
            return []
        self.tapped.append((sender, chat, action))
        return self.answer(chat, action)

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
        if self._seen(cause):
            return []
        self.received.append((sender, chat, what))
        self.photos.append((data, replied))
        return self.answer(chat, what)

    def tick(self, now: datetime) -> list[Outgoing]:
        self.ticks.append(now)
        self._changed.set()
        due, self.due, self.wake = self.due, [], None
        return due

    def wake_at(self, now: datetime) -> datetime | None:
        return self.wake

    def undelivered(self) -> list[Outgoing]:
        return self.left_over

    def delivered(self, number: int, ref: str | None, now: datetime) -> None:
        self.sent[number] = ref
        if number in self._keys and ref is not None:
            self._refs[self._keys[number]] = ref
        self._changed.set()

    def failed(self, number: int, why: str, now: datetime) -> list[Outgoing]:
        self.given_up[number] = why
        self._changed.set()
        return []

    def crew_moved(self, chat: int, now: datetime) -> None:
        self.moves.append(chat)

    def is_urgent(self, sender: str, text: str) -> bool:
        return "fire" in text

    def language_of(self, person_id: str) -> Language:
        person = self.kitchen.person(person_id)
        return person.language if person is not None else self.kitchen.language

    def invitation(self, secret: str, now: datetime) -> Refusal:
        return "unknown"

    def happens(self, event: Coming, now: datetime, *, cause: str | None = None) -> list[Outgoing]:
        return []

    def remember(self, key: str, now: datetime) -> None:
        self.told[key] = now

    def remembered(self, key: str) -> datetime | None:
        return self.told.get(key)

    def ref(self, chat: str, key: str) -> str | None:
        return self._refs.get((chat, key))

    def file(self, wanted: OutFile, to: str) -> bytes | None:
        return self.picture

    def text(self, words_id: str, language: Language, params: Mapping[str, Any] | None = None) -> str:
        return f"{words_id} ({language})"

    def close(self) -> None:
        """Nothing is open."""

    async def until(self, condition: Callable[[], bool]) -> None:
        """Wait until something about this helper holds."""
        async with asyncio.timeout(PATIENCE):
            while not condition():
                self._changed.clear()
                await self._changed.wait()

    def _seen(self, cause: str | None) -> bool:
        if self.faults:
            raise self.faults.pop(0)
        seen = cause is not None and cause in self._causes
        if cause is not None:
            self._causes.add(cause)
        self._changed.set()
        return seen


class Pauses(list[float]):
    """A sleep that takes no time and remembers how long it should have been."""

    async def sleep(self, seconds: float) -> None:
        self.append(seconds)
        await asyncio.sleep(0)


@contextlib.asynccontextmanager
async def open_door(
    server: ApiServer,
    *helpers: Helper,
    pauses: Pauses | None = None,
    webhook: Plan | None = None,
    notices: Notices | None = None,
    controls: Controls | None = None,
    clock: Callable[[], datetime] = lambda: EVENING,
    sound: Sound = TEXT_ONLY,
) -> AsyncIterator[tuple[Door, asyncio.Task[Ending], asyncio.Event]]:
    """A door that runs between the server and these helpers, until the block ends."""
    quiet_libraries()
    pauses = pauses if pauses is not None else Pauses()
    bot = make_bot(server.token, server.base_url)
    door = Door(
        AddressBook(helpers), bot, clock, patience=Patience(), sleep=pauses.sleep, jitter=lambda: 1.0,
        webhook=webhook, notices=notices, controls=controls, sound=sound,
    )  # fmt: skip
    stop = asyncio.Event()
    running = asyncio.create_task(door.run(stop))
    try:
        yield door, running, stop
    finally:
        stop.set()
        async with asyncio.timeout(PATIENCE):
            await running
