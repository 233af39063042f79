"""Who may do what: every command and every button, for every role, in one table. What isn't listed fails.

Columns: a cook, a cook under 16, a lead, a manager, a trainer of the kitchen; beside them people of another kitchen
and strangers, for whom nothing of this kitchen may ever happen, whatever they send.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace
from telegram_kit import FakeHelper

from bot.channels.telegram import wire
from bot.channels.telegram.addresses import AddressBook
from bot.channels.telegram.commands import load_commands
from bot.core import records as r, slash, taps
from bot.core.kitchen import Person
from bot.core.messages import CREW, GroupOffered, Said
from bot.core.skills import learning
from bot.core.times import stamp
from intents.understander import Understander
from tests.core.stage import LIBRARY, Stage, daily, ids, kitchen, local

COOK, YOUNG, LEAD, MANAGER, TRAINER = "ben", "teo", "maya", "omar", "lena"
ROLES = {"cook": COOK, "young": YOUNG, "lead": LEAD, "manager": MANAGER, "trainer": TRAINER}
ALL = frozenset(ROLES)
ADULTS = ALL - {"young"}
MANAGERS = frozenset({"manager"})
NOW = local("2026-09-15 15:00")
SECRET = "unguessable"

REFUSALS = frozenset(
    {"people.not_yours", "move.managers_only", "training.not_yours", "learning.not_yours", "undo.not_yours",
     "young.refused", "fewer.not_a_lead"}
)  # fmt: skip


@dataclass(frozen=True)
class Row:
    """One command or button, who may use it, and how it is refused to the others.

    ``before`` are taps by another cook that make it sensible; ``since`` is how long ago they were.
    """

    what: str
    may: frozenset[str] = ALL
    refusal: str | None = None
    before: tuple[str, ...] = ()
    since: timedelta = timedelta(0)


YOUNG_NOT = {"may": ADULTS, "refusal": "young.refused"}
MANAGERS_ONLY = {"may": MANAGERS, "refusal": "people.not_yours"}
SIGNERS = {"may": frozenset({"lead", "trainer"}), "refusal": "training.not_yours"}
PANEL = {"may": frozenset({"lead", "trainer", "manager"}), "refusal": "training.not_yours"}
DECIDERS = {"may": frozenset({"trainer", "manager"}), "refusal": "learning.not_yours"}
MOVERS = {"may": MANAGERS, "refusal": "move.managers_only"}
HALF_AN_HOUR = timedelta(minutes=31)

BUTTONS: tuple[Row, ...] = (
    Row("done:pad_change:2"),
    Row(f"did:pad_change:2:{stamp(NOW - timedelta(hours=1))}"),
    Row("didall:pad_change:20260915T1200"),
    Row("alldue:20260915T1200:20260915T1200"),
    Row("later:pad_change:2"),
    Row("rush:pad_change:2"),
    Row("fewer:on", frozenset({"cook", "young", "trainer"}), "fewer.not_a_lead"),
    Row("move:pad_change", **MOVERS),
    Row("moveto:pad_change:2100", **MOVERS),
    Row("last:pad_change:2"),
    Row("undo:1:1", frozenset({"lead", "manager"}), "undo.not_yours", ("done:pad_change:2",)),
    Row("walk:guide.pad_change:2", **YOUNG_NOT),
    Row("go:guide.pad_change:2:1", **YOUNG_NOT),
    Row("stop"),
    Row("wait:pump:2"),
    Row("reset:pump:2", **YOUNG_NOT, before=("wait:pump:2",), since=HALF_AN_HOUR),
    Row("unwait:pump:2", before=("wait:pump:2",)),
    Row("clicked:pump:2:yes", before=("wait:pump:2",), since=HALF_AN_HOUR),
    Row("read:oil_test:2:18:percent"),
    Row("drops:2:5"),
    Row("down:2"),
    Row("up:2", before=("down:2",)),
    Row("more:2026-09-15"),
    Row("sum:week"),
    Row("order"),
    Row("stock:filter_pads:12"),
    Row("lang:es"),
    Row("calm:fire:0"),
    Row("after:fire:0:over"),
    Row("voice:off"),
    Row("heard:1"),
    Row("topic:guide.food_temps:2"),
    Row("topic:guide.pad_change:2", **YOUNG_NOT),
    Row("fault:nothing"),
    Row("quiz:guide.pad_change:-"),
    Row("sign:guide.pad_change:rosa", **SIGNERS),
    Row("unsign:guide.pad_change:rosa", **SIGNERS),
    Row("trained:guide.pad_change"),
    Row("train:0", **PANEL),
    Row("none"),
    Row("no"),
    Row("phrases", **DECIDERS),
    Row("learn:1:ask.due", **DECIDERS),
    Row("learnas:1", **DECIDERS),
    Row("learnin:1:guide:0", **DECIDERS),
    Row("nolearn:1", **DECIDERS),
    Row("learnlater:1", **DECIDERS),
    Row("unlearn:1", **DECIDERS),
    Row("invite:-:-", frozenset({"manager", "trainer"}), "people.not_yours"),
    Row("invite:role:cook", frozenset({"manager", "trainer"}), "people.not_yours"),
    Row("invite:role:lead", **MANAGERS_ONLY),
    Row("invite:role:trainer", **MANAGERS_ONLY),
    Row("invite:role:manager", **MANAGERS_ONLY),
    Row("invite:name:kim", frozenset({"manager", "trainer"}), "people.not_yours"),
    Row("invite:name:lou", **MANAGERS_ONLY),
    Row("invite:new:rosa", **MANAGERS_ONLY),
    Row("people:0", **MANAGERS_ONLY),
    Row("person:rosa", **MANAGERS_ONLY),
    Row("role:lead:rosa", **MANAGERS_ONLY),
    Row("age:yes:rosa", **MANAGERS_ONLY),
    Row("phone:rosa", **MANAGERS_ONLY),
    Row("remove:rosa", **MANAGERS_ONLY),
    Row("removed:rosa", **MANAGERS_ONLY),
    Row("leave"),
    Row("crewchat:-77", **MANAGERS_ONLY),
    Row("card:ask:2"),
    Row("card:problem:2"),
    Row("card:done:2"),
    Row("card:wait:2"),
)

MAY_BE_STALE = {"calm", "after", "heard", "fault", "quiz", "unsign", "learn", "learnas", "learnin", "nolearn",
                "learnlater",
                "unlearn", "crewchat", "voice", "undo", "clicked"}  # fmt: skip
"""Buttons that need more around them than this table sets up; that they are not refused is what is looked at here."""

COMMANDS: tuple[Row, ...] = (
    Row("/start"),
    Row("/due"),
    Row("/guides"),
    Row("/wait"),
    Row("/left"),
    Row("/note the tray is in the sink"),
    Row("/undo"),
    Row("/summary"),
    Row("/supplies"),
    Row("/service"),
    Row("/language"),
    Row("/times", **MOVERS),
    Row("/phrases", **DECIDERS),
    Row("/train", **PANEL),
    Row("/kitchen"),
    Row("/invite", frozenset({"manager", "trainer"}), "people.not_yours"),
    Row("/invite cook", frozenset({"manager", "trainer"}), "people.not_yours"),
    Row("/invite manager", **MANAGERS_ONLY),
    Row("/crew", **MANAGERS_ONLY),
    Row("/crew here", **MANAGERS_ONLY),
    Row("/fryer 2"),
    Row("/leave me out"),
    Row("/help"),
)

AT_THE_DOOR = {"join", wire.CHOOSE}
"""Buttons that the door answers itself: those of people coming in, and the choice of a kitchen."""


def people() -> tuple[Person, ...]:
    """Everybody with a phone but a cook and a lead; a second manager, so that one may leave."""
    here = [replace(p, telegram=1001 + n) for n, p in enumerate(kitchen().people)]
    return (
        *here,
        Person("zoe", "Zoe", "manager", "en", telegram=1100),
        Person("kim", "Kim", "cook", "en"),
        Person("lou", "Lou", "lead", "en"),
    )


def staged(row: Row) -> Stage:
    stage = Stage(kitchen(daily("pad_change", "21:30", ("1", "2", "3")), people=people()), NOW)
    for action in row.before:
        stage.tap("rosa", action)
    if row.since:
        stage.until(stage.now + row.since)
    return stage


def cells(rows: tuple[Row, ...]) -> list[Any]:
    return [pytest.param(row, role, id=f"{row.what}-{role}") for row in rows for role in ROLES]


def judge(row: Row, role: str, said: list[str], changed: bool) -> None:
    refused = [text for text in said if text in REFUSALS]
    if role in row.may:
        assert refused == [], f"{role} may use {row.what}"
    else:
        assert refused == [row.refusal], f"{role} may not use {row.what}"
        assert not changed, f"{row.what} changed something for {role}"


@pytest.mark.parametrize(("row", "role"), cells(BUTTONS))
def test_a_button_does_for_each_role_what_the_table_says(row: Row, role: str) -> None:
    stage = staged(row)
    before = len(stage.changes)
    said = ids(stage.tap(ROLES[role], row.what, secret=SECRET), ROLES[role])
    talk = (r.FryerMentioned, r.Told, r.Reminded)
    judge(row, role, said, any(not isinstance(c, talk) for c in stage.changes[before:]))
    if role in row.may and row.what.partition(":")[0] not in MAY_BE_STALE:
        assert "tap.stale" not in said, f"{row.what} makes no sense here, so nothing was shown"


@pytest.mark.parametrize(("row", "role"), cells(COMMANDS))
def test_a_command_does_for_each_role_what_the_table_says(row: Row, role: str, understander: Understander) -> None:
    who = ROLES[role]
    stage = staged(row)
    before = len(stage.changes)
    helper = FakeHelper(stage.kitchen)
    phone = next(p.telegram for p in stage.kitchen.people if p.id == who)
    message = {"message_id": 1, "chat": {"id": phone, "type": "private"}, "from": {"id": phone}, "text": row.what}
    event = wire.read({"update_id": 1, "message": message}, wire.Me(1, "a_bot"), AddressBook([helper]), load_commands())
    assert isinstance(event, wire.Words)
    understood = understander.understand(event.text)
    said = ids(stage.happens(Said(who, who, understood, secret=SECRET)), who)
    judge(row, role, said, any(not isinstance(c, r.FryerMentioned) for c in stage.changes[before:]))


@pytest.mark.parametrize("role", ROLES)
def test_only_a_manager_makes_a_group_the_crews_chat(role: str) -> None:
    stage = staged(Row("crew"))
    said = ids(stage.happens(GroupOffered(ROLES[role], -77)), ROLES[role])
    judge(Row("crew", **MANAGERS_ONLY), role, said, changed=False)


# --- nothing is left out ---


def verbs(module: Any, function: str) -> Iterator[str]:
    """The verbs that a function's ``match verb, args`` knows."""
    tree = ast.parse(Path(module.__file__).read_text(encoding="utf-8"))
    wanted = next(n for n in tree.body if isinstance(n, ast.FunctionDef) and n.name == function)
    for case in [case for node in ast.walk(wanted) if isinstance(node, ast.Match) for case in node.cases]:
        if isinstance(case.pattern, ast.MatchSequence):
            for value in ast.walk(case.pattern.patterns[0]):
                if isinstance(value, ast.Constant) and isinstance(value.value, str):
                    yield value.value


