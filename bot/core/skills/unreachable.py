"""A message didn't reach its person: those who answer for the shift hear of it, for nobody else would notice."""

from __future__ import annotations

from bot.core import records as r
from bot.core.messages import CREW, Outcome, Reply, Words
from bot.core.scene import Scene

NOT_THEIRS = ("server_fault", "error", "empty", "refused", "moved")
"""Reasons that say nothing about the chat itself, so that nobody could do anything about them."""


def given_up(scene: Scene, number: int, why: str) -> Outcome:
    """A message was given up. That a chat can't be reached is told once a kitchen day to each lead, or manager."""
    outcome = Outcome((r.DeliveryFailed(number, why),))
    lost = scene.state.outbox.get(number)
    if lost is None or why in NOT_THEIRS:
        return outcome
    key = f"unreachable|{lost.to}|{scene.today}"
    person = scene.kitchen.person(lost.to)
    if key in scene.state.told or (lost.to != CREW and (person is None or person.telegram is None)):
        return outcome
    in_charge = scene.kitchen.with_role("lead") or scene.kitchen.with_role("manager")
    told = [p for p in in_charge if p.id != lost.to and p.telegram is not None]
    line = Words("unreachable.crew") if person is None else Words("unreachable.person", {"name": person.name})
    replies = tuple(Reply(p.id, "alert", (line,)) for p in told)
    return outcome + Outcome((r.Told((key,)),), replies) if replies else outcome
