"""What people log: a frozen value per kind of entry, as it stands in the history.

An entry with a number of its own, ``entry``, can be taken back by it. ``bot.core.records`` says how these types may
change.
"""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from msgspec import Struct

from intents.types import Part

Status = Literal["on_time", "late", "unscheduled"]
WaitEnd = Literal["finished", "cancelled"]
IncidentKind = Literal["fire", "burn", "gas"]


class Confirmed(Struct, frozen=True, tag="confirmed"):
    """A duty was done at ``done_at``; ``due_at`` is that of the occurrence it closes, if it closes one."""

    entry: int
    duty: str
    fryer: str | None
    done_at: datetime
    due_at: datetime | None
    status: Status
    by: str


class ReadingTaken(Struct, frozen=True, tag="reading_taken"):
    """An oil test (percent polar compounds) or a temperature (F or C)."""

    entry: int
    what: Literal["oil_test", "temperature"]
    fryer: str
    value: float
    unit: Literal["percent", "F", "C"]
    by: str


class DropsCounted(Struct, frozen=True, tag="drops_counted"):
    """Basket drops cooked on one fryer."""

    entry: int
    fryer: str
    amount: int
    by: str


class NoteLeft(Struct, frozen=True, tag="note_left"):
    """A note for the next shift."""

    entry: int
    text: str
    by: str


class OutageBegan(Struct, frozen=True, tag="outage_began"):
    """A fryer is out of service from now on."""

    entry: int
    fryer: str
    by: str


class OutageEnded(Struct, frozen=True, tag="outage_ended"):
    """A fryer is back in service."""

    entry: int
    fryer: str
    by: str


class StockCounted(Struct, frozen=True, tag="stock_counted"):
    """A supply was counted on the shelf, in pieces; ``item`` is its name in the kitchen file."""

    entry: int
    item: str
    count: int
    by: str


class EvidenceKept(Struct, frozen=True, tag="evidence_kept"):
    """A photo was kept with the entry of that number; ``file`` is its name in the store's folder of photos."""

    entry: int
    file: str
    by: str


class Undone(Struct, frozen=True, tag="undone"):
    """An entry was taken back; it stays in the history, marked."""

    entry: int
    by: str


class Rejudged(Struct, frozen=True, tag="rejudged"):
    """A confirmation is worth something else since an earlier one of the same duty was taken back."""

    entry: int
    due_at: datetime | None
    status: Status


class WaitStarted(Struct, frozen=True, tag="wait_started"):
    """A cool-down runs for one part of one fryer until ``ends_at``, an absolute instant."""

    fryer: str
    part: Part
    ends_at: datetime
    by: str
    chat: str


class WaitEnded(Struct, frozen=True, tag="wait_ended"):
    """A cool-down came to its end, or was cancelled by someone."""

    fryer: str
    part: Part
    how: WaitEnd
    by: str | None = None


class ResetTried(Struct, frozen=True, tag="reset_tried"):
    """A reset was tried after its wait; ``worked`` where it clicked and held."""

    fryer: str
    part: Part
    worked: bool
    by: str


class IncidentReported(Struct, frozen=True, tag="incident_reported"):
    """An emergency was reported."""

    what: IncidentKind
    by: str
    chat: str


class AlarmCalledOff(Struct, frozen=True, tag="alarm_called_off"):
    """The emergencies that ``raised_by`` reported at these instants were none; ``by`` says so."""

    what: IncidentKind
    raised_by: str
    reported_at: tuple[datetime, ...]
    by: str


class IncidentFollowedUp(Struct, frozen=True, tag="incident_followed_up"):
    """``by`` says whether the emergency that ``raised_by`` reported at that instant is over."""

    what: IncidentKind
    raised_by: str
    reported_at: datetime
    over: bool
    by: str


class QuestionUnanswered(Struct, frozen=True, tag="question_unanswered"):
    """A message that the helper could not answer, for the trainer, who finds it under the number ``lesson``."""

    text: str
    language: str
    by: str
    lesson: int | None = None


class FaultAsked(Struct, frozen=True, tag="fault_asked"):
    """Somebody asked about a fault of one fryer."""

    topic: str
    fryer: str
    by: str


# --- training ---


class CheckTaken(Struct, frozen=True, tag="check_taken"):
    """A person took the knowledge check of a guide: so many answers were right, of so many."""

    person: str
    topic: str
    right: int
    of: int


class SignedOff(Struct, frozen=True, tag="signed_off"):
    """A lead or trainer has seen that a person can do what a guide says; it holds until then."""

    person: str
    topic: str
    by: str
    until: datetime


class SignOffRevoked(Struct, frozen=True, tag="sign_off_revoked"):
    """A sign-off was taken back."""

    person: str
    topic: str
    by: str
