"""``vatside simulate``: a made-up crew puts the whole helper to work, the same way for the same seed."""

from __future__ import annotations

from pathlib import Path

import pytest

from bot.cli import main
from bot.commands.loading import records_of
from bot.core.records import Confirmed, DropsCounted, ReadingTaken


def figures(capsys: pytest.CaptureFixture[str], *words: str) -> list[str]:
    assert main(["simulate", *words]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    return out.splitlines()


def test_the_same_seed_gives_the_same_days_and_another_gives_others(capsys: pytest.CaptureFixture[str]) -> None:
    first = figures(capsys, "--kitchens", "2", "--days", "5", "--seed", "7")
    again = figures(capsys, "--kitchens", "2", "--days", "5", "--seed", "7")
    other = figures(capsys, "--kitchens", "2", "--days", "5", "--seed", "8")
    assert first[0] == "2 kitchens, 5 days each: 10 kitchen days"
    assert first[:-1] == again[:-1]
    assert first[:-1] != other[:-1]
    assert first[-1].startswith("speed: ")


def test_the_crew_leaves_real_records_of_every_sort(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    figures(capsys, "--kitchens", "1", "--days", "7", "--store", str(tmp_path))
    records = records_of(tmp_path / "00001")
    changes = [change for turn in records.turns() for change in turn.changes]
    assert records.recovery is None
    for kind in (Confirmed, DropsCounted, ReadingTaken):
        assert sum(isinstance(change, kind) for change in changes) > 5
    statuses = {change.status for change in changes if isinstance(change, Confirmed)}
    assert {"on_time", "late"} <= statuses


@pytest.mark.parametrize("wrong", [["--kitchens", "0"], ["--days", "-1"], ["--days", "x"], ["--seed", "x"]])
def test_wrong_numbers_are_bad_input_in_one_line(wrong: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as left:
        main(["simulate", *wrong])
    assert left.value.code == 2
    assert capsys.readouterr().err.count("\n") == 1
