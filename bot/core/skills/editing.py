"""What the trainers hear of their own edits: what is wrong with one, once, and that it is put right."""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import sha256

from bot.core import records as r
from bot.core.messages import Outcome, Reply, Words
from bot.core.scene import Scene

MOST_FAULTS = 5


def faulty(scene: Scene, faults: Sequence[str]) -> Outcome:
    """Tell the trainers (the managers, where there are none) what is wrong; the same faults are told only once."""
    key = f"content|{sha256(chr(10).join(faults).encode()).hexdigest()[:16]}"
    if key in scene.state.told:
        return Outcome()
    lines = [Words("content.faulty", {"n": len(faults)})]
    lines += [Words("content.fault", {"fault": fault}) for fault in faults[:MOST_FAULTS]]
    if len(faults) > MOST_FAULTS:
        lines.append(Words("content.more", {"n": len(faults) - MOST_FAULTS}))
    return Outcome((r.Told((key,)),), _to_trainers(scene, tuple(lines)))


def mended(scene: Scene) -> Outcome:
    """Tell them that what they have edited since is at work."""
    return Outcome(replies=_to_trainers(scene, (Words("content.mended"),)))


def _to_trainers(scene: Scene, lines: tuple[Words, ...]) -> tuple[Reply, ...]:
    people = scene.kitchen.with_role("trainer") or scene.kitchen.with_role("manager")
    return tuple(Reply(person.id, "alert", lines) for person in people)
