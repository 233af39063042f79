"""Where a kitchen stands now: a fold of its history and nothing else.

``State.apply`` is the only way it changes. It keeps what decisions need: the whole of the present and the last
weeks of the log. Reports about older days fold the history afresh with ``keep=None``.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator
from datetime import date, datetime, timedelta

from msgspec import Struct, field
from msgspec.structs import replace

from bot.core import records as r
from intents.types import Part

KEEP = timedelta(days=70)
"""How much of the log the present state holds: over two 28-day control-chart windows, with room."""

REMEMBERED_CAUSES = 2000
"""Events of the channel that are recognised when they come again; a channel repeats only the latest few."""


class Logged(Struct):
    """One entry of the log: when it was written down, what it says, and whether it was taken back."""

    at: datetime
    change: r.Change
    undone: bool = False


class RulesSince(Struct, frozen=True):
    """Rules, and the instant from which they hold."""

    since: datetime
    rules: r.Rules


class Outage(Struct):
    """A stretch out of service; ``to`` is None while it lasts."""

    entry: int
    fryer: str
    since: datetime
    to: datetime | None = None


class Wait(Struct):
    """The latest cool-down of one part of one fryer; ``ended`` is None while it runs."""

    fryer: str
    part: Part
    started_at: datetime
    ends_at: datetime
    by: str
    chat: str
    ended: r.WaitEnd | None = None
    reset: bool | None = None
    """Whether the reset that followed worked; None before it was tried."""


class Shelf(Struct):
    """A count of one supply on the shelf, and how often each duty was done on each fryer since then."""

    entry: int
    at: datetime
    count: int
    done: dict[str, int] = field(default_factory=dict)


COUNTS_KEPT = 5
"""Counts of one supply that are kept, so that the latest can be taken back."""


class Question(Struct, frozen=True):
    """An open question: how it may be answered, and since when it is open."""

    options: tuple[r.Option, ...]
    at: datetime


class Walk(Struct, frozen=True):
    """A walk through a guide under way; ``step`` 0 is its cautions."""

    topic: str
    fryer: str | None
    step: int
    chat: str


class Mention(Struct, frozen=True):
    """The fryer a person talked about last."""

    fryer: str
    at: datetime


class SignOff(Struct, frozen=True):
    """That a person may do what a guide says, by whose word and until when; one that was taken back ended then."""

    until: datetime
    by: str
    revoked: bool = False


class Snooze(Struct, frozen=True):
    """A reminder that was put off."""

    until: datetime
    by: str
    chat: str


def slot_key(duty: str, fryer: str | None) -> str:
    """The name of one duty on one fryer (or in the whole kitchen) within the state."""
    return f"{duty}|{fryer or ''}"


class State(Struct):
    """The present of one kitchen. Instants are UTC."""

    seq: int = 0
    at: datetime | None = None
    entries: int = 0
    sent: int = 0
    rules: list[RulesSince] = field(default_factory=list)
    confirmed: dict[str, list[Logged]] = field(default_factory=dict)
    times_done: dict[str, int] = field(default_factory=dict)
    """How often each duty was confirmed on each fryer since the log began, for the stock of supplies."""
    shelves: dict[str, list[Shelf]] = field(default_factory=dict)
    """The latest counts of each supply, oldest first."""
    log: list[Logged] = field(default_factory=list)
    outages: list[Outage] = field(default_factory=list)
    waits: dict[str, Wait] = field(default_factory=dict)
    questions: dict[str, Question] = field(default_factory=dict)
    walks: dict[str, Walk] = field(default_factory=dict)
    mentions: dict[str, Mention] = field(default_factory=dict)
    languages: dict[str, str] = field(default_factory=dict)
    told: dict[str, datetime] = field(default_factory=dict)
    snoozes: dict[str, Snooze] = field(default_factory=dict)
    drops: dict[str, list[Logged]] = field(default_factory=dict)
    """Drops counted, by fryer, oldest first."""
    day_ended: date | None = None
    held_until: datetime | None = None
    checks: dict[str, datetime] = field(default_factory=dict)
    """When each person last passed the check of each guide."""
    sign_offs: dict[str, SignOff] = field(default_factory=dict)
    """The latest sign-off of each person for each guide, ended ones too."""
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

    def last_confirmation(
        self, duty: str, fryer: str | None, before: datetime | None = None, entry: int | None = None
    ) -> Logged | None:
        """The latest confirmation that stands, by the time it says it was done, or None.

        With ``before``, the latest that was done earlier than that; with ``entry`` too, one done at that very
        instant counts as earlier if it was written down before that entry.
        """
        best: Logged | None = None
        for logged in self.confirmed.get(slot_key(duty, fryer), ()):
            when = done_at(logged.change)
            if logged.undone:
                continue
            if before is not None and when >= before:
                number = getattr(logged.change, "entry", 0)
                if when > before or entry is None or number >= entry:
                    continue
            if best is None or when >= done_at(best.change):
                best = logged
        return best

    def out_of_service(self, fryer: str | None, at: datetime) -> bool:
        """Whether a fryer was out of service at an instant."""
        return any(o.fryer == fryer and o.since <= at and (o.to is None or at < o.to) for o in self.outages)

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
        match change:
            case r.Confirmed():
                self.entries = max(self.entries, change.entry)
                key = slot_key(change.duty, change.fryer)
                self.confirmed.setdefault(key, []).append(Logged(at, change))
                self.times_done[key] = self.times_done.get(key, 0) + 1
                self._used(change, 1)
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
            case r.Rejudged():
                entry = self.entry(change.entry)
                if entry is not None and isinstance(entry.change, r.Confirmed):
                    entry.change = replace(entry.change, due_at=change.due_at, status=change.status)
            case r.OutageBegan():
                self.entries = max(self.entries, change.entry)
                self.outages.append(Outage(change.entry, change.fryer, at))
                self.log.append(Logged(at, change))
            case r.OutageEnded():
                self.entries = max(self.entries, change.entry)
                for outage in self.outages:
                    if outage.fryer == change.fryer and outage.to is None:
                        outage.to = at
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
            case r.ResetTried():
                wait = self.waits.get(slot_key(change.part, change.fryer))
                if wait is not None:
                    wait.reset = change.worked
                self.log.append(Logged(at, change))
            case r.IncidentReported() | r.QuestionUnanswered() | r.FaultAsked():
                self.log.append(Logged(at, change))
            case r.Asked():
                self.questions[f"{change.chat}|{change.person}"] = Question(change.options, at)
            case r.Settled():
                self.questions.pop(f"{change.chat}|{change.person}", None)
            case r.WalkMoved():
                self.walks[change.person] = Walk(change.topic, change.fryer, change.step, change.chat)
            case r.WalkEnded():
                self.walks.pop(change.person, None)
            case r.FryerMentioned():
                self.mentions[change.person] = Mention(change.fryer, at)
            case r.LanguageChosen():
                self.languages[change.person] = change.language
            case r.RulesTookEffect():
                self.rules.append(RulesSince(at, change.rules))
            case r.Told():
                for key in change.keys:
                    self.told[key] = at
            case r.Snoozed():
                self.snoozes[slot_key(change.duty, change.fryer)] = Snooze(change.until, change.by, change.chat)
            case r.DayEnded():
                self.day_ended = change.day
            case r.CheckTaken(person=person, topic=topic):
                if change.right == change.of:
                    self.checks[slot_key(topic, person)] = at
            case r.SignedOff(person=person, topic=topic):
                self.sign_offs[slot_key(topic, person)] = SignOff(change.until, change.by)
            case r.SignOffRevoked(person=person, topic=topic):
                self.sign_offs[slot_key(topic, person)] = SignOff(at, change.by, revoked=True)
            case r.RoutineHeld():
                self.held_until = change.until
            case r.Delivered():
                message = self.outbox.pop(change.out, None)
                if message is not None and message.key is not None and change.ref is not None:
                    self.refs[f"{message.to}|{message.key}"] = change.ref
            case r.DeliveryFailed():
                self.outbox.pop(change.out, None)

    def _undo(self, number: int) -> None:
        entry = self.entry(number)
        if entry is None or entry.undone:
            return
        entry.undone = True
        match entry.change:
            case r.Confirmed(duty=duty, fryer=fryer):
                self.times_done[slot_key(duty, fryer)] -= 1
                self._used(entry.change, -1)
            case r.StockCounted(item=item):
                self.shelves[item] = [shelf for shelf in self.shelves.get(item, []) if shelf.entry != number]
            case r.OutageBegan():
                self.outages = [o for o in self.outages if o.entry != number]
            case r.OutageEnded(fryer=fryer):
                for outage in self.outages:
                    if outage.fryer == fryer and outage.to == entry.at:
                        outage.to = None
            case _:
                pass

    def _used(self, confirmed: r.Confirmed, times: int) -> None:
        """What was done before a count is in it already, whenever it was written down."""
        key = slot_key(confirmed.duty, confirmed.fryer)
        for counts in self.shelves.values():
            for shelf in counts:
                if confirmed.done_at > shelf.at:
                    shelf.done[key] = shelf.done.get(key, 0) + times

    def _forget_before(self, limit: datetime) -> None:
        """Let go of what is older. All rules stay: they are few, and say since when each duty is one."""
        self.log = _since(self.log, limit)
        self.drops = {fryer: _since(counted, limit) for fryer, counted in self.drops.items()}
        for key, entries in self.confirmed.items():
            if not entries or entries[0].at >= limit:
                continue
            recent = _since(entries, limit)
            # The last one that stands must stay, however old: the next due day counts from it.
            latest = max((e for e in entries if not e.undone), key=lambda e: done_at(e.change), default=None)
            if latest is not None and latest not in recent:
                recent.insert(0, latest)
            self.confirmed[key] = recent
        self.outages = [o for o in self.outages if o.to is None or o.to >= limit]
        self.told = {key: at for key, at in self.told.items() if at >= limit}


def _since(entries: list[Logged], limit: datetime) -> list[Logged]:
    """The entries written down from ``limit`` on; they are in that order."""
    return entries[bisect_left(entries, limit, key=lambda e: e.at) :]


def done_at(change: r.Change) -> datetime:
    """When a confirmation says its duty was done. Raises ``TypeError`` for any other change."""
    if not isinstance(change, r.Confirmed):
        raise TypeError(f"not a confirmation: {change!r}")
    return change.done_at


def number_of(entry: Logged) -> int:
    """The number of a log entry; 0 for one that has none."""
    return getattr(entry.change, "entry", 0)
