"""What can change: one frozen value per kind of change, and the turn that carries them into history.

These types are the format of the history file. Adding an optional field is free; anything else needs a new
format version and a migration (``bot.store.migrations``). Instants are UTC; the kitchen's zone is for people.
"""

from __future__ import annotations

from datetime import date, datetime, time
from typing import Literal

from msgspec import Struct

from bot.core.kitchen import Duty, Weekday
from intents.types import Part

Status = Literal["on_time", "late", "unscheduled"]
WaitEnd = Literal["finished", "cancelled"]
IncidentKind = Literal["fire", "burn", "gas"]


class Rules(Struct, frozen=True):
    """The part of a kitchen file by which its days are judged, as it stood from some instant on."""

    name: str
    timezone: str
    opens: time
    closes: time
    closed_days: tuple[Weekday, ...]
    closed_dates: tuple[date, ...]
    fryers: tuple[str, ...]
    duties: tuple[Duty, ...]


# --- what people log: each has a number of its own, ``entry``, by which it can be taken back ---


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


class QuestionUnanswered(Struct, frozen=True, tag="question_unanswered"):
    """A message that the helper could not answer, for the trainer."""

    text: str
    language: str
    by: str


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


# --- what was asked and where a conversation stands ---


class Option(Struct, frozen=True):
    """One way to answer an open question: a short answer ("yes", "no", "fryer:2", "1") and what it does."""

    answer: str
    action: str


class Asked(Struct, frozen=True, tag="asked"):
    """The helper asked ``person`` something in ``chat``; short answers are read against ``options``."""

    chat: str
    person: str
    options: tuple[Option, ...]


class Settled(Struct, frozen=True, tag="settled"):
    """Whatever was asked of ``person`` in ``chat`` is no longer open."""

    chat: str
    person: str


class WalkMoved(Struct, frozen=True, tag="walk_moved"):
    """A walk through a guide stands at ``step``: 0 is its cautions, 1 the first step."""

    person: str
    chat: str
    topic: str
    fryer: str | None
    step: int


class WalkEnded(Struct, frozen=True, tag="walk_ended"):
    """A walk was finished or stopped."""

    person: str
    finished: bool


class FryerMentioned(Struct, frozen=True, tag="fryer_mentioned"):
    """The fryer that a person just talked about."""

    person: str
    fryer: str


class LanguageChosen(Struct, frozen=True, tag="language_chosen"):
    """A person wants to be answered in this language, whichever there were words in then."""

    person: str
    language: str


# --- duties and time ---


class RulesTookEffect(Struct, frozen=True, tag="rules_took_effect"):
    """From now on the kitchen's days are judged by these rules."""

    rules: Rules


class DutyMoved(Struct, frozen=True, tag="duty_moved"):
    """From its next occurrence on a duty falls due at this wall time, whatever the kitchen file says of it now."""

    duty: str
    at: time
    by: str


class Told(Struct, frozen=True, tag="told"):
    """These scheduled messages have been said, by their keys; none is ever said again."""

    keys: tuple[str, ...]


class Snoozed(Struct, frozen=True, tag="snoozed"):
    """The reminder of one duty comes again at ``until``."""

    duty: str
    fryer: str | None
    until: datetime
    by: str
    chat: str


class Called(Struct, frozen=True):
    """One duty that a reminder calls to mind: the time it fell due, and the kitchen day of that."""

    duty: str
    fryer: str | None
    due_at: datetime
    day: date


class Reminded(Struct, frozen=True, tag="reminded"):
    """A reminder was sent to ``chat``, where its name is ``key``; ``put_off`` where somebody had asked for it."""

    chat: str
    key: str
    at: datetime
    called: tuple[Called, ...]
    put_off: bool = False


class HandedOver(Struct, frozen=True, tag="handed_over"):
    """A duty that ``by`` had put off was still open when kitchen day ``day`` ended; the next day hears of it."""

    duty: str
    fryer: str | None
    day: date
    by: str


class FewerWanted(Struct, frozen=True, tag="fewer_wanted"):
    """A person wants their own reminders gathered (or, again, each at its time)."""

    person: str
    fewer: bool


class DayEnded(Struct, frozen=True, tag="day_ended"):
    """Every kitchen day up to and including ``day`` is over."""

    day: date


class RoutineHeld(Struct, frozen=True, tag="routine_held"):
    """Nothing routine is sent before ``until``: an emergency is on."""

    until: datetime


# --- delivery ---


class Delivered(Struct, frozen=True, tag="delivered"):
    """An outgoing message reached its chat; ``ref`` is the channel's own name for it there."""

    out: int
    ref: str | None = None


class DeliveryFailed(Struct, frozen=True, tag="delivery_failed"):
    """An outgoing message was given up."""

    out: int
    why: str


Change = (
    Confirmed
    | ReadingTaken
    | DropsCounted
    | NoteLeft
    | OutageBegan
    | OutageEnded
    | StockCounted
    | EvidenceKept
    | Undone
    | Rejudged
    | WaitStarted
    | WaitEnded
    | ResetTried
    | IncidentReported
    | QuestionUnanswered
    | FaultAsked
    | CheckTaken
    | SignedOff
    | SignOffRevoked
    | Asked
    | Settled
    | WalkMoved
    | WalkEnded
    | FryerMentioned
    | LanguageChosen
    | RulesTookEffect
    | DutyMoved
    | Told
    | Snoozed
    | Reminded
    | HandedOver
    | FewerWanted
    | DayEnded
    | RoutineHeld
    | Delivered
    | DeliveryFailed
)


class OutButton(Struct, frozen=True):
    """A button as it is sent: its label in the reader's language and the action it carries."""

    label: str
    action: str


class OutFile(Struct, frozen=True):
    """A file to be made and sent with a message."""

    what: Literal["summary_picture", "guide_picture"]
    on: date | None = None
    name: str | None = None


class Outgoing(Struct, frozen=True):
    """A message as it is sent, in words. ``number`` is unique in the history and never used again."""

    number: int
    at: datetime
    to: str
    kind: str
    text: str
    buttons: tuple[OutButton, ...] = ()
    key: str | None = None
    edit: bool = False
    files: tuple[OutFile, ...] = ()


class Turn(Struct, frozen=True, omit_defaults=True):
    """One step of history: everything that one event changed, and every message that it causes.

    ``cause`` is the channel's own name for the event ("tg:4711"), so that the same event is never taken twice.
    """

    seq: int
    at: datetime
    changes: tuple[Change, ...] = ()
    out: tuple[Outgoing, ...] = ()
    cause: str | None = None
