"""A photo kept with the record that it belongs to."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from bot.core.messages import Sent
from bot.core.scene import Scene
from bot.core.skills import photos


def with_photo(event: Sent, scene: Scene, data: bytes, replied: str | None, keep: Callable[[int, bytes], str]) -> Sent:
    """The event with its photo on the disk, before any record speaks of it; as it was where it belongs to none.

    ``keep`` writes it and gives its file's name. Raises ``StoreError`` where it can't.
    """
    person = scene.kitchen.person(event.sender)
    entry = photos.entry_for(scene, person, replied) if person is not None else None
    if entry is None:
        return event
    try:
        return replace(event, entry=entry, file=keep(entry, data))
    except ValueError:
        return replace(event, unusable=True)
