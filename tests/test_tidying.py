"""A helper that runs over New Year archives the past year by itself, while the crew goes on working."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from random import Random
from typing import cast

import pytest
from msgspec.structs import replace

from bot.app import Helper
from bot.channels.crew import Crew
from bot.commands.simulate import Remembering, UnsyncedFiles
from bot.content.catalogue import Content
from bot.core.calendar import calendar
from bot.core.kitchen import Kitchen
from bot.core.scene import rules_of
from bot.core.state import State
from bot.store import StoreError, read_only, year_end
from bot.tidying import PAUSE
from intents.understander import Understander

SATURDAY = date(2026, 12, 26)


@pytest.fixture
def open_all_days(demo_kitchen: Kitchen) -> Kitchen:
    return replace(demo_kitchen, closed_days=(), closed_dates=())


def _over_new_year(kitchen: Kitchen, content: Content, understander: Understander, folder: Path) -> Helper:
    start = calendar(rules_of(kitchen)).day_start(SATURDAY)
    remembering = cast("Understander", Remembering(understander))
    helper = Helper.open(kitchen, content, remembering, folder, start, files=UnsyncedFiles())
    for _ in Crew(helper, Random(1)).days(SATURDAY, 9):
        pass
    return helper


def test_the_past_year_is_archived_while_the_helper_runs_and_it_goes_on(
    open_all_days: Kitchen,
    content: Content,
    understander: Understander,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(year_end, "LINES_A_SLICE", 50)
    helper = _over_new_year(open_all_days, content, understander, tmp_path)
    turns = list(helper.turns())
    assert [turn.seq for turn in turns] == list(range(1, len(turns) + 1))
    helper.close()
    assert (tmp_path / "history-2026.jsonl").exists()
    records = read_only(tmp_path, State)
    assert list(records.turns()) == turns
    history = (tmp_path / "history.jsonl").read_bytes().splitlines()
    assert len(history) == sum(turn.at.year == 2027 for turn in turns)
    now = turns[-1].at + timedelta(hours=1)
    again = Helper.open(open_all_days, content, understander, tmp_path, now, files=UnsyncedFiles())
    assert again.recovered is None
    again.close()


def test_between_two_slices_the_helper_wakes_up_for_the_next(
    open_all_days: Kitchen,
    content: Content,
    understander: Understander,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(year_end, "LINES_A_SLICE", 1)
    start = calendar(rules_of(open_all_days)).day_start(SATURDAY)
    helper = Helper.open(open_all_days, content, understander, tmp_path, start, files=UnsyncedFiles())
    ended = calendar(rules_of(open_all_days)).day_end(date(2027, 1, 1))
    helper.tick(ended)
    assert helper.wake_at(ended) == ended + PAUSE
    now = ended
    while (wake := helper.wake_at(now)) is not None and wake - now <= PAUSE:
        now = wake
        helper.tick(now)
    assert (tmp_path / "history-2026.jsonl").exists()
    helper.close()


def test_where_the_archive_cannot_be_written_the_helper_works_on_and_tries_on_another_day(
    open_all_days: Kitchen,
    content: Content,
    understander: Understander,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    def full(*_: object) -> None:
        raise StoreError("the disk is full")

    with monkeypatch.context() as broken:
        broken.setattr(year_end.YearEnd, "_write_rest", full)
        helper = _over_new_year(open_all_days, content, understander, tmp_path)
    assert not (tmp_path / "history-2026.jsonl").exists()
    assert not list(tmp_path.glob("*.tmp"))
    assert "past years not archived: the disk is full" in caplog.text
    helper.tick(calendar(rules_of(open_all_days)).day_end(date(2027, 1, 4)))
    now = calendar(rules_of(open_all_days)).day_end(date(2027, 1, 4))
    while (wake := helper.wake_at(now)) is not None and wake - now <= PAUSE:
        now = wake
        helper.tick(now)
    assert (tmp_path / "history-2026.jsonl").exists()
    helper.close()
