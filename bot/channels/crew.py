"""A made-up crew on a virtual clock: it taps, asks, logs and forgets as people do, from one seed.

All its habits are invented; they only have to be plausible, so that the whole helper is put to work.
"""

from __future__ import annotations

import heapq
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from itertools import count
from random import Random

from bot.app import Helper
from bot.core.calendar import ONE_DAY, Calendar, calendar
from bot.core.kitchen import Person
from bot.core.messages import CREW
from bot.core.records import Outgoing
from bot.core.scene import rules_of

Deed = Callable[[Helper, datetime], list[Outgoing]]

ANSWERED, PUT_OFF = 0.86, 0.05
"""Shares of reminders that somebody answers with Done, and with Later; the rest is overlooked until a lead asks."""

MEDIAN_MINUTES, SPREAD = 14.0, 0.8
"""Of the time until somebody answers, log-normal."""

LEAD_MINUTES = (3, 20)
"""Until a lead who is told has seen to it."""

QUESTIONS_A_DAY = 8
DROPS_EACH_HOURS = 3

QUESTIONS = {
    "en": (
        "how do I change the pad on 2", "what is due", "when was the pad last changed on 1", "next", "stop",
        "how full should the basket be", "what do I wear to filter", "thanks", "hello", "what temp for the oil",
        "which seals fit fryer 1", "how long will the oil on 1 last", "what do we need to order", "remind me in 20",
        "how did we do today", "fryer 1 won't drain", "note for tomorrow: the tray is in the sink", "help",
        "how long do I have to wait", "who do I call", "is the oil worn out",
    ),
    "es": (
        "cómo cambio la almohadilla de la 2", "qué toca", "cuándo se cambió la almohadilla de la 1", "siguiente",
        "qué tan llena va la canasta", "gracias", "hola", "a qué temperatura va el aceite", "qué hay que pedir",
        "recuérdame en 20", "cómo vamos hoy", "la 1 no drena", "ayuda", "cuánto falta", "a quién llamo",
    ),
}  # fmt: skip


@dataclass(slots=True)
class Figures:
    """What happened in one kitchen: events that people caused, and messages by kind."""

    events: int = 0
    ticks: int = 0
    messages: Counter[str] = field(default_factory=Counter)
    private: Counter[str] = field(default_factory=Counter)
    """Routine messages to each person's own chat."""


