"""What a message says, as plain values.

These types know language results only: a topic, slots, a confidence. What a kitchen then does about it
is the business of whoever asked.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Language = str
"""A language's code, as its files are named (ISO 639-1); which there are, the files say."""
Part = Literal["pump", "high_limit"]
Unit = Literal["F", "C", "percent", "drops"]
Period = Literal["this_week", "last_week", "this_month", "last_month"]


@dataclass(frozen=True, slots=True)
class Slots:
    """What one message states; a field is None (or False) where it states nothing.

    The first group is the public contract of ``vatside understand``; the second helps the core to read the
    first one rightly and is never printed there.
    """

    fryer: str | None = None
    """The kitchen's own id of a fryer."""
    part: Part | None = None
    duty: str | None = None
    amount: float | None = None
    unit: Unit | None = None
    minutes: int | None = None
    """A length of time, in minutes ("in 20", "hace media hora")."""
    clock: str | None = None
    """A wall time, "HH:MM" on the 24-hour clock."""
    note: str | None = None
    not_done: bool = False
    """True where the message says that a duty was not done."""

    unknown_fryer: str | None = None
    """A fryer that the message names and the kitchen hasn't got ("fryer 9" -> "9")."""
    clock_is_vague: bool = False
    """True where the words leave morning or afternoon open ("at 4")."""
    days_ago: int | None = None
    """0 today, 1 yesterday or last night; None where no day is named."""
    weekday: int | None = None
    """The day of the week that is named, 0 for Monday."""
    period: Period | None = None
    """The week or month that is named."""
    after_rush: bool = False
    """True where the time named is the end of the rush."""
    tomorrow: bool = False
    """True where the message names the next day ("remind me tomorrow")."""
    guide: str | None = None
    """The guide that a message on training points to ("who is trained on the boil-out": "guide.boil_out")."""
    ago: bool = False
    """True where ``minutes`` counts back from now ("20 minutes ago")."""
    future: bool = False
    """True where the time stated lies ahead ("tomorrow", "in 20 minutes")."""
    all_fryers: bool = False
    """True where the message speaks of all fryers at once ("on all three")."""
    item: str | None = None
    """A supply that is named: "filter_pads", "oil_jugs", "seals"."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One topic a message might be about, with the chance (0 to 1) that it is."""

    topic: str
    confidence: float


@dataclass(frozen=True, slots=True)
class Understood:
    """What a message was taken to mean.

    ``topic`` is None where the message is outside what the helper can answer, too vague, or blank.
    ``choices`` holds the best topics, likeliest first, so that the caller can ask "did you mean".
    ``more`` holds the further slot sets of a message that states several things at once
    ("pad and skim done on 1 and 3"): one entry for each after ``slots``.
    """

    text: str
    topic: str | None
    confidence: float
    language: Language
    slots: Slots = field(default_factory=Slots)
    more: tuple[Slots, ...] = ()
    choices: tuple[Choice, ...] = ()
    said_fryer: str | None = None
    """The kitchen's fryer that a bare answer names ("2", "the falafel one"), whatever the topic."""
    said_number: int | None = None
    """The number that a bare answer gives ("2", "the second one", "dos")."""
