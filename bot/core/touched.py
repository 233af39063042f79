"""Which turn last changed what a duty's times stand on, so that only that need be worked out anew."""

from __future__ import annotations

from collections.abc import Iterator

ALL_SLOTS, DROPS, PAST_DAYS, OF_FRYER = "*", "*drops", "*past", "*fryer|"
"""Beside the names of slots: all slots, those that count drops, what days before the turn's own came to, and the
slots of one fryer (with its id)."""


def touch(touched: dict[str, int], name: str, seq: int) -> None:
    """Note that the turn ``seq`` changed what bears that name; the latest stands last."""
    touched.pop(name, None)
    touched[name] = seq


def touched_since(touched: dict[str, int], seq: int) -> Iterator[str]:
    """What was touched by the turns after ``seq``, the latest first."""
    for name, turn in reversed(touched.items()):
        if turn <= seq:
            return
        yield name