class Crew:
    """The people of one kitchen at work. ``days`` lets kitchen days pass, one at each step."""

    def __init__(self, helper: Helper, chance: Random) -> None:
        self._helper = helper
        self._chance = chance
        self._calendar: Calendar = calendar(rules_of(helper.kitchen))
        self._deeds: list[tuple[datetime, int, Deed]] = []
        self._order = count()
        self._buttons: dict[str, datetime] = {}
        self.figures = Figures()
        people = helper.kitchen.people
        self._cooks = [p for p in people if p.role == "cook"] or list(people)
        self._leads = {p.id for p in people if p.role in ("lead", "manager")}

    def days(self, first: date, number: int, since: datetime | None = None) -> Iterator[date]:
        """Let that many kitchen days pass, from the start of the first (or ``since``); gives each when it is over."""
        now = since or self._calendar.day_start(first)
        for n in range(number):
            day = first + n * ONE_DAY
            if self._calendar.is_open(day):
                self._plan(day)
            self._until(now, self._calendar.day_end(day))
            now = self._calendar.day_end(day)
            yield day

    def _until(self, now: datetime, end: datetime) -> None:
        helper = self._helper
        while True:
            wake = helper.wake_at(now)
            deed = self._deeds[0][0] if self._deeds else None
            at = min((t for t in (wake, deed) if t is not None), default=end)
            if at > end or (wake is None and deed is None):
                return
            now = max(now, at)
            if deed is not None and deed <= now:
                _, _, act = heapq.heappop(self._deeds)
                self.figures.events += 1
                self._hear(act(helper, now), now)
            else:
                self.figures.ticks += 1
                self._hear(helper.tick(now), now)

    def _hear(self, messages: list[Outgoing], now: datetime) -> None:
        """Take in what the helper says, and make up one's mind."""
        self._helper.all_delivered(messages, now)
        for message in messages:
            self.figures.messages[message.kind] += 1
            if message.to != CREW and message.kind not in ("reply", "alert"):
                self.figures.private[message.to] += 1
            if message.edit:
                continue
            if message.kind == "reminder" and message.to == CREW:
                self._answer_reminder(message, now)
            elif message.kind == "escalation" and message.to in self._leads:
                self._see_to_it(message.to, now)
            elif message.kind == "countdown" and message.buttons:
                self._after_the_wait(message, now)

    def _answer_reminder(self, message: Outgoing, now: datetime) -> None:
        done = [b.action for b in message.buttons if b.action.startswith("done:")]
        later = next((b.action for b in message.buttons if b.action.startswith("later:")), None)
        who = self._chance.choice(self._cooks)
        delay = MEDIAN_MINUTES * self._chance.lognormvariate(0, SPREAD)
        draw = self._chance.random()
        if draw < PUT_OFF and later is not None:
            self._tap(who, later, now, delay / 2)
            return
        if draw < PUT_OFF + ANSWERED:
            for action in done:
                delay += self._chance.uniform(0.5, 6)
                self._tap(who, action, now, delay)
            return
        for action in done:
            self._buttons[action] = now

    def _see_to_it(self, lead: str, now: datetime) -> None:
        """Whatever was overlooked today gets done after all, mostly."""
        person = self._helper.kitchen.person(lead)
        overlooked = [a for a, at in self._buttons.items() if now - at < timedelta(hours=4)]
        self._buttons.clear()
        for action in overlooked:
            if person is not None and self._chance.random() < 0.7:
                self._tap(person, action, now, self._chance.uniform(*LEAD_MINUTES))

    def _after_the_wait(self, message: Outgoing, now: datetime) -> None:
        reset = next((b.action for b in message.buttons if b.action.startswith("reset:")), None)
        who = self._helper.kitchen.person(message.to) or self._chance.choice(self._cooks)
        if reset is not None:
            self._tap(who, reset, now, self._chance.uniform(1, 10), message.to)

    def _plan(self, day: date) -> None:
        """What people do of themselves on an open day: questions, drops, an oil test, now and then a tripped device."""
        opens, closes = self._calendar.opening(day), self._calendar.closing(day)
        hours = (closes - opens) / timedelta(hours=1)
        for _ in range(self._chance.randint(QUESTIONS_A_DAY // 2, QUESTIONS_A_DAY * 3 // 2)):
            who = self._chance.choice(self._helper.kitchen.people)
            self._say(who, self._chance.choice(QUESTIONS[who.language]), opens, self._chance.uniform(0, hours * 60))
        for fryer in self._helper.kitchen.fryers:
            for n in range(1, int(hours // DROPS_EACH_HOURS)):
                drops = f"{self._chance.randint(5, 40)} drops on {fryer.id}"
                self._say(self._chance.choice(self._cooks), drops, opens, n * DROPS_EACH_HOURS * 60)
            percent = f"oil on {fryer.id} is {self._chance.randint(8, 20)} percent"
            self._say(self._chance.choice(self._cooks), percent, opens, 0.55 * hours * 60)
        if self._chance.random() < 0.04:
            fryer = self._chance.choice(self._helper.kitchen.fryers)
            who = self._chance.choice(self._cooks)
            self._tap(who, f"wait:high_limit:{fryer.id}", opens, self._chance.uniform(0, hours * 60), who.id)
        if self._chance.random() < 0.02:
            fryer = self._chance.choice(self._helper.kitchen.fryers)
            down = self._chance.uniform(0, hours * 30)
            self._tap(self._chance.choice(self._cooks), f"down:{fryer.id}", opens, down)
            self._tap(self._chance.choice(self._cooks), f"up:{fryer.id}", opens, down + 180)

    def _say(self, who: Person, text: str, since: datetime, minutes: float) -> None:
        self._push(since, minutes, lambda helper, now: helper.hear(who.id, who.id, text, now))

    def _tap(self, who: Person, action: str, since: datetime, minutes: float, chat: str = CREW) -> None:
        self._push(since, minutes, lambda helper, now: helper.tap(who.id, chat, action, now))

    def _push(self, since: datetime, minutes: float, deed: Deed) -> None:
        heapq.heappush(self._deeds, (since + timedelta(minutes=minutes), next(self._order), deed))
