"""A log of a kitchen that grows by turns, for tests of when duties fall due and how days are judged."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from bot.core import records as r, schedule
from bot.core.calendar import Calendar, calendar
from bot.core.compliance import DayReport, Verdict, judge_day
from bot.core.kitchen import Kitchen
from bot.core.scene import Scene, Speaker, rules_of
from bot.core.schedule import Occurrence
from bot.core.skills import oil
from bot.core.state import State
from tests.core.stage import LIBRARY


@dataclass(frozen=True)
class Verdicts:
    """What a day's report says of each duty on each fryer, and of the day as a whole."""

    of: dict[tuple[str, str | None], Verdict]
    report: DayReport


class Log:
    """A history that grows: every call is one turn, and the state is the fold of all of them."""

    def __init__(self, kitchen: Kitchen, began: datetime) -> None:
        self.kitchen = kitchen
        self.turns: list[r.Turn] = []
        self.state = State()
        self.entries = 0
        self.add(began, r.RulesTookEffect(rules_of(kitchen)))

    @property
    def days(self) -> Calendar:
        """The kitchen's days under the rules in force."""
        return calendar(rules_of(self.kitchen))

    def add(self, at: datetime, *changes: r.Change) -> None:
        """One turn of these changes."""
        turn = r.Turn(len(self.turns) + 1, at, changes)
        self.turns.append(turn)
        self.state.apply(turn, keep=None)

    def entry(self) -> int:
        """The number of the next entry."""
        self.entries += 1
        return self.entries

    def done(
        self, duty: str, fryer: str | None, when: datetime, logged: datetime | None = None, by: str = "ben"
    ) -> r.Confirmed:
        """A duty is confirmed as done at ``when``, in a message at ``logged`` (the same, where None)."""
        number = self.entry()
        occurrence = self.closes(duty, fryer, when, number)
        due_at = occurrence.due_at if occurrence is not None else None
        status = schedule.status_of(occurrence, when) if occurrence is not None else "unscheduled"
        confirmed = r.Confirmed(number, duty, fryer, when, due_at, status, by)
        self.add(logged or when, confirmed)
        return confirmed

    def closes(self, duty: str, fryer: str | None, when: datetime, entry: int) -> Occurrence | None:
        """The occurrence that a confirmation would close."""
        rules = rules_of(self.kitchen)
        slot = schedule.slot(rules, duty, fryer)
        return schedule.closes(self.state, slot, rules, when, entry) if slot is not None else None

    def undo(self, entry: int, at: datetime) -> None:
        """An entry is taken back."""
        self.add(at, r.Undone(entry, "ben"))

    def down(self, fryer: str, at: datetime) -> int:
        """A fryer is out of service from then on; the entry's number."""
        number = self.entry()
        self.add(at, r.OutageBegan(number, fryer, "ben"))
        return number

    def up(self, fryer: str, at: datetime) -> int:
        """A fryer is back in service; the entry's number."""
        number = self.entry()
        self.add(at, r.OutageEnded(number, fryer, "ben"))
        return number

    def drops(self, fryer: str, amount: int, at: datetime) -> int:
        """Basket drops are counted, as the helper counts them; the entry's number."""
        scene = Scene(self.kitchen, LIBRARY, self.state, at)
        outcome = oil.count_drops(scene, Speaker(self.kitchen.people[0], "ben"), fryer, amount)
        self.entries = scene.next_entry
        self.add(at, *outcome.changes)
        return self.entries

    def rules_change(self, kitchen: Kitchen, at: datetime) -> None:
        """The kitchen file changes."""
        self.kitchen = kitchen
        self.add(at, r.RulesTookEffect(rules_of(kitchen)))

    def judged(self, day: date, as_of: datetime | None = None) -> Verdicts:
        """How a day is judged; as of its end, where no instant is given."""
        report = judge_day(self.state, day, as_of or self.days.day_end(day))
        assert report is not None
        return Verdicts(
            {(j.occurrence.slot.duty.id, j.occurrence.slot.fryer): j.verdict for j in report.judged}, report
        )

    def due_at(self, duty: str, fryer: str | None, now: datetime) -> datetime | None:
        """When a duty that isn't daily falls due next (or fell due, where it is overdue)."""
        rules = rules_of(self.kitchen)
        slot = schedule.slot(rules, duty, fryer)
        assert slot is not None
        last = self.state.last_confirmation(duty, fryer)
        found = schedule.pending(self.state, slot, rules, last, now)
        return found.due_at if found is not None else None


MINUTE = timedelta(minutes=1)
