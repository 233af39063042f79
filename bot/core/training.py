"""Who has shown that they can do what: checks that were passed, and sign-offs by a lead or trainer, with their end.

A sign-off lasts 180 days, a passed check as long; common practice, to be looked at again twice a year.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import timedelta

from bot.core import records as r
from bot.core.kitchen import Person, Role
from bot.core.library import GuideShape
from bot.core.pieces import SignOff, slot_key
from bot.core.scene import Scene

LASTS = timedelta(days=180)

SIGNERS: tuple[Role, ...] = ("trainer", "lead")
"""Who may sign somebody off."""

LEARNERS: tuple[Role, ...] = ("cook",)
"""Who needs a sign-off for what can hurt."""

SOON = timedelta(days=14)
"""So long before its end a sign-off is said to be due again; common practice."""

WEEK = timedelta(days=7)
OFTEN = 2
"""A fault that was asked about so often on one fryer within a week is a repeated one; common practice."""


def sign_off(scene: Scene, person: str, topic: str) -> SignOff | None:
    """The sign-off of a person for a guide that is valid now, or None."""
    found = scene.state.sign_offs.get(slot_key(topic, person))
    return found if found is not None and found.until > scene.now else None


def passed(scene: Scene, person: str, topic: str) -> bool:
    """Whether a person has passed a guide's check, and not too long ago."""
    at = scene.state.checks.get(slot_key(topic, person))
    return at is not None and scene.now - at < LASTS


def needs_a_lead(scene: Scene, person: Person, guide: GuideShape) -> bool:
    """Whether to tell a person to ask a lead first; nobody is told in a kitchen that signs nobody off."""
    return (
        bool(scene.state.sign_offs)
        and guide.kind == "walk"
        and guide.risk == "high"
        and person.role in LEARNERS
        and sign_off(scene, person.id, guide.topic) is None
    )


def guides_to_learn(scene: Scene) -> list[str]:
    """The topics of the guides that can hurt and have a check, in their order."""
    return [guide.topic for guide in scene.library.guides.values() if guide.kind == "walk" and guide.risk == "high"]


def signed_off(scene: Scene, topic: str) -> list[tuple[Person, SignOff]]:
    """Who is signed off for a guide, in the order of the kitchen file."""
    found = ((person, sign_off(scene, person.id, topic)) for person in scene.kitchen.people)
    return [(person, valid) for person, valid in found if valid is not None]


def due_again(scene: Scene) -> Iterator[tuple[Person, str, SignOff]]:
    """Sign-offs that have ended, or will within two weeks, by their end."""
    for key, found in sorted(scene.state.sign_offs.items(), key=lambda item: (item[1].until, item[0])):
        topic, _, person_id = key.partition("|")
        person = scene.kitchen.person(person_id)
        if person is not None and not found.revoked and found.until - scene.now <= SOON:
            yield person, topic, found


def unanswered(scene: Scene) -> list[tuple[str, int]]:
    """What was asked in the last week and not understood, and how often, the most frequent first."""
    asked = [
        entry.change.text
        for entry in scene.state.log
        if isinstance(entry.change, r.QuestionUnanswered) and scene.now - entry.at <= WEEK and entry.change.text
    ]
    return Counter(asked).most_common()


def repeated_faults(scene: Scene) -> list[tuple[str, str, int]]:
    """Faults that came up again on the same fryer within the last week: topic, fryer, how often."""
    counted = Counter(
        (entry.change.topic, entry.change.fryer)
        for entry in scene.state.log
        if isinstance(entry.change, r.FaultAsked) and scene.now - entry.at <= WEEK
    )
    return [(topic, fryer, n) for (topic, fryer), n in counted.most_common() if n >= OFTEN]
