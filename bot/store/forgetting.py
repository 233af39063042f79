"""Letting go of a person: the records keep what was done and when, and lose by whom.

In every turn the person's id gives way to a token that names nobody, texts they wrote are emptied, and their names
and texts are taken out of the messages of others.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, TypeVar

import msgspec
from msgspec.structs import replace

from bot.core import records as r
from bot.core.actions import action, parse
from bot.core.lessons import NotSure, PhraseTaught
from bot.core.membership import NOBODY
from bot.core.state import State
from bot.store.archive import drop_snapshot
from bot.store.errors import StoreError, explain
from bot.store.files import Files, replace_file
from bot.store.lines import LineFormat
from bot.store.lock import take_lock
from bot.store.repair import ASIDE
from bot.store.rewriting import parts_of, rewrite, turns_in
from bot.store.store import Store
from intents.types import Slots

TOKEN = "gone-{}"
INTENT_NAME = "forgetting.json"
"""Says who is being let go of, so that a run that was cut short is finished under the same token."""

ERASED = "…"
PERSON_FIELDS = ("by", "person", "chat", "to", "sender", "raised_by")
"""Fields of changes and messages that may hold a person's id; a private chat bears it."""
ABOUT_A_PERSON = ("sign", "unsign", "invite", "person", "role", "age", "phone", "remove", "removed")
"""Actions of buttons whose last argument is a person's id."""
ROLL_UP = "rollup|"
"""How the key of a roll-up begins, before the id of whom it went to."""
SPOKE_LAST = "spoke|"
"""How the key begins under which a kitchen remembers that somebody of several spoke with it last, before their id."""
WALK_KEY = "walk|"
"""How the key of a message begins that ends with a person's id."""


class UnfinishedError(StoreError):
    """Letting go of another person was cut short, and must be finished first."""


@dataclass(frozen=True, slots=True)
class Forgotten:
    """What was done: the token in place of the person, how many turns changed, and files that were removed."""

    token: str
    turns: int
    removed: tuple[str, ...] = ()


class _Intent(msgspec.Struct, frozen=True):
    person: str
    token: str


@dataclass(slots=True)
class _Known:
    """What the records hold of a person, and which tokens are taken."""

    found: bool
    texts: set[str]
    tokens: set[str]
    names: set[str]
    """What they said that they are called, when they joined."""
    sent: set[int]
    """Messages that went to them; where one arrived, their number in the channel says so."""


T = TypeVar("T", bound=msgspec.Struct)


def forget(
    folder: Path,
    person: str,
    names: Iterable[str],
    taken: Iterable[str],
    now: datetime,
    *,
    fold_version: int = 1,
    files: Files | None = None,
) -> Forgotten | None:
    """Let go of a person; None where the records hold nothing of them. May be run again after it was cut short.

    ``names`` are what they are called in messages, ``taken`` ids that no token may be. What was set aside as damaged
    goes too, for nobody can say what stands in it. Raises ``StoreBusy`` and ``StoreError``.
    """
    files = files or Files()
    _withdraw_messages(folder, person, now, fold_version, files)
    lock = take_lock(folder)
    try:
        return _forget(folder, person, tuple(names), set(taken), files)
    except OSError as error:
        raise explain(error, folder) from error
    finally:
        lock.release()


def unfinished(folder: Path) -> str | None:
    """The person whose letting go was cut short, or None. Raises ``OSError``."""
    intent = _intent(folder)
    return intent.person if intent is not None else None


def _withdraw_messages(folder: Path, person: str, now: datetime, fold_version: int, files: Files) -> None:
    """Whatever still waits to be sent to them is given up; nobody could be found to send it to."""
    with Store.open(folder, State, files=files, fold_version=fold_version) as store:
        waiting = [m.number for m in store.state.outbox.values() if m.to == person]
        if waiting:
            given_up = tuple(r.DeliveryFailed(number, "person forgotten") for number in waiting)
            at = max(now, store.state.at or now)
            store.append(r.Turn(store.state.seq + 1, at, given_up))


def _forget(folder: Path, person: str, names: tuple[str, ...], taken: set[str], files: Files) -> Forgotten | None:
    lines = LineFormat()
    paths = parts_of(folder)
    intent = _intent(folder)
    if intent is not None and intent.person != person:
        raise UnfinishedError(f"{folder}: forgetting another person was cut short; run it again for them first")
    known = _known(paths, lines, person)
    if intent is None:
        if not known.found:
            return None
        number = 1
        while (token := TOKEN.format(number)) in known.tokens | taken:
            number += 1
        intent = _Intent(person, token)
        replace_file(files, folder / INTENT_NAME, [msgspec.json.encode(intent)])
    # The saved state and what was set aside hold the person too; the state would else be set aside itself.
    drop_snapshot(folder, files)
    removed = []
    for path in sorted({found for pattern in ASIDE for found in folder.glob(pattern)}):
        files.remove(path)
        removed.append(path.name)
    # Messages first, in all files: what the person wrote is known only as long as their own records hold it.
    called = {*names, *known.names} - {ERASED}
    pattern, naming = _pattern(called, known.texts), _pattern(called, ())
    for path in paths:
        rewrite(path, files, lines, lambda turn: _unlearnt(_without_words(turn, person, pattern, known.sent), naming))
    turns = sum(rewrite(path, files, lines, lambda turn: _without(turn, person, intent.token)) for path in paths)
    files.remove(folder / INTENT_NAME)
    files.sync_folder(folder)
    return Forgotten(intent.token, turns, tuple(removed))


