"""One kitchen's helper, put together: understanding, decisions, records and words.

This is the only place where the parts meet. Doors (terminal, replay, Telegram) call it with what happened and
when, and send what it returns. Whatever it returns is on the disk already.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Literal

from bot.content.catalogue import Content
from bot.content.findings import ContentError
from bot.content.watching import Watched
from bot.core import agenda
from bot.core.conversation import respond
from bot.core.kitchen import Kitchen
from bot.core.messages import CREW, Event, Outcome, Reply, Said, Sent, Tapped, Tick, Words
from bot.core.records import (
    DayEnded,
    Delivered,
    DeliveryFailed,
    OutButton,
    OutFile,
    Outgoing,
    RulesTookEffect,
    Told,
    Turn,
)
from bot.core.scene import Scene, rules_of
from bot.core.skills import editing, photos
from bot.core.state import FOLD_VERSION, State
from bot.reports.attachments import attachment
from bot.store import Store, StoreError, Upkeep
from bot.store.files import Files
from intents.lexicon import LANGUAGES as READ
from intents.types import Language
from intents.understander import Understander

_log = logging.getLogger(__name__)

SNAPSHOT_EVERY = 500
"""Turns between two snapshots of the state; a start reads at most so many again."""

UNSAVED = 0
"""The number of a message that is in no history: it says that something could not be saved."""

What = Literal["photo", "voice", "sticker", "location", "file"]


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
    ) -> None:
        self.kitchen = kitchen
        self._content = content
        self._understander = understander
        self._store = store
        self._watched = watched
        self._faulty = False
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
    ) -> Helper:
        """Open the records in ``folder`` and take the kitchen's rules into them where they have changed.

        Past years are archived and old talk is dropped first, since nobody waits for an answer yet.

        Raises ``StoreError`` where the folder can't be used.
        """
        upkeep = Upkeep(now, timedelta(days=kitchen.keep_talk_days))
        store = Store.open(folder, State, fold_version=FOLD_VERSION, files=files, upkeep=upkeep)
        if store.upkeep is not None and store.upkeep.problem is not None:
            _log.warning("past years not archived: %s", store.upkeep.problem)
        helper = cls(kitchen, content, understander, store, watched)
        rules = rules_of(kitchen)
        try:
            if store.state.file_rules != rules:
                helper._append(Outcome((RulesTookEffect(rules),)), now.astimezone(UTC), None)
        except BaseException:
            store.close()
            raise
        return helper

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
        self,
        sender: str,
        chat: str,
        text: str,
        now: datetime,
        *,
        cause: str | None = None,
        addressed: bool = True,
        spoken: bool = False,
    ) -> list[Outgoing]:
        """Take a message in. Raises ``KeyError`` for a sender who isn't of this kitchen."""
        # Half a surrogate pair is no character: it could be neither kept nor sent back.
        text = text.encode("utf-8", "replace").decode("utf-8")
        theirs = self._language(sender)
        understood = self._understander.understand(text, language=theirs)
        if theirs is not None and theirs not in READ:
            # A language without a lexicon can't be told from others; the person's own it is.
            understood = replace(understood, language=theirs)
        danger = self._content.danger_signs.danger_in(text)
        return self._take(Said(sender, chat, understood, spoken, addressed, danger), now, cause)

    def tap(self, sender: str, chat: str, action: str, now: datetime, *, cause: str | None = None) -> list[Outgoing]:
        """Take a tap on a button in. Raises ``KeyError`` for a sender who isn't of this kitchen."""
        return self._take(Tapped(sender, chat, action), now, cause)

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
            event = self._with_photo(event, now, data, replied)
        except StoreError:
            return [*before, *self._unsaved(event, now)]
        return [*before, *self._take(event, now, cause)]

    def tick(self, now: datetime) -> list[Outgoing]:
        """Let time pass up to ``now``; content that was edited is read again."""
        try:
            edited = self.reload_content(now)
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
        if self._watched is None or not self._watched.changed(now):
            return []
        try:
            self._content = self._watched.load()
        except ContentError as error:
            self._faulty = True
            told = editing.faulty(self._scene(now.astimezone(UTC)), [str(finding) for finding in error.findings])
        else:
            told = editing.mended(self._scene(now.astimezone(UTC))) if self._faulty else Outcome()
            self._faulty = False
        return self._append(told, now.astimezone(UTC), None)

    def wake_at(self, now: datetime) -> datetime | None:
        """When something is to happen by itself next."""
        # Nothing but a turn changes it, so a quiet minute costs the same in a kitchen with a thousand duties.
        if self._wake is None:
            self._wake = (agenda.next_at(self._scene(now.astimezone(UTC))),)
        return self._wake[0]

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

    def failed(self, number: int, why: str, now: datetime) -> None:
        """A message was given up."""
        if number in self.state.outbox:
            self._append(Outcome((DeliveryFailed(number, why),)), now.astimezone(UTC), None)

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
        self._append(Outcome((Told((key,)),)), now.astimezone(UTC), None)

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

    def _with_photo(self, event: Sent, now: datetime, data: bytes, replied: str | None) -> Sent:
        """The event with its photo kept, where it belongs to a record. On the disk before the record speaks of it."""
        person = self.kitchen.person(event.sender)
        if person is None:
            return event
        entry = photos.entry_for(self._scene(now.astimezone(UTC)), person, replied)
        if entry is None:
            return event
        try:
            return replace(event, entry=entry, file=self._store.keep_photo(entry, data))
        except ValueError:
            return replace(event, unusable=True)

    def _do(self, event: Event, now: datetime, cause: str | None) -> list[Outgoing]:
        now = now.astimezone(UTC)
        outcome = respond(self._scene(now), event)
        return self._append(outcome, now, cause)

    def _append(self, outcome: Outcome, now: datetime, cause: str | None, sync: bool = True) -> list[Outgoing]:
        if not outcome.changes and not outcome.replies and cause is None:
            return []
        out = tuple(self._render(reply, self.state.sent + n, now) for n, reply in enumerate(outcome.replies, 1))
        turn = Turn(self.state.seq + 1, now, outcome.changes, out, cause)
        self._store.append(turn, sync=sync)
        if not all(isinstance(change, agenda.TIMELESS) for change in turn.changes):
            self._wake = None
        self._turns_since_snapshot += 1
        if self._turns_since_snapshot >= SNAPSHOT_EVERY or any(isinstance(c, DayEnded) for c in turn.changes):
            self._save_in_passing()
        return list(out)

    def _save_in_passing(self) -> None:
        try:
            self.save()
        except StoreError as error:
            # The history has everything; only the next start takes longer.
            _log.warning("state not saved: %s", error)

    def _render(self, reply: Reply, number: int, now: datetime) -> Outgoing:
        language = reply.language or self._chat_language(reply.to)
        wording = self._content.wording
        lines = [wording.render(words, language, self.kitchen, now) for words in reply.lines]
        return Outgoing(
            number=number,
            at=now,
            to=reply.to,
            kind=reply.kind,
            text="\n".join(lines),
            buttons=tuple(
                OutButton(wording.render(b.label, language, self.kitchen, now), b.action) for b in reply.buttons
            ),
            key=reply.key,
            edit=reply.edit,
            files=tuple(OutFile(f.what, f.on, f.name) for f in reply.files),
        )

    def _unsaved(self, event: Event, now: datetime) -> list[Outgoing]:
        """What is said although it can't be written down: what to do in danger, and that nothing was saved."""
        replies = [r for r in respond(self._scene(now), event).replies if _must_be_said(event)]
        chat = getattr(event, "chat", CREW)
        language = self._language(getattr(event, "sender", "")) or self.kitchen.language
        replies.append(Reply(chat, "reply", (Words("trouble.not_saved"),), language=language))
        return [self._render(reply, UNSAVED, now) for reply in replies]

    @property
    def _at(self) -> datetime:
        """The time of the latest turn; the rules are taken in at opening, so there is always one."""
        return self.state.at or datetime.fromtimestamp(0, UTC)

    def _scene(self, now: datetime) -> Scene:
        return Scene(self.kitchen, self._content.library, self.state, now, self._memo)

    def _language(self, person_id: str) -> Language | None:
        person = self.kitchen.person(person_id)
        return self._scene(self._at).language_of(person) if person is not None else None

    def _chat_language(self, chat: str) -> Language:
        return self._language(chat) or self.kitchen.language


def _must_be_said(event: Event) -> bool:
    """Whether an event calls for an emergency's instructions or a warning, saved or not."""
    if not isinstance(event, Said):
        return False
    return event.danger is not None or (event.understood.topic or "").startswith("emergency.")
