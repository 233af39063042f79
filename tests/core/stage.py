"""A stage for the core alone: events in, replies out, the state folded in memory. No words, no files, no clock."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime, time, timedelta
from typing import Any

from bot.core import agenda, roster
from bot.core.conversation import respond
from bot.core.kitchen import Duty, Every, Fryer, Kitchen, Person, Seals, Supply
from bot.core.library import DutyKind, EmergencyShape, GuideShape, Library, StepShape
from bot.core.messages import CREW, Event, Reply, Said, Tapped, Tick, Words
from bot.core.records import Change, Outgoing, RulesTookEffect, Turn
from bot.core.scene import Scene, rules_of
from bot.core.state import State
from intents.types import Choice, Slots, Understood

NEW_YORK = "America/New_York"


def local(text: str) -> datetime:
    """A wall time in New York in summer, "2026-09-15 21:30"."""
    return datetime.fromisoformat(f"{text}-04:00").astimezone(UTC)


def daily(duty: str, at: str, fryers: tuple[str, ...] | None, grace: int = 30, escalate: int = 60) -> Duty:
    """A daily duty."""
    hour, minute = at.split(":")
    return Duty(
        duty,
        Every("day"),
        time(int(hour), int(minute)),
        fryers,
        timedelta(minutes=grace),
        timedelta(minutes=escalate),
    )


def kitchen(*duties: Duty, **changes: Any) -> Kitchen:
    """A kitchen with three fryers and one person in each role."""
    base: dict[str, Any] = {
        "name": "Test Kitchen",
        "timezone": NEW_YORK,
        "language": "en",
        "opens": time(10),
        "closes": time(22),
        "summary_at": time(22, 30),
        "fryers": (
            Fryer("1", ("fries fryer",), "electric", "LK-40", "A1", 18, Seals("black", "25 x 3 mm", 3)),
            Fryer("2", ("falafel fryer",), "gas"),
            Fryer("3", ("doughnut fryer",), "electric"),
        ),
        "people": (
            Person("ben", "Ben", "cook", "en"),
            Person("rosa", "Rosa", "cook", "es"),
            Person("teo", "Teo", "cook", "en", under_16=True),
            Person("maya", "Maya", "lead", "en"),
            Person("omar", "Omar", "manager", "en"),
            Person("lena", "Lena", "trainer", "en"),
        ),
        "duties": duties,
        "closed_days": ("monday",),
        "service_contact": "Night desk, 555 0142",
        "polar_limit_percent": 24,
        "supplies": {"filter_pads": Supply(40, 15)},
    }
    return Kitchen(**(base | changes))


LIBRARY = Library(
    languages=("en", "es"),
    guides={
        "guide.pad_change": GuideShape(
            "guide.pad_change", hot_oil=True, risk="high", logs="pad_change", cautions=2, gear=2,
            steps=(StepShape(), StepShape(see=True), StepShape(if_not=True)),
        ),
        "guide.start_up": GuideShape(
            "guide.start_up", by_power=True, cautions=1,
            steps=(StepShape(), StepShape(power="gas"), StepShape(power="electric"), StepShape()),
        ),
        "guide.reset_pump": GuideShape(
            "guide.reset_pump", hot_oil=True, risk="high", resets="pump", cautions=1, steps=(StepShape(), StepShape())
        ),
        "guide.reset_high_limit": GuideShape(
            "guide.reset_high_limit", hot_oil=True, risk="high", resets="high_limit", cautions=1, steps=(StepShape(),)
        ),
        "guide.food_temps": GuideShape("guide.food_temps", kind="answer", steps=(StepShape(), StepShape())),
        "guide.oil_discard": GuideShape("guide.oil_discard", hot_oil=True, cautions=1, steps=(StepShape(),)),
    },
    duties={
        "pad_change": DutyKind("pad_change", guide="guide.pad_change", uses="filter_pads"),
        "closing_filter": DutyKind("closing_filter"),
        "seal_replacement": DutyKind("seal_replacement", uses="seals"),
        "oil_test": DutyKind("oil_test"),
        "oil_change": DutyKind("oil_change"),
        "boil_out": DutyKind("boil_out"),
        "hood_filters": DutyKind("hood_filters", per_fryer=False),
    },
    emergencies={"fire": EmergencyShape(5, 2), "burn": EmergencyShape(4, 1), "gas": EmergencyShape(5, 1)},
)  # fmt: skip


@dataclass
class Stage:
    """One kitchen on a virtual clock. ``out`` holds every reply ever sent, ``changes`` every change."""

    kitchen: Kitchen
    now: datetime
    library: Library = LIBRARY
    state: State = field(default_factory=State)
    out: list[Reply] = field(default_factory=list)
    changes: list[Change] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._take((RulesTookEffect(rules_of(self.kitchen)),), ())

    def say(
        self, sender: str, topic: str | None, chat: str | None = None, danger: str | None = None, **told: Any
    ) -> list[Reply]:
        """A message that was understood so; what isn't a slot goes into the understanding itself."""
        names = set(Slots.__dataclass_fields__)
        slots = Slots(**{k: v for k, v in told.items() if k in names})
        rest = {k: v for k, v in told.items() if k not in names}
        rest.setdefault("text", topic or "something")
        rest.setdefault("confidence", 0.95)
        rest.setdefault("choices", (Choice(topic, 0.95),) if topic else ())
        understood = Understood(topic=topic, language="en", slots=slots, **rest)
        return self.happens(Said(sender, chat or sender, understood, danger=danger))

    def tap(self, sender: str, action: str, chat: str | None = None, secret: str | None = None) -> list[Reply]:
        """A tap on a button; ``secret`` where a link may be made."""
        return self.happens(Tapped(sender, chat or sender, action, secret))

    def press(self, sender: str, label: str, chat: str | None = None) -> list[Reply]:
        """A tap on the newest button with that label id in the chat."""
        where = chat or sender
        for reply in reversed([r for r in self.out if r.to == where]):
            for button in reply.buttons:
                if button.label.id == label:
                    return self.tap(sender, button.action, where)
        raise AssertionError(f"no button {label} in {where}")

    def happens(self, event: Event) -> list[Reply]:
        """Let something happen now, and what falls due with it."""
        first = self._respond(event)
        return first + self._respond(Tick())

    def until(self, when: datetime) -> list[Reply]:
        """Let time pass, everything at its own time."""
        seen: list[Reply] = []
        while (at := agenda.next_at(self.scene)) is not None and at <= when:
            self.now = max(self.now, at)
            seen += self._respond(Tick())
        self.now = when
        return seen

    def off_until(self, when: datetime) -> list[Reply]:
        """The helper is off until then, and comes up again."""
        self.now = when
        return self._respond(Tick())

    @property
    def scene(self) -> Scene:
        """What decisions are made on now."""
        now = roster.as_of(self.kitchen, self.state.membership)
        return Scene(now, self.library, self.state, self.now, filed=self.kitchen)

    def logged(self, kind: type[Change]) -> list[Any]:
        """Every change of one kind so far."""
        return [c for c in self.changes if isinstance(c, kind)]

    def _respond(self, event: Event) -> list[Reply]:
        outcome = respond(self.scene, event)
        self._take(outcome.changes, outcome.replies)
        return list(outcome.replies)

    def _take(self, changes: Iterable[Change], replies: Iterable[Reply]) -> None:
        self.changes += changes
        self.out += replies
        numbered = tuple(
            Outgoing(self.state.sent + n, self.now, reply.to, reply.kind, "") for n, reply in enumerate(replies, 1)
        )
        self.state.apply(Turn(self.state.seq + 1, self.now, tuple(changes), numbered))
        self.state.outbox.clear()


def ids(replies: Iterable[Reply], to: str | None = None) -> list[str]:
    """The text ids of these replies, line by line (of those to one chat)."""
    return [words.id for reply in replies if to in (None, reply.to) for words in reply.lines]


def kinds(replies: Iterable[Reply]) -> list[tuple[str, str]]:
    """Kind and chat of each reply."""
    return [(reply.kind, reply.to) for reply in replies]


def params(replies: Iterable[Reply], text: str) -> Any:
    """The parameters of the first line with that id."""
    found: Words = next(words for reply in replies for words in reply.lines if words.id == text)
    return found.params


__all__ = ["CREW", "LIBRARY", "Stage", "daily", "ids", "kinds", "kitchen", "local", "params"]
