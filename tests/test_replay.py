"""A script on a virtual clock gives what the contract promises, to the minute, across restarts and time off."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from json import dumps
from pathlib import Path
from typing import Any

import pytest

from bot.app import Helper
from bot.channels.errors import UsageError
from bot.channels.replay import Replay
from bot.channels.script import read_script
from bot.core.kitchen import Kitchen
from bot.core.records import Outgoing
from bot.reports.export import rows

DAY = "2026-09-15T"
NIGHT = datetime.fromisoformat("2026-09-16T02:00:00-04:00")

Open = Callable[[datetime], Helper]


def at(clock: str, **line: Any) -> dict[str, Any]:
    """A line of a script on the Tuesday of the tests, New York time."""
    return {"at": f"{DAY}{clock}-04:00", **line}


EVENING = [
    at("20:00:00", **{"from": "ben", "text": "the high limit tripped on 2"}),
    at("20:00:30", **{"from": "ben", "text": "yes"}),
    at("20:10:00", **{"from": "ben", "text": "how do i change the pad on 1"}),
    at("20:10:30", **{"from": "ben", "tap": "Start"}),
    at("20:11:00", **{"from": "ben", "text": "next"}),
    at("21:35:00", **{"from": "rosa", "chat": "crew", "tap": "Done 1"}),
    at("21:50:00", **{"from": "ben", "text": "pad changed on 2 at 9:40pm"}),
    at("22:20:00", **{"from": "ben", "text": "closing filter done on 1, 2 and 3"}),
]


def play(tmp_path: Path, kitchen: Kitchen, open_helper: Open, lines: list[dict[str, Any]]) -> list[Outgoing]:
    script = tmp_path / "script.jsonl"
    script.write_text("".join(dumps(line) + "\n" for line in lines), encoding="utf-8")
    replay = Replay(script, read_script(script, kitchen), open_helper)
    return [m for m in replay.messages(NIGHT) if isinstance(m, Outgoing)]


def seen(messages: list[Outgoing]) -> list[tuple[Any, ...]]:
    """What people saw, without the numbers by which the store knows it."""
    return [(m.at, m.to, m.kind, m.text, tuple(b.label for b in m.buttons), m.edit) for m in messages]


def when(messages: list[Outgoing], kind: str, to: str) -> list[str]:
    """The wall times in New York of one kind of message to one chat."""
    from zoneinfo import ZoneInfo

    zone = ZoneInfo("America/New_York")
    return [f"{m.at.astimezone(zone):%H:%M}" for m in messages if (m.kind, m.to) == (kind, to) and not m.edit]


def test_reminders_escalations_and_the_summary_come_at_their_minute(
    tmp_path: Path, demo_kitchen: Kitchen, open_helper: Open
) -> None:
    messages = play(tmp_path, demo_kitchen, open_helper, EVENING)
    assert when(messages, "reminder", "crew") == ["21:30", "22:15"]
    assert when(messages, "escalation", "maya") == ["22:00"]
    assert when(messages, "escalation", "omar") == ["22:30"]
    assert when(messages, "summary", "omar") == ["22:30"]
    assert when(messages, "countdown", "ben") == ["20:00", "20:30"]


@pytest.mark.parametrize("place", range(1, len(EVENING) + 1))
def test_a_restart_at_any_line_changes_no_message(
    place: int, tmp_path: Path, demo_kitchen: Kitchen, open_helper: Open
) -> None:
    (tmp_path / "plain").mkdir()
    plain = play(tmp_path / "plain", demo_kitchen, open_helper, EVENING)
    with_restart = [*EVENING[:place], {"at": EVENING[place - 1]["at"], "restart": True}, *EVENING[place:]]
    store = tmp_path / "store"
    store.rename(tmp_path / "store-of-the-plain-run")
    assert seen(play(tmp_path, demo_kitchen, open_helper, with_restart)) == seen(plain)


def test_time_off_is_caught_up_once_a_chat_and_nothing_is_sent_twice(
    tmp_path: Path, demo_kitchen: Kitchen, open_helper: Open
) -> None:
    lines = [at("20:00:00"), at("21:00:00", down_until=f"{DAY}22:05:00-04:00")]
    messages = play(tmp_path, demo_kitchen, open_helper, lines)
    assert when(messages, "catch_up", "crew") == ["22:05"]
    assert when(messages, "catch_up", "maya") == ["22:05"]
    assert when(messages, "reminder", "crew") == ["22:15"]
    told = [m for m in messages if m.kind in ("reminder", "catch_up") and "ad change" in m.text and m.to == "crew"]
    assert len(told) == 1


def test_what_was_confirmed_stands_in_the_export(tmp_path: Path, demo_kitchen: Kitchen, open_helper: Open) -> None:
    play(tmp_path, demo_kitchen, open_helper, EVENING)
    helper = open_helper(NIGHT)
    found = [r for r in rows(helper.turns(), demo_kitchen.timezone) if r["kind"] == "confirmation"]
    assert [(r["duty"], r["fryer"], r["status"], r["by"]) for r in found] == [
        ("pad_change", "1", "on_time", "rosa"),
        ("pad_change", "2", "on_time", "ben"),
        ("closing_filter", "1", "on_time", "ben"),
        ("closing_filter", "2", "on_time", "ben"),
        ("closing_filter", "3", "on_time", "ben"),
    ]
    assert found[1]["done_at"] == "2026-09-15T21:40:00-04:00"
    assert found[1]["due_at"] == "2026-09-15T21:30:00-04:00"


@pytest.mark.parametrize(
    ("written", "line", "what"),
    [
        ('{"at": "2026-09-15T20:00:00-04:00"}\n{"at": "2026-09-15T19:00:00-04:00"}\n', 2, "earlier"),
        ('{"at": "2026-09-15T20:00:00"}\n', 1, "offset"),
        ("nonsense\n", 1, "JSON"),
        ('{"at": "2026-09-15T20:00:00-04:00", "from": "nobody", "text": "hi"}\n', 1, "nobody"),
        ('{"at": "2026-09-15T20:00:00-04:00", "form": "ben", "text": "hi"}\n', 1, "unknown key"),
        ('{"at": "2026-09-15T20:00:00-04:00", "from": "ben", "text": "hi", "tap": 1}\n', 1, "both"),
        ('{"at": "2026-09-15T20:00:00-04:00", "from": "ben"}\n', 1, "nothing they do"),
        ('{"at": "2026-09-15T20:00:00-04:00", "from": "ben", "text": 5}\n', 1, "no text"),
        ('{"at": "2026-09-15T20:00:00-04:00", "down_until": "2026-09-15T19:00:00-04:00"}\n', 1, "earlier"),
        ('{"at": "2026-09-15T20:00:00-04:00", "restart": "yes"}\n', 1, "not true"),
    ],
)
def test_a_broken_script_is_refused_with_file_and_line(
    written: str, line: int, what: str, tmp_path: Path, demo_kitchen: Kitchen
) -> None:
    script = tmp_path / "broken.jsonl"
    script.write_text(written, encoding="utf-8")
    with pytest.raises(UsageError) as raised:
        read_script(script, demo_kitchen)
    assert str(raised.value).startswith(f"{script}:{line}: ")
    assert what in str(raised.value)


def test_a_tap_on_no_button_is_refused_and_names_those_there_are(
    tmp_path: Path, demo_kitchen: Kitchen, open_helper: Open
) -> None:
    with pytest.raises(UsageError, match="the buttons there are: none"):
        play(tmp_path, demo_kitchen, open_helper, [at("20:00:00", **{"from": "ben", "tap": "Done"})])
