"""Where a kitchen stands now: a fold of its history and nothing else.

``State.apply`` is the only way it changes. It keeps what decisions need: the whole of the present and the last
weeks of the log. Reports about older days fold the history afresh with ``keep=None``.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator
from datetime import date, datetime, time, timedelta

from msgspec import Struct, field
from msgspec.structs import replace

from bot.core import records as r
from bot.core.lessons import LessonChange, Lessons
from bot.core.membership import Membership, MembershipChange
from bot.core.pieces import (
    Logged,
    Mention,
    Outage,
    Question,
    RulesSince,
    Shelf,
    SignOff,
    Snooze,
    Unsure,
    Wait,
    Walk,
    count_use,
    done_at,
    on_an_earlier_day,
    slot_key,
    with_moved,
    with_the_last,
    written_since,
)
from bot.core.touched import ALL_SLOTS, DROPS, OF_FRYER, PAST_DAYS, touch

FOLD_VERSION = 3
"""Raised whenever ``State.apply`` comes to make another state of the same turns."""

KEEP = timedelta(days=70)
"""How much of the log the present state holds: over two 28-day control-chart windows, with room."""

KEEP_REMINDERS = timedelta(days=8)
"""How long a reminder is kept true by editing it; over a week old, nobody scrolls up to it."""

HANDOVER = "handover|"
"""How the key begins under which it is remembered that a handover was said."""

COUNTS_KEPT = 5
"""Counts of one supply that are kept, so that the latest can be taken back."""

REMEMBERED_CAUSES = 2000
"""Events of the channel that are recognised when they come again; a channel repeats only the latest few."""


class State(Struct):
    """The present of one kitchen. Instants are UTC."""

    seq: int = 0
    at: datetime | None = None
    entries: int = 0
    sent: int = 0
    rules: list[RulesSince] = field(default_factory=list)
    file_rules: r.Rules | None = None
    """The rules as the kitchen file had them when they were last taken in."""
    moved: dict[str, time] = field(default_factory=dict)
    """Wall times that a manager gave to duties in chat; they lie over the kitchen file's."""
    confirmed: dict[str, list[Logged]] = field(default_factory=dict)
    times_done: dict[str, int] = field(default_factory=dict)
    """How often each duty was confirmed on each fryer since the log began, for the stock of supplies."""
    shelves: dict[str, list[Shelf]] = field(default_factory=dict)
    """The latest counts of each supply, oldest first."""
    log: list[Logged] = field(default_factory=list)
    called_off: dict[str, datetime] = field(default_factory=dict)
    """Emergencies that were none, and when that was said; see ``called_off_at``."""
    outages: list[Outage] = field(default_factory=list)
    waits: dict[str, Wait] = field(default_factory=dict)
    questions: dict[str, Question] = field(default_factory=dict)
    walks: dict[str, Walk] = field(default_factory=dict)
    unsure: dict[int, Unsure] = field(default_factory=dict)
    """What was heard today, asked back, and not logged yet."""
    mentions: dict[str, Mention] = field(default_factory=dict)
    languages: dict[str, str] = field(default_factory=dict)
    speech: dict[str, bool] = field(default_factory=dict)
    """Who wants to be spoken to."""
    told: dict[str, datetime] = field(default_factory=dict)
    snoozes: dict[str, Snooze] = field(default_factory=dict)
    drops: dict[str, list[Logged]] = field(default_factory=dict)
    """Drops counted, by fryer, oldest first."""
    reminded: dict[str, r.Reminded] = field(default_factory=dict)
    """Reminders of the last days, by chat and key, oldest first."""
    handed: dict[str, r.HandedOver] = field(default_factory=dict)
    """What the next kitchen day is still to be told of."""
    fewer: dict[str, bool] = field(default_factory=dict)
    """Who wants their own reminders gathered."""
    touched: dict[str, int] = field(default_factory=dict)
    """The turn that last changed when a duty falls due, by slot and by the names of ``bot.core.touched``."""
    day_ended: date | None = None
    held_until: datetime | None = None
    paused_until: datetime | None = None
    checks: dict[str, datetime] = field(default_factory=dict)
    """When each person last passed the check of each guide."""
    sign_offs: dict[str, SignOff] = field(default_factory=dict)
    """The latest sign-off of each person for each guide, ended ones too."""
    membership: Membership = field(default_factory=Membership)
    lessons: Lessons = field(default_factory=Lessons)
    outbox: dict[int, r.Outgoing] = field(default_factory=dict)
    refs: dict[str, str] = field(default_factory=dict)
    causes: dict[str, int] = field(default_factory=dict)

    def apply(self, turn: r.Turn, keep: timedelta | None = KEEP) -> None:
        """Take one turn in. ``keep`` None holds the whole log, for reports."""
        self.seq = turn.seq
        self.at = turn.at
        if turn.cause is not None:
            self.causes[turn.cause] = turn.seq
            if len(self.causes) > REMEMBERED_CAUSES:
                del self.causes[next(iter(self.causes))]
        for change in turn.changes:
            self._take(change, turn.at)
            if keep is not None and isinstance(change, r.DayEnded):
                self._forget_before(turn.at - keep)
        for message in turn.out:
            self.sent = max(self.sent, message.number)
            self.outbox[message.number] = message

    # --- reading ---

    def log_began(self) -> datetime | None:
        """The instant of the first rules, from which the log speaks."""
        return self.rules[0].since if self.rules else None

    def current_rules(self) -> r.Rules | None:
        """The rules in force now."""
        return self.rules[-1].rules if self.rules else None

    def confirmations(self, duty: str, fryer: str | None) -> list[Logged]:
        """Confirmations of one duty that stand, by the time they say it was done."""
        kept = [entry for entry in self.confirmed.get(slot_key(duty, fryer), ()) if not entry.undone]
        return sorted(kept, key=lambda entry: done_at(entry.change))

    def done_between(self, duty: str, fryer: str | None, start: datetime, end: datetime) -> list[Logged]:
        """Confirmations that stand and say it was done from ``start`` on and before ``end``, the latest entry first."""
        # Nothing is logged before it is done, so most are past without a closer look.
        return [
            entry
            for entry in reversed(self.confirmed.get(slot_key(duty, fryer), ()))
            if entry.at >= start and not entry.undone and start <= done_at(entry.change) < end
        ]

    def last_confirmation(
        self, duty: str, fryer: str | None, before: datetime | None = None, entry: int | None = None
    ) -> Logged | None:
        """The latest confirmation that stands, by the time it says it was done, or None.

        With ``before``, the latest that was done earlier than that; with ``entry`` too, one done at that very
        instant counts as earlier if it was written down before that entry.
        """
        best: Logged | None = None
        for logged in reversed(self.confirmed.get(slot_key(duty, fryer), ())):
            if best is not None and logged.at < done_at(best.change):
                continue  # nothing is logged before it is done
            when = done_at(logged.change)
            if logged.undone:
                continue
            if before is not None and when >= before:
                number = getattr(logged.change, "entry", 0)
                if when > before or entry is None or number >= entry:
                    continue
            if best is None or when > done_at(best.change):
                best = logged
        return best

    def out_of_service(self, fryer: str | None, at: datetime) -> bool:
        """Whether a fryer was out of service at an instant."""
        return any(o.fryer == fryer and o.since <= at and (o.to is None or at < o.to) for o in self.outages)

    def called_off_at(self, reported: datetime, incident: r.IncidentReported) -> datetime | None:
        """When an emergency that was reported at that instant was said to be none; None where it stands."""
        return self.called_off.get(_cry(reported, incident.what, incident.by))

    def drops_after(self, fryers: Iterable[str], since: datetime | None) -> list[Logged]:
        """Drops counted on these fryers after ``since`` (all that are kept, where None), oldest first."""
        found: list[Logged] = []
        for fryer in fryers:
            counted = self.drops.get(fryer, [])
            first = bisect_right(counted, since, key=lambda e: e.at) if since is not None else 0
            found += [entry for entry in counted[first:] if not entry.undone]
        return sorted(found, key=lambda e: e.at)

    def entry(self, number: int) -> Logged | None:
        """The log entry of that number, or None."""
        return next((e for e in self.all_entries() if getattr(e.change, "entry", None) == number), None)

    def all_entries(self) -> Iterator[Logged]:
        """Every entry that is kept, confirmations first."""
        for entries in self.confirmed.values():
            yield from entries
        for counted in self.drops.values():
            yield from counted
        yield from self.log

    # --- folding ---

    def _take(self, change: r.Change, at: datetime) -> None:
        if isinstance(change, MembershipChange):
            self.membership.take(change, at)
            return
        if isinstance(change, LessonChange):
            self.lessons.take(change, at)
            return
        match change:
            case r.Confirmed():
                self.entries = max(self.entries, change.entry)
                key = slot_key(change.duty, change.fryer)
                self.confirmed.setdefault(key, []).append(Logged(at, change))
                self._touch(key)
                if self.rules and on_an_earlier_day(self.rules[-1].rules, change.done_at, at):
                    self._touch(PAST_DAYS)
                self.times_done[key] = self.times_done.get(key, 0) + 1
                count_use(self.shelves, change, 1)
                self.snoozes.pop(key, None)
            case r.ReadingTaken() | r.NoteLeft():
                self.entries = max(self.entries, change.entry)
                self.log.append(Logged(at, change))
            case r.StockCounted():
                self.entries = max(self.entries, change.entry)
                self.log.append(Logged(at, change))
                counts = self.shelves.setdefault(change.item, [])
                counts.append(Shelf(change.entry, at, change.count))
                del counts[:-COUNTS_KEPT]
            case r.DropsCounted():
                self.entries = max(self.entries, change.entry)
                self.drops.setdefault(change.fryer, []).append(Logged(at, change))
                self._touch(DROPS)
            case r.Rejudged():
                entry = self.entry(change.entry)
                if entry is not None and isinstance(entry.change, r.Confirmed):
                    entry.change = replace(entry.change, due_at=change.due_at, status=change.status)
                    self._touch(slot_key(entry.change.duty, entry.change.fryer), PAST_DAYS)
            case r.OutageBegan():
                self.entries = max(self.entries, change.entry)
                self.outages.append(Outage(change.entry, change.fryer, at))
                self._touch(OF_FRYER + change.fryer, PAST_DAYS)
                self.log.append(Logged(at, change))
            case r.OutageEnded():
                self.entries = max(self.entries, change.entry)
                for outage in self.outages:
                    if outage.fryer == change.fryer and outage.to is None:
                        outage.to = at
                self._touch(OF_FRYER + change.fryer, PAST_DAYS)
                self.log.append(Logged(at, change))
            case r.Undone():
                self._undo(change.entry)
            case r.WaitStarted():
                self.waits[slot_key(change.part, change.fryer)] = Wait(
                    change.fryer, change.part, at, change.ends_at, change.by, change.chat
                )
                self.log.append(Logged(at, change))
            case r.WaitEnded():
                wait = self.waits.get(slot_key(change.part, change.fryer))
                if wait is not None:
                    wait.ended = change.how
                self.log.append(Logged(at, change))
            case r.ResetShown():
                if (wait := self.waits.get(slot_key(change.part, change.fryer))) is not None:
                    wait.shown = True
            case r.ResetTried():
                wait = self.waits.get(slot_key(change.part, change.fryer))
                if wait is not None:
                    wait.reset = change.worked
                self.log.append(Logged(at, change))
            case r.IncidentReported() | r.IncidentFollowedUp() | r.QuestionUnanswered() | r.FaultAsked():
                self.log.append(Logged(at, change))
                if isinstance(change, r.QuestionUnanswered) and change.lesson is not None:
                    self.lessons.heard(change.lesson, change.text, change.language, at)
            case r.AlarmCalledOff():
                cries = (_cry(reported, change.what, change.raised_by) for reported in change.reported_at)
                self.called_off |= dict.fromkeys(cries, at)
                self.log.append(Logged(at, change))
            case r.Asked():
                self.questions[f"{change.chat}|{change.person}"] = Question(change.options, at)
            case r.Settled():
                self.questions.pop(f"{change.chat}|{change.person}", None)
            case r.WalkMoved():
                self.walks[change.person] = Walk(change.topic, change.fryer, change.step, change.chat, change.offered)
            case r.WalkEnded():
                self.walks.pop(change.person, None)
            case r.HeardUnsurely():
                self.unsure[change.number] = Unsure(change, at)
            case r.HeardRight():
                self.unsure.pop(change.number, None)
            case r.FryerMentioned():
                self.mentions[change.person] = Mention(change.fryer, at)
            case r.SpeechWanted():
                self.speech[change.person] = change.spoken
            case r.LanguageChosen():
                self.languages[change.person] = change.language
            case r.RulesTookEffect():
                before = {duty.id: duty.at for duty in self.file_rules.duties} if self.file_rules is not None else {}
                # A time that was changed in the file is newer than what was said in chat.
                kept = {d.id for d in change.rules.duties if d.at is not None and before.get(d.id, d.at) == d.at}
                self.moved = {duty: wall for duty, wall in self.moved.items() if duty in kept}
                self.file_rules = change.rules
                self._judge_by(at)
            case r.DutyMoved():
                self.moved[change.duty] = change.at
                self._judge_by(at)
                self.log.append(Logged(at, change))
            case r.Told():
                for key in change.keys:
                    self.told[key] = at
                    if key.startswith(HANDOVER):
                        self.handed.clear()
            case r.Snoozed():
                self.snoozes[slot_key(change.duty, change.fryer)] = Snooze(change.until, change.by, change.chat)
            case r.Reminded():
                self.reminded[f"{change.chat}|{change.key}"] = change
            case r.HandedOver():
                self.snoozes.pop(slot_key(change.duty, change.fryer), None)
                self.handed[slot_key(change.duty, change.fryer)] = change
            case r.FewerWanted():
                self.fewer[change.person] = change.fewer
            case r.DayEnded():
                self.day_ended = change.day
                self.unsure.clear()
                self.reminded = {key: sent for key, sent in self.reminded.items() if sent.at >= at - KEEP_REMINDERS}
            case r.CheckTaken(person=person, topic=topic):
                if change.right == change.of:
                    self.checks[slot_key(topic, person)] = at
            case r.SignedOff(person=person, topic=topic):
                self.sign_offs[slot_key(topic, person)] = SignOff(change.until, change.by)
            case r.SignOffRevoked(person=person, topic=topic):
                self.sign_offs[slot_key(topic, person)] = SignOff(at, change.by, revoked=True)
            case r.RoutineHeld():
                self.held_until = change.until
            case r.RemindersPaused():
                self.paused_until = change.until
                self.log.append(Logged(at, change))
            case r.Delivered():
                message = self.outbox.pop(change.out, None)
                if message is not None and message.key is not None and change.ref is not None:
                    self.refs[f"{message.to}|{message.key}"] = change.ref
            case r.DeliveryFailed():
                self.outbox.pop(change.out, None)

    def _touch(self, *names: str) -> None:
        for name in names:
            touch(self.touched, name, self.seq)

    def _judge_by(self, at: datetime) -> None:
        """From ``at`` on, days are judged by the file's rules with what was moved in chat."""
        rules = self.file_rules
        if rules is None:
            return
        self.rules.append(RulesSince(at, with_moved(rules, self.moved)))
        self._touch(ALL_SLOTS)

    def _undo(self, number: int) -> None:
        entry = self.entry(number)
        if entry is None or entry.undone:
            return
        entry.undone = True
        self._touch(PAST_DAYS)
        match entry.change:
            case r.Confirmed(duty=duty, fryer=fryer):
                self._touch(slot_key(duty, fryer))
                self.times_done[slot_key(duty, fryer)] -= 1
                count_use(self.shelves, entry.change, -1)
            case r.DropsCounted():
                self._touch(DROPS)
            case r.StockCounted(item=item):
                self.shelves[item] = [shelf for shelf in self.shelves.get(item, []) if shelf.entry != number]
            case r.OutageBegan(fryer=fryer):
                self._touch(OF_FRYER + fryer)
                self.outages = [o for o in self.outages if o.entry != number]
            case r.OutageEnded(fryer=fryer):
                self._touch(OF_FRYER + fryer)
                for outage in self.outages:
                    if outage.fryer == fryer and outage.to == entry.at:
                        outage.to = None
            case _:
                pass

    def _forget_before(self, limit: datetime) -> None:
        """Let go of what is older. All rules stay: they are few, and say since when each duty is one."""
        self.log = written_since(self.log, limit)
        self.drops = {fryer: written_since(counted, limit) for fryer, counted in self.drops.items()}
        self.confirmed = {key: with_the_last(entries, limit) for key, entries in self.confirmed.items()}
        self.outages = [o for o in self.outages if o.to is None or o.to >= limit]
        self.told = {key: at for key, at in self.told.items() if at >= limit}
        self.called_off = {key: at for key, at in self.called_off.items() if at >= limit}


def _cry(reported: datetime, what: str, by: str) -> str:
    return f"{what}|{by}|{reported.timestamp()}"
