"""The list of topics, read from ``topics.toml``."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

FILE = Path(__file__).with_name("topics.toml")


@dataclass(frozen=True, slots=True)
class Topic:
    """One thing a message can be about."""

    id: str
    about: str
    """What it means, in one English line."""
    slots: frozenset[str]
    """The public slots that a message on it may state."""
    amount: str | None
    """The kind of number it is about ("percent", "degrees", "count"), if it is about one."""
    inside: bool
    """Whether the helper answers it; False for what is outside, and reported as no topic."""
    public: bool = True
    """Whether ``vatside understand`` names it; False for one that only the helper itself knows."""


@cache
def topics() -> dict[str, Topic]:
    """All topics by id, those inside first."""
    data = tomllib.loads(FILE.read_text(encoding="utf-8"))
    return {
        entry["id"]: Topic(
            entry["id"],
            entry["about"],
            frozenset(entry["slots"]),
            entry.get("amount"),
            inside,
            inside and entry.get("public", True),
        )
        for group, inside in (("topics", True), ("outside", False))
        for entry in data[group]
    }