def test_every_button_there_is_stands_in_the_table() -> None:
    known = {*verbs(taps, "_act"), *verbs(slash, "act"), *verbs(learning, "act")}
    assert {"done", "invite", "phrases", "clicked"} <= known
    assert {row.what.partition(":")[0] for row in BUTTONS} == known
    assert wire.COMING.rstrip(":") in AT_THE_DOOR and not AT_THE_DOOR & known


def test_every_command_there_is_stands_in_the_table() -> None:
    assert {row.what.split()[0] for row in COMMANDS} == {f"/{name}" for name in load_commands()}


def test_every_refusal_of_the_table_is_a_text_of_refusal() -> None:
    assert {row.refusal for row in (*BUTTONS, *COMMANDS)} - {None} <= REFUSALS
    assert all((row.may == ALL) == (row.refusal is None) for row in (*BUTTONS, *COMMANDS))


# --- other kitchens and strangers ---

OTHER, STRANGER, GROUP, ELSEWHERE = 2001, 6666, -1001, -1002


@pytest.fixture(scope="module")
def two_kitchens() -> tuple[FakeHelper, FakeHelper, AddressBook]:
    here = FakeHelper(kitchen(people=people(), crew_chat=GROUP))
    there = FakeHelper(kitchen(name="Other", people=(Person("eva", "Eva", "manager", "en", telegram=OTHER),),
                               crew_chat=ELSEWHERE))  # fmt: skip
    return here, there, AddressBook([here, there])


