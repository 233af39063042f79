"""What can change: one frozen value per kind of change, and the turn that carries them into history.

These types are the format of the history file. Adding an optional field is free; anything else needs a new
format version and a migration (``bot.store.migrations``). Instants are UTC; the kitchen's zone is for people.
"""

from __future__ import annotations

from datetime import date, datetime, time
from typing import Literal

from msgspec import Struct

from bot.core.entries import (
    AlarmCalledOff as AlarmCalledOff,
    CheckTaken as CheckTaken,
    Confirmed as Confirmed,
    DropsCounted as DropsCounted,
    EvidenceKept as EvidenceKept,
    FaultAsked as FaultAsked,
    IncidentFollowedUp as IncidentFollowedUp,
    IncidentKind as IncidentKind,
    IncidentReported as IncidentReported,
    NoteLeft as NoteLeft,
    OutageBegan as OutageBegan,
    OutageEnded as OutageEnded,
    QuestionUnanswered as QuestionUnanswered,
    ReadingTaken as ReadingTaken,
    Rejudged as Rejudged,
    ResetTried as ResetTried,
    SignedOff as SignedOff,
    SignOffRevoked as SignOffRevoked,
    Status as Status,
    StockCounted as StockCounted,
    Undone as Undone,
    WaitEnd as WaitEnd,
    WaitEnded as WaitEnded,
    WaitStarted as WaitStarted,
)
from bot.core.kitchen import Duty, Weekday
from bot.core.lessons import LessonChange
from bot.core.membership import (
    AgeSet as AgeSet,
    CrewChatSet as CrewChatSet,
    PersonInvited as PersonInvited,
    PersonJoined as PersonJoined,
    PersonLeft as PersonLeft,
    PhoneLost as PhoneLost,
    RoleChanged as RoleChanged,
)
from intents.types import Part, Slots


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
    """A walk through a guide stands at ``step``: 0 is its cautions, 1 the first step.

    ``offered`` where it was interrupted there, and the person was shown how to go on.
    """

    person: str
    chat: str
    topic: str
    fryer: str | None
    step: int
    offered: bool = False


class WalkEnded(Struct, frozen=True, tag="walk_ended"):
    """A walk was finished or stopped."""

    person: str
    finished: bool


class ResetShown(Struct, frozen=True, tag="reset_shown"):
    """Somebody was led to the step that presses a reset: it may have been pressed, whether they say so or not."""

    fryer: str
    part: Part


class HeardUnsurely(Struct, frozen=True, tag="heard_unsurely"):
    """Something spoken would be logged, and was asked back; ``number`` is its own among such."""

    number: int
    chat: str
    person: str
    text: str
    topic: str
    slots: tuple[Slots, ...]


class HeardRight(Struct, frozen=True, tag="heard_right"):
    """What was heard unsurely was right, and was acted upon."""

    number: int


class FryerMentioned(Struct, frozen=True, tag="fryer_mentioned"):
    """The fryer that a person just talked about."""

    person: str
    fryer: str


class SpeechWanted(Struct, frozen=True, tag="speech_wanted"):
    """A person wants to be spoken to (or, again, written to only)."""

    person: str
    spoken: bool


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


class RemindersPaused(Struct, frozen=True, tag="reminders_paused"):
    """No reminder is sent before ``until``, which is the present where a pause is ended: the operator said so."""

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
    | AlarmCalledOff
    | IncidentFollowedUp
    | QuestionUnanswered
    | FaultAsked
    | CheckTaken
    | SignedOff
    | SignOffRevoked
    | Asked
    | Settled
    | WalkMoved
    | WalkEnded
    | ResetShown
    | HeardUnsurely
    | HeardRight
    | FryerMentioned
    | SpeechWanted
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
    | RemindersPaused
    | PersonInvited
    | PersonJoined
    | PersonLeft
    | PhoneLost
    | RoleChanged
    | AgeSet
    | CrewChatSet
    | LessonChange
    | Delivered
    | DeliveryFailed
)


class OutButton(Struct, frozen=True):
    """A button as it is sent: its label in the reader's language and the action it carries."""

    label: str
    action: str


class OutFile(Struct, frozen=True):
    """A file to be made and sent with a message."""

    what: Literal["summary_picture", "guide_picture", "invitation"]
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
    aloud: tuple[str, ...] = ()
    """Lines of it that are to be said aloud as well."""


class Turn(Struct, frozen=True, omit_defaults=True):
    """One step of history: everything that one event changed, and every message that it causes.

    ``cause`` is the channel's own name for the event ("tg:4711"), so that the same event is never taken twice.
    """

    seq: int
    at: datetime
    changes: tuple[Change, ...] = ()
    out: tuple[Outgoing, ...] = ()
    cause: str | None = None
