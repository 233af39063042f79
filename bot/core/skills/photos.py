"""A photo as evidence: kept with the record that it was taken for."""

from __future__ import annotations

from datetime import timedelta

from bot.core import records as r
from bot.core.actions import parse
from bot.core.kitchen import Person
from bot.core.messages import Outcome, Words
from bot.core.pieces import Logged, number_of
from bot.core.scene import Scene, Speaker
from bot.core.skills.undoing import entry_words

WITHIN = timedelta(minutes=10)
"""A photo so soon after a confirmation of the same person belongs to it."""

LATEST = 20
"""Of one duty on one fryer, as many as can be confirmed within ``WITHIN``, and far more."""


def entry_for(scene: Scene, person: Person, replied: str | None) -> int | None:
    """The number of the record that a photo belongs to, or None.

    ``replied`` is the action of a button of the message that the photo answers: the one that would take a record
    back names it. Without it, the person's latest confirmation of the last minutes.
    """
    if replied is not None:
        entry = scene.state.entry(_named(replied))
        return number_of(entry) if entry is not None and _may_show(person, entry) else None
    since = scene.now - WITHIN
    mine = [
        entry
        for entries in scene.state.confirmed.values()
        for entry in entries[-LATEST:]
        if entry.at >= since and not entry.undone and getattr(entry.change, "by", None) == person.id
    ]
    return max((number_of(entry) for entry in mine), default=None)


def kept(scene: Scene, who: Speaker, number: int, file: str) -> Outcome:
    """The photo is in the store; say with which record."""
    entry = scene.state.entry(number)
    if entry is None:
        return scene.answer(who, Words("sent.photo_not_kept"))
    change = r.EvidenceKept(number, file, who.person.id)
    return scene.answer(who, Words("sent.photo_kept", {"what": entry_words(entry.change)}), changes=(change,))


def _named(written: str) -> int:
    """The record that an undo button is about; 0, which none bears, for any other button."""
    done = parse(written)
    first = done.args[0] if done.verb == "undo" and done.args else None
    return int(first) if first is not None and first.isascii() and first.isdigit() else 0


def _may_show(person: Person, entry: Logged) -> bool:
    """One's own record; a lead or manager may show anyone's."""
    own = getattr(entry.change, "by", None) == person.id
    return not entry.undone and (own or person.role in ("lead", "manager"))
