"""What is remembered between two looks at the agenda is what a fresh look would find, whatever happened meanwhile."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from hypothesis import given, settings, strategies as st

from bot.core import agenda
from bot.core.calendar import ONE_DAY
from bot.core.compliance import count_day, judge_day
from bot.core.kitchen import Duty, Every
from bot.core.records import IncidentReported, RulesTookEffect
from bot.core.scene import Scene, rules_of
from tests.core.stage import Stage, daily, kitchen, local

HALF, HOUR = timedelta(minutes=30), timedelta(minutes=60)
DUTIES = (
    daily("pad_change", "21:30", ("1", "2")),
    daily("hood_filters", "23:15", None),
    Duty("boil_out", Every("days", 3), daily("x", "14:30", None).at, ("1",), HALF, HOUR, date(2026, 9, 13)),
    Duty("oil_change", Every("drops", 100), None, ("1", "2"), HALF, HOUR),
    Duty("seal_replacement", Every("week", on="wednesday"), daily("x", "11:00", None).at, ("3",), HALF, HOUR),
)


@dataclass
class RememberingStage(Stage):
    """A stage whose scenes remember, as the helper's do."""

    memo: dict[Any, Any] = field(default_factory=dict)

    @property
    def scene(self) -> Scene:
        return Scene(self.kitchen, self.library, self.state, self.now, self.memo)

    def fresh(self) -> Scene:
        return Scene(self.kitchen, self.library, self.state, self.now)


EVENTS = st.sampled_from(
    ["done", "boil", "oil", "drops", "undo", "down", "up", "later", "off", "fire", "calm", "rules", "yesterday", "talk"]
)


@settings(max_examples=150)
@given(st.lists(st.tuples(EVENTS, st.integers(1, 900), st.sampled_from("123")), max_size=15))
def test_remembered_and_fresh_agendas_and_days_are_the_same(steps: list[tuple[str, int, str]]) -> None:
    s = RememberingStage(kitchen(*DUTIES), local("2026-09-14 18:00"))
    for what, minutes, fryer in steps:
        then = s.now + timedelta(minutes=minutes)
        s.off_until(then) if what == "off" else s.until(then)
        _happens(s, what, fryer)
        assert agenda.items(s.scene) == agenda.items(s.fresh())
        assert agenda.next_at(s.scene) == agenda.next_at(s.fresh())
        for back in range(4):
            day = s.scene.today - back * ONE_DAY
            assert count_day(s.state, day, s.now, s.memo) == judge_day(s.state, day, s.now, flagged=False)


def _happens(s: RememberingStage, what: str, fryer: str) -> None:
    match what:
        case "done":
            s.say("ben", "log.done", duty="pad_change", fryer=fryer)
        case "yesterday":
            s.say("ben", "log.done", duty="pad_change", fryer=fryer, days_ago=1)
        case "boil":
            s.say("ben", "log.done", duty="boil_out", fryer="1")
        case "oil":
            s.say("ben", "log.done", duty="oil_change", fryer=fryer)
        case "drops":
            s.tap("ben", f"drops:{fryer}:60")
        case "undo":
            s.say("ben", "log.undo")
        case "down":
            s.tap("ben", f"down:{fryer}")
        case "up":
            s.tap("ben", f"up:{fryer}")
        case "later":
            s.say("ben", "remind.snooze")
        case "fire":
            s.say("ben", "emergency.fire")
        case "calm":
            s.press("ben", "button.false_alarm") if s.logged(IncidentReported) else None
        case "rules":
            later = daily("pad_change", f"2{int(fryer) - 1}:30", ("1", "2"))
            s.kitchen = kitchen(later, *DUTIES[1:])
            s._take((RulesTookEffect(rules_of(s.kitchen)),), ())
        case _:
            s.say("ben", "talk.hello")
