"""Supplies: what should be left, and what to order."""

from __future__ import annotations

from bot.core.messages import Outcome, Words
from bot.core.scene import Scene, Speaker
from bot.core.state import slot_key

SEALS = "seals_"


def left(scene: Scene, who: Speaker) -> Outcome:
    """What should be left of each supply, and which to reorder."""
    if not scene.kitchen.supplies:
        return scene.answer(who, Words("supplies.none"))
    lines = []
    for name, count in stock(scene).items():
        low = count <= scene.kitchen.supplies[name].reorder_at
        text = "supplies.low" if low else "supplies.fine"
        lines.append(Words(text, {"item": item_words(name), "n": max(count, 0)}))
    return scene.answer(who, *lines, Words("supplies.by_log"))


def low(scene: Scene) -> list[str]:
    """The supplies that are down to their reorder count."""
    return [name for name, count in stock(scene).items() if count <= scene.kitchen.supplies[name].reorder_at]


def stock(scene: Scene) -> dict[str, int]:
    """The count in the kitchen file less what the confirmed duties used up, in pieces."""
    counts = {name: supply.on_hand for name, supply in scene.kitchen.supplies.items()}
    for kind in scene.library.duties.values():
        for fryer in (None, *(f.id for f in scene.kitchen.fryers)):
            times = scene.state.times_done.get(slot_key(kind.id, fryer), 0)
            found = scene.kitchen.fryer(fryer) if fryer is not None else None
            name, pieces = kind.uses or "", 1
            if kind.uses == "seals" and found is not None and found.seals is not None:
                name, pieces = f"{SEALS}{found.seals.colour}", found.seals.count
            if times and name in counts:
                counts[name] -= times * pieces
    return counts


def item_words(name: str) -> Words:
    """A supply as people call it."""
    if name.startswith(SEALS):
        return Words("supply.seals", {"colour": name.removeprefix(SEALS)})
    return Words(f"supply.{name}")