@pytest.mark.parametrize("row", [*BUTTONS, *COMMANDS], ids=lambda row: row.what)
@pytest.mark.parametrize("user", [OTHER, STRANGER])
@pytest.mark.parametrize("chat", [GROUP, 1001, ELSEWHERE, None], ids=["crew", "bens", "their_crew", "own"])
def test_nobody_else_gets_anything_of_this_kitchen(
    row: Row, user: int, chat: int | None, two_kitchens: tuple[FakeHelper, FakeHelper, AddressBook]
) -> None:
    """Forwarded buttons and commands of a manager of another kitchen and of strangers, in whatever chat."""
    _, there, book = two_kitchens
    where = user if chat is None else chat
    shown = {"id": where, "type": "private" if where > 0 else "supergroup"}
    if row.what.startswith("/"):
        update: dict[str, Any] = {"message": {"message_id": 1, "chat": shown, "from": {"id": user}, "text": row.what}}
    else:
        query = {"id": "q", "from": {"id": user}, "message": {"message_id": 1, "chat": shown}, "data": f"1:{row.what}"}
        update = {"callback_query": query}
    event = wire.read({"update_id": 1, **update}, wire.Me(1, "a_bot"), book, load_commands())
    place = getattr(event, "place", None)
    assert place is None or (user == OTHER and place.helper is there and place.chat in ("eva", CREW))
    if user == STRANGER or chat in (GROUP, 1001):
        offered = isinstance(event, wire.GroupOffered) and event.group == GROUP and user == OTHER
        assert offered or isinstance(event, wire.Nothing | wire.StrangeTap | wire.Stranger)


def test_the_table_is_for_the_library_of_the_tests() -> None:
    """The rows name guides and duties; if they were renamed there, they would silently become stale buttons."""
    assert {"guide.pad_change", "guide.food_temps"} <= set(LIBRARY.guides)