def _intent(folder: Path) -> _Intent | None:
    path = folder / INTENT_NAME
    if not path.exists():
        return None
    try:
        return msgspec.json.decode(path.read_bytes(), type=_Intent)
    except msgspec.MsgspecError as error:
        raise StoreError(f"{path}: it can't be read; remove it, then forget the person again") from error


def _known(paths: Iterable[Path], lines: LineFormat, person: str) -> _Known:
    known = _Known(False, set(), set(), set(), set())
    token = re.compile(TOKEN.format("[0-9]+"))
    for path in paths:
        for turn in turns_in(path, lines):
            for thing in (*turn.changes, *turn.out):
                for name in PERSON_FIELDS:
                    value = getattr(thing, name, None)
                    known.found |= value == person
                    if isinstance(value, str) and token.fullmatch(value):
                        known.tokens.add(value)
                if isinstance(thing, r.NoteLeft | r.QuestionUnanswered | NotSure) and thing.by == person and thing.text:
                    known.texts.add(thing.text)
                if isinstance(thing, r.HeardUnsurely) and thing.person == person and thing.text:
                    known.texts.add(thing.text)
                if isinstance(thing, r.PersonJoined) and thing.person == person:
                    known.names.add(thing.name)
                if isinstance(thing, r.Outgoing) and thing.to == person:
                    known.sent.add(thing.number)
    return known


def _pattern(names: Iterable[str], texts: Iterable[str]) -> re.Pattern[str] | None:
    """What is to be taken out of messages: the longest first, names as whole words."""
    words = [rf"(?<!\w){re.escape(name)}(?!\w)" for name in names if name]
    said = [re.escape(text) for text in sorted(texts, key=len, reverse=True)]
    return re.compile("|".join(said + words), re.IGNORECASE) if said or words else None


def _without_words(turn: r.Turn, person: str, pattern: re.Pattern[str] | None, sent: set[int]) -> r.Turn:
    """A turn whose messages neither went to the person in words nor name or quote them, nor say where they arrived."""

    def message(one: r.Outgoing) -> r.Outgoing:
        if one.to == person:
            return replace(one, text="", buttons=(), aloud=())
        if pattern is None:
            return one
        buttons = tuple(replace(b, label=pattern.sub(ERASED, b.label)) for b in one.buttons)
        aloud = tuple(pattern.sub(ERASED, line) for line in one.aloud)
        return replace(one, text=pattern.sub(ERASED, one.text), buttons=buttons, aloud=aloud)

    def arrival(one: r.Change) -> r.Change:
        return replace(one, ref=None) if isinstance(one, r.Delivered) and one.out in sent and one.ref else one

    changes = tuple(arrival(one) for one in turn.changes)
    return replace(turn, changes=changes, out=tuple(message(one) for one in turn.out))


def _unlearnt(turn: r.Turn, naming: re.Pattern[str] | None) -> r.Turn:
    """A turn without what was to be learnt and names the person, whoever wrote it; other phrases name nobody."""

    def kept(one: r.Change) -> r.Change:
        if naming is not None and isinstance(one, NotSure | PhraseTaught | r.QuestionUnanswered):
            return replace(one, text="") if naming.search(one.text) else one
        return one

    return replace(turn, changes=tuple(kept(one) for one in turn.changes))


def _without(turn: r.Turn, person: str, token: str) -> r.Turn:
    """A turn in which the token stands for the person, and nothing that they wrote."""

    def message(one: r.Outgoing) -> r.Outgoing:
        key = WALK_KEY + token if one.key == WALK_KEY + person else one.key
        buttons = tuple(replace(b, action=_about(b.action, person, token)) for b in one.buttons)
        return _renamed(replace(one, key=key, buttons=buttons), person, token)

    changes = tuple(_renamed(_unnamed(_emptied(one, person), person, token), person, token) for one in turn.changes)
    return replace(turn, changes=changes, out=tuple(message(one) for one in turn.out))


def _emptied(change: r.Change, person: str) -> r.Change:
    if isinstance(change, r.NoteLeft | r.QuestionUnanswered | NotSure) and change.by == person:
        return replace(change, text="")
    if isinstance(change, r.HeardUnsurely) and change.person == person:
        return replace(change, text="", slots=tuple(Slots() for _ in change.slots))
    if isinstance(change, r.PersonJoined) and change.person == person:
        return replace(change, name=ERASED, phone=NOBODY, instead_of=None)
    if isinstance(change, r.PhoneLost) and change.person == person:
        return replace(change, instead_of=None)
    return change


def _unnamed(change: r.Change, person: str, token: str) -> r.Change:
    """A change that names the person within something else: a question about them, or a roll-up they were sent."""
    if isinstance(change, r.Asked):
        options = tuple(replace(o, action=_about(o.action, person, token)) for o in change.options)
        return replace(change, options=options)
    if isinstance(change, r.Told):
        return replace(change, keys=tuple(_key(key, person, token) for key in change.keys))
    return change


def _key(key: str, person: str, token: str) -> str:
    """The name of something that was said, with the token where it is about the person."""
    for begin in (ROLL_UP, SPOKE_LAST):
        if key.startswith(f"{begin}{person}|"):
            return f"{begin}{token}|{key.removeprefix(f'{begin}{person}|')}"
    return key


def _about(written: str, person: str, token: str) -> str:
    """A button's action, with the token where it is about the person."""
    done = parse(written)
    if done.verb not in ABOUT_A_PERSON or done.args[-1:] != (person,):
        return written
    return action(done.verb, *done.args[:-1], token)


def _renamed(thing: T, person: str, token: str) -> T:
    found: dict[str, Any] = {name: token for name in PERSON_FIELDS if getattr(thing, name, None) == person}
    return replace(thing, **found) if found else thing
