"""One kitchen's helper, put together: understanding, decisions, records and words.

This is the only place where the parts meet. Doors (terminal, replay, Telegram) call it with what happened and
when, and send what it returns. Whatever it returns is on the disk already.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Literal

from bot import reading
from bot.content.catalogue import Content
from bot.content.watching import Watched
from bot.core import agenda, invites, roster
from bot.core.conversation import respond
from bot.core.invites import Refusal
from bot.core.kitchen import Kitchen
from bot.core.membership import Invite
from bot.core.messages import CREW, Coming, Event, NotHeard, Outcome, Reply, Said, Sent, Tapped, Tick, Words
from bot.core.records import (
    CrewChatSet,
    DayEnded,
    Delivered,
    OutFile,
    Outgoing,
    RulesTookEffect,
    Told,
    Turn,
)
from bot.core.scene import Scene, language_of, rules_of
from bot.core.skills import unreachable
from bot.core.state import FOLD_VERSION, State
from bot.keeping_photos import with_photo
from bot.learning import Learning
from bot.links import Links
from bot.live_content import LiveContent
from bot.reading import Reading
from bot.rendering import must_be_said, outgoing
from bot.reports.attachments import attachment
from bot.store import Store, StoreError, Upkeep
from bot.store.files import Files
from bot.tidying import Tidying
from bot.voice.heard import Heard
from intents.types import Language
from intents.understander import Understander

_log = logging.getLogger(__name__)

SNAPSHOT_EVERY = 500
"""Turns between two snapshots of the state; a start reads at most so many again."""

UNSAVED = 0
"""The number of a message that is in no history: it says that something could not be saved."""

What = Literal["photo", "sticker", "location", "file"]


def clock() -> datetime:
    """The real time. Only commands and doors ask for it."""
    return datetime.now(UTC)  # noqa: TID251 - the one clock


class Helper:
    """The helper of one kitchen, on one store. Times given are aware; everything it does is synchronous."""

    def __init__(
        self,
        kitchen: Kitchen,
        content: Content,
        understander: Understander,
        store: Store[State],
        watched: Watched | None = None,
        learning: Learning | None = None,
    ) -> None:
        self._filed = kitchen
        self.links = Links()
        self.voices: frozenset[Language] = frozenset()
        """The languages in which the door can speak; the door says so once it knows."""
        self._live = LiveContent(content, watched)
        self._learning = learning or Learning(understander)
        self._store = store
        self._tidying = Tidying(store)
        self._reader = reading.Reader()
        self._turns_since_snapshot = 0
        self._wake: tuple[datetime | None] | None = None
        self._memo: dict[Any, Any] = {}

    @classmethod
    def open(
        cls,
        kitchen: Kitchen,
        content: Content,
        understander: Understander,
        folder: Path,
        now: datetime,
        *,
        files: Files | None = None,
        watched: Watched | None = None,
        learning: Learning | None = None,
    ) -> Helper:
        """Open the records in ``folder`` and take the kitchen's rules into them where they have changed.

        Past years are archived and old talk is dropped first, since nobody waits for an answer yet.

        Raises ``StoreError`` where the folder can't be used.
        """
        upkeep = Upkeep(now, timedelta(days=kitchen.keep_talk_days))
        store = Store.open(folder, State, fold_version=FOLD_VERSION, files=files, upkeep=upkeep)
        if store.upkeep is not None and store.upkeep.problem is not None:
            _log.warning("past years not archived: %s", store.upkeep.problem)
        helper = cls(kitchen, content, understander, store, watched, learning)
        rules = rules_of(kitchen)
        try:
            if store.state.file_rules != rules:
                helper._append(Outcome((RulesTookEffect(rules),)), now.astimezone(UTC), None)
        except BaseException:
            store.close()
            raise
        return helper

    @property
    def kitchen(self) -> Kitchen:
        """The kitchen, with the people that it has now; the same value as long as they are the same."""
        return roster.as_of(self._filed, self._store.state.membership, self._memo)

    @property
    def state(self) -> State:
        """Where things stand; for reading only."""
        return self._store.state

    @property
    def recovered(self) -> str | None:
        """What had to be set aside when the records were opened, in a line; None where nothing was wrong."""
        return str(self._store.recovery) if self._store.recovery is not None else None

    def turns(self) -> Iterator[Turn]:
        """The whole history, oldest first."""
        return self._store.turns()

    # --- what happens ---

    def hear(
        self, sender: str, chat: str, text: str, now: datetime, *, cause: str | None = None, addressed: bool = True
    ) -> list[Outgoing]:
        """Take a message in. Raises ``KeyError`` for a sender who isn't of this kitchen."""
        read = self._read(sender, text)
        secret = self.links.fresh()
        said = Said(sender, chat, read.understood, addressed=addressed, danger=read.danger, secret=secret)
        return self._take(said, now, cause)

    def hear_spoken(
        self, sender: str, chat: str, heard: Heard, now: datetime, *, cause: str | None = None, addressed: bool = True
    ) -> list[Outgoing]:
        """Take in what was heard in a voice note, or that nothing could be. Raises ``KeyError`` as above."""
        if heard.trouble is not None:
            return self._take(NotHeard(sender, chat, heard.trouble, addressed), now, cause)
        readings = [self._read(sender, text) for text in (heard.text, *heard.alternatives)]
        read, sure = reading.best(readings, heard.confidence)
        said = Said(
            sender, chat, read.understood, spoken=True, addressed=addressed, danger=read.danger, recognised=sure
        )
        return self._take(replace(said, secret=self.links.fresh()), now, cause)

    def _read(self, sender: str, text: str) -> Reading:
        return self._reader.read(text, self._language(sender), self._understander, self._content.danger_signs)

    def tap(self, sender: str, chat: str, action: str, now: datetime, *, cause: str | None = None) -> list[Outgoing]:
        """Take a tap on a button in. Raises ``KeyError`` for a sender who isn't of this kitchen."""
        objection = self._learning.objection(self.state.lessons, action)
        return self._take(Tapped(sender, chat, action, self.links.fresh(), objection), now, cause)

    def happens(self, event: Coming, now: datetime, *, cause: str | None = None) -> list[Outgoing]:
        """Take in that somebody came by a link, or wants one, or offers a group as the crew's chat."""
        return self._take(event, now, cause)

    def invitation(self, secret: str, now: datetime) -> Invite | Refusal:
        """Whom a link would let in now, or why nobody."""
        return invites.look_up(self.kitchen, self.state.membership, secret, now.astimezone(UTC))

    def receive(
        self,
        sender: str,
        chat: str,
        what: What,
        now: datetime,
        *,
        cause: str | None = None,
        data: bytes | None = None,
        replied: str | None = None,
    ) -> list[Outgoing]:
        """Take something in that is neither words nor a tap. Raises ``KeyError`` as above.

        ``data`` are the bytes of a photo, which is kept with the record that it belongs to; ``replied`` is the action
        of a button of the message that it answers, if it answers one.
        """
        if what != "photo" or data is None or (cause is not None and cause in self.state.causes):
            return self._take(Sent(sender, chat, what), now, cause)
        before = self.tick(now)
        event = Sent(sender, chat, what)
        try:
            event = with_photo(event, self._scene(now.astimezone(UTC)), data, replied, self._store.keep_photo)
        except StoreError:
            return [*before, *self._unsaved(event, now)]
        return [*before, *self._take(event, now, cause)]

    def tick(self, now: datetime) -> list[Outgoing]:
        """Let time pass up to ``now``; content that was edited is read again."""
        try:
            self._tidying.step(now)
            edited = [*self.reload_content(now), *self.learn(now)]
            wake = self.wake_at(now)
            if wake is None or now < wake:
                return edited
            said = self._do(Tick(), now, None)
            # A time may turn out to bring nothing (its fryer is out of service); the next one must be looked for.
            self._wake = None
            return [*edited, *said]
        except StoreError:
            # Nothing is sent that isn't on the disk; the next tick tries again.
            return []

    def reload_content(self, now: datetime) -> list[Outgoing]:
        """Take in what was edited since the last look, and say to the trainers what is wrong with it.

        A faulty edit changes nothing: the last good content stays. Raises ``StoreError``.
        """
        return self._append(self._live.news(lambda: self._scene(now.astimezone(UTC)), now), now.astimezone(UTC), None)

    def learn(self, now: datetime) -> list[Outgoing]:
        """Let the phrase files and the understanding agree with what was taught. Raises ``StoreError``."""
        news = self._learning.news(self.state.lessons, now)
        return self._append(news.outcome(self._scene(now.astimezone(UTC))), now.astimezone(UTC), None) if news else []

    @property
    def _content(self) -> Content:
        return self._live.content

    @property
    def _understander(self) -> Understander:
        return self._learning.understander(self.state.lessons)

    def wake_at(self, now: datetime) -> datetime | None:
        """When something is to happen by itself next."""
        # Nothing but a turn changes it, so a quiet minute costs the same in a kitchen with a thousand duties.
        if self._wake is None:
            self._wake = (agenda.next_at(self._scene(now.astimezone(UTC))),)
        return self._tidying.soonest(self._wake[0])

    # --- what becomes of what was said ---

    def undelivered(self) -> list[Outgoing]:
        """Messages that are on the disk and that no chat is known to have received, oldest first."""
        return [self.state.outbox[number] for number in sorted(self.state.outbox)]

    def delivered(self, number: int, ref: str | None, now: datetime) -> None:
        """A message reached its chat, where ``ref`` is its name."""
        if number in self.state.outbox:
            self._append(Outcome((Delivered(number, ref),)), now.astimezone(UTC), None, sync=False)

    def all_delivered(self, messages: Iterable[Outgoing], now: datetime) -> None:
        """These messages were shown at once, by a door that can't fail; their numbers are their names."""
        changes = tuple(Delivered(m.number, str(m.number)) for m in messages if m.number in self.state.outbox)
        if changes:
            self._append(Outcome(changes), now.astimezone(UTC), None, sync=False)

    def failed(self, number: int, why: str, now: datetime) -> list[Outgoing]:
        """A message was given up; gives what those in charge are to be told of it."""
        if number not in self.state.outbox:
            return []
        return self.decide(lambda scene: unreachable.given_up(scene, number, why), now)

    def decide(self, what: Callable[[Scene], Outcome], now: datetime) -> list[Outgoing]:
        """Do what is decided in view of how things stand. Raises ``StoreError``, and what the decision raises."""
        now = now.astimezone(UTC)
        return self._append(what(self._scene(now)), now, None)

    def is_urgent(self, sender: str, text: str) -> bool:
        """Whether words tell of an emergency or a dangerous act, and must be answered whatever else holds."""
        read = self._read(sender, text)
        return read.danger is not None or (read.understood.topic or "").startswith("emergency.")

    def crew_moved(self, chat: int, now: datetime) -> None:
        """The crew's chat goes on under another number, by nobody's doing. Raises ``StoreError``."""
        self.decide(lambda _: Outcome((CrewChatSet(chat, "", self._filed.crew_chat),)), now)

    def ref(self, chat: str, key: str) -> str | None:
        """The channel's name of the latest message with that key in that chat."""
        return self.state.refs.get(f"{chat}|{key}")

    def file(self, wanted: OutFile, to: str) -> bytes | None:
        """A picture as PNG, as of the latest turn, in the language of its reader; None where there is none."""
        return attachment(wanted, self.state, self._at, self._content, self.kitchen, self._chat_language(to))

    def text(self, words_id: str, language: Language, params: Mapping[str, Any] | None = None) -> str:
        """A text that a door needs for itself."""
        return self._content.wording.render(Words(words_id, params or {}), language, self.kitchen, self._at)

    def language_of(self, person_id: str) -> Language:
        """The language in which a person is written to."""
        return self._chat_language(person_id)

    def remember(self, key: str, now: datetime) -> None:
        """Remember that something was said that a door says for itself. Raises ``StoreError``."""
        self.decide(lambda _: Outcome((Told((key,)),)), now)

    def remembered(self, key: str) -> datetime | None:
        """When that was last remembered, or None."""
        return self.state.told.get(key)

    def save(self) -> None:
        """Save the state, so that the next start is quick. Raises ``StoreError``."""
        self._store.save_snapshot()
        self._turns_since_snapshot = 0

    def close(self) -> None:
        """Save the state and let the store go."""
        try:
            self.save()
        finally:
            self._store.close()

    def drop(self) -> None:
        """Let the store go as a power cut would: nothing more is saved."""
        self._store.close()

    # --- inside ---

    def _take(self, event: Event, now: datetime, cause: str | None) -> list[Outgoing]:
        if cause is not None and cause in self.state.causes:
            return []
        before = self.tick(now)
        try:
            during = self._do(event, now, cause)
        except StoreError:
            return [*before, *self._unsaved(event, now.astimezone(UTC))]
        return [*before, *during, *self.tick(now)]

    def _do(self, event: Event, now: datetime, cause: str | None) -> list[Outgoing]:
        now = now.astimezone(UTC)
        outcome = respond(self._scene(now), event)
        said = self._append(outcome, now, cause)
        self.links.keep(getattr(event, "secret", None), outcome.changes)
        return said

    def _append(self, outcome: Outcome, now: datetime, cause: str | None, sync: bool = True) -> list[Outgoing]:
        if not outcome.changes and not outcome.replies and cause is None:
            return []
        out = tuple(self._render(reply, self.state.sent + n, now) for n, reply in enumerate(outcome.replies, 1))
        turn = Turn(self.state.seq + 1, now, outcome.changes, out, cause)
        self._store.append(turn, sync=sync)
        if not all(isinstance(change, agenda.TIMELESS) for change in turn.changes):
            self._wake = None
        self._turns_since_snapshot += 1
        day_ended = any(isinstance(change, DayEnded) for change in turn.changes)
        if self._turns_since_snapshot >= SNAPSHOT_EVERY or day_ended:
            self._save_in_passing()
        if day_ended:
            self._tidying.begin(now)
        return list(out)

    def _save_in_passing(self) -> None:
        try:
            self.save()
        except StoreError as error:
            # The history has everything; only the next start takes longer.
            _log.warning("state not saved: %s", error)

    def _render(self, reply: Reply, number: int, now: datetime) -> Outgoing:
        language = reply.language or self._chat_language(reply.to)
        return outgoing(reply, number, now, language, self._content.wording, self.kitchen)

    def _unsaved(self, event: Event, now: datetime) -> list[Outgoing]:
        """What is said although it can't be written down: what to do in danger, and that nothing was saved."""
        replies = [r for r in respond(self._scene(now), event).replies if must_be_said(event)]
        chat = getattr(event, "chat", CREW)
        language = self._language(getattr(event, "sender", "")) or self.kitchen.language
        replies.append(Reply(chat, "reply", (Words("trouble.not_saved"),), language=language))
        return [self._render(reply, UNSAVED, now) for reply in replies]

    @property
    def _at(self) -> datetime:
        """The time of the latest turn; the rules are taken in at opening, so there is always one."""
        return self.state.at or datetime.fromtimestamp(0, UTC)

    def _scene(self, now: datetime) -> Scene:
        return Scene(self.kitchen, self._content.library, self.state, now, self._memo, self._filed, self.voices)

    def _language(self, person_id: str) -> Language | None:
        person = self.kitchen.person(person_id)
        return language_of(self._content.library, self.state, person) if person is not None else None

    def _chat_language(self, chat: str) -> Language:
        return self._language(chat) or self.kitchen.language
