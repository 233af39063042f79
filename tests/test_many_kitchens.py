"""Several kitchens in one process: nothing of one is ever shown in another, and a manager of both gets one roll-up."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from datetime import date, datetime, time, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import cast

import pytest
from hypothesis import given, settings, strategies as st
from msgspec.structs import replace

from bot import rollup
from bot.app import Helper
from bot.commands.simulate import Remembering, UnsyncedFiles
from bot.content.catalogue import Content
from bot.core.kitchen import Kitchen
from bot.core.records import Outgoing
from intents.understander import Understander
from tests.core.stage import local

START = local("2026-09-15 17:00")
MARKS = ("Alder", "Birch")
"""A word of each kitchen that stands in its names, its notes and nowhere else."""


def marked(kitchen: Kitchen, mark: str) -> Kitchen:
    """The demo kitchen with the same ids of people, fryers and duties, and names of its own."""
    return replace(
        kitchen,
        name=f"{mark} Street Kitchen",
        people=tuple(replace(p, name=f"{mark}{p.id}") for p in kitchen.people),
        service_contact=f"{mark} desk, 555 0142",
    )


TEXTS = (
    "pad changed on {f}", "closing filter done on {f}", "undo", "what is due", "when was the pad last changed on {f}",
    "note for tomorrow: ask {mark} about the tray", "does {mark} know the moon", "oil on {f} is 2{f} percent",
    "30 drops on {f}", "fryer {f} is out of service", "fire", "burn on {f}", "remind me in 20", "how did we do today",
    "who do I call", "the high limit tripped on {f}", "yes", "no", "hola", "cómo vamos", "next", "help",
)  # fmt: skip
EVENT = st.tuples(
    st.integers(0, 1), st.sampled_from(["ben", "rosa", "teo", "maya", "omar", "lena"]), st.booleans(),
    st.sampled_from(TEXTS), st.sampled_from("123"), st.integers(0, 200), st.booleans(),
)  # fmt: skip


@pytest.fixture(scope="module")
def remembering(understander: Understander) -> Understander:
    return cast("Understander", Remembering(understander))


@settings(max_examples=40)
@given(events=st.lists(EVENT, max_size=25))
def test_nothing_of_one_kitchen_is_ever_shown_in_another(
    demo_kitchen: Kitchen, content: Content, remembering: Understander, events: list[tuple[object, ...]]
) -> None:
    """Whatever the same people say in either; messages, buttons, pending questions, waits and records stay apart."""
    with ExitStack() as stack:
        folders = [Path(stack.enter_context(TemporaryDirectory())) for _ in MARKS]
        helpers = [
            Helper.open(marked(demo_kitchen, mark), content, remembering, folder, START, files=UnsyncedFiles())
            for mark, folder in zip(MARKS, folders, strict=True)
        ]
        for helper in helpers:
            stack.callback(helper.drop)
        now = START
        buttons: list[list[str]] = [[], []]
        for place, person, in_crew, text, fryer, minutes, taps in cast(
            "list[tuple[int, str, bool, str, str, int, bool]]", events
        ):
            now += timedelta(minutes=minutes)
            for n, helper in enumerate(helpers):
                _see(helper.tick(now), n, buttons)
            chat = "crew" if in_crew else person
            if taps and buttons[place]:
                said = helpers[place].tap(person, chat, buttons[place][-1], now)
            else:
                said = helpers[place].hear(person, chat, text.format(f=fryer, mark=MARKS[place]), now)
            _see(said, place, buttons)
        for n, (helper, folder) in enumerate(zip(helpers, folders, strict=True)):
            _see(helper.undelivered(), n, buttons)
            assert MARKS[1 - n].encode() not in b"".join(p.read_bytes() for p in folder.iterdir() if p.is_file())


def _see(messages: list[Outgoing], place: int, buttons: list[list[str]]) -> None:
    for message in messages:
        shown = message.text + "".join(button.label for button in message.buttons)
        assert MARKS[1 - place].lower() not in shown.lower()
        buttons[place] += [button.action for button in message.buttons]


def test_what_happens_in_one_kitchen_changes_nothing_in_the_other(
    demo_kitchen: Kitchen, content: Content, remembering: Understander, tmp_path: Path
) -> None:
    """The second kitchen says the same whether or not the first is busy."""
    said = []
    for busy in (False, True):
        folder = tmp_path / str(busy)
        alder, birch = (
            Helper.open(marked(demo_kitchen, mark), content, remembering, folder / mark, START, files=UnsyncedFiles())
            for mark in MARKS
        )
        out: list[Outgoing] = []
        for n in range(40):
            now = START + n * timedelta(minutes=10)
            if busy:
                alder.hear("ben", "ben", TEXTS[n % len(TEXTS)].format(f=1 + n % 3, mark="x"), now)
            out += birch.tick(now) + birch.hear("ben", "crew", TEXTS[n * 7 % len(TEXTS)].format(f=2, mark="y"), now)
        said.append(out)
        alder.drop()
        birch.drop()
    assert said[0] == said[1]


# --- the roll-up ---


Opened = Callable[..., Helper]


@pytest.fixture
def opened(demo_kitchen: Kitchen, content: Content, remembering: Understander, tmp_path: Path) -> Iterator[Opened]:
    helpers: list[Helper] = []

    def open_one(mark: str, **changes: object) -> Helper:
        kitchen = replace(marked(demo_kitchen, mark), **changes)
        helpers.append(Helper.open(kitchen, content, remembering, tmp_path / mark, START, files=UnsyncedFiles()))
        return helpers[-1]

    yield open_one
    for helper in helpers:
        helper.drop()


DAY = date(2026, 9, 15)


def test_a_manager_of_two_kitchens_gets_one_roll_up_at_the_last_of_their_summaries(opened: Opened) -> None:
    alder, birch = opened("Alder"), opened("Birch", summary_at=time(23, 15))
    birch.hear("ben", "ben", "mid-shift filter done on 1", local("2026-09-15 19:01"))
    last = local("2026-09-15 23:15")
    assert rollup.next_at([alder, birch], START) == last
    assert rollup.due([alder, birch], last - timedelta(seconds=1)) == []
    (one,) = rollup.due([alder, birch], last)
    assert (one.telegram, one.day, one.at) == (1005, DAY, last)
    head, *lines = one.text.splitlines()
    assert head == "Your kitchens, Tue 15 Sep: 2 were open."
    assert [line.split(":")[0] for line in lines] == ["– Alder Street Kitchen", "– Birch Street Kitchen"]


def test_a_roll_up_is_sent_once_also_after_a_restart(
    opened: Opened, demo_kitchen: Kitchen, content: Content, remembering: Understander, tmp_path: Path
) -> None:
    helpers = [opened("Alder"), opened("Birch")]
    now = local("2026-09-15 22:30")
    (one,) = rollup.due(helpers, now)
    rollup.sent(one, now)
    assert rollup.due(helpers, now + timedelta(minutes=1)) == []
    for helper in helpers:
        helper.close()
    again = [
        Helper.open(marked(demo_kitchen, mark), content, remembering, tmp_path / mark, now, files=UnsyncedFiles())
        for mark in MARKS
    ]
    assert rollup.due(again, now + timedelta(minutes=2)) == []
    for helper in again:
        helper.drop()


def test_a_roll_up_leaves_no_word_of_one_kitchen_in_the_records_of_another(opened: Opened, tmp_path: Path) -> None:
    helpers = [opened("Alder"), opened("Birch")]
    now = local("2026-09-15 22:30")
    (one,) = rollup.due(helpers, now)
    rollup.sent(one, now)
    assert b"Birch" not in (tmp_path / "Alder" / "history.jsonl").read_bytes()


def test_only_managers_with_the_same_number_get_one(opened: Opened, demo_kitchen: Kitchen) -> None:
    others = tuple(replace(p, telegram=p.telegram and p.telegram + 5000) for p in demo_kitchen.people)
    assert rollup.due([opened("Alder"), opened("Birch", people=others)], local("2026-09-15 23:00")) == []
    assert rollup.next_at([opened("Cedar")], START) is None


def test_no_roll_up_where_only_one_of_the_kitchens_was_open_or_hours_too_late(opened: Opened) -> None:
    alder = opened("Alder")
    closed = opened("Birch", closed_dates=(DAY,))
    assert rollup.due([alder, closed], local("2026-09-15 23:00")) == []
    assert rollup.due([alder, opened("Cedar")], local("2026-09-16 11:00")) == []


def test_kitchens_in_two_time_zones_are_rolled_up_when_the_later_one_is_done(opened: Opened) -> None:
    east, west = opened("Alder"), opened("Birch", timezone="America/Los_Angeles")
    assert rollup.next_at([east, west], START) == datetime.fromisoformat("2026-09-15T22:30:00-07:00")
    (one,) = rollup.due([east, west], datetime.fromisoformat("2026-09-15T22:30:00-07:00"))
    assert one.day == DAY
