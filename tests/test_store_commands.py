"""The commands for the records: backup, restore, doctor, forget and a person's export."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path

import pytest

from bot.cli import main
from bot.commands.loading import kitchen_of, opener
from tests.core.stage import local


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The records of an evening of the demo kitchen."""
    store = tmp_path / "store"
    helper = opener(kitchen_of(None), store)(local("2026-09-15 21:00"))
    at = local("2026-09-15 21:31")
    helper.hear("ben", "ben", "pad changed on 1", at)
    helper.hear("rosa", "rosa", "cambié la almohadilla de la 2", at + timedelta(minutes=2))
    helper.close()
    return store


def test_records_go_into_a_backup_and_come_back(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["export", "--store", str(folder)]) == 0
    before = capsys.readouterr().out
    assert before.count('"confirmation"') == 2
    assert main(["backup", str(tmp_path / "b.tar.gz"), "--store", str(folder)]) == 0
    assert main(["restore", str(tmp_path / "b.tar.gz"), "--store", str(tmp_path / "new")]) == 0
    capsys.readouterr()
    assert main(["export", "--store", str(tmp_path / "new")]) == 0
    assert capsys.readouterr().out == before


def test_a_restore_over_records_is_refused_in_one_line(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["backup", str(tmp_path / "b.tar.gz"), "--store", str(folder)])
    assert main(["restore", str(tmp_path / "b.tar.gz"), "--store", str(folder)]) == 2
    assert capsys.readouterr().err == f"{folder}: it is not empty; choose a folder that is empty or not there\n"


@pytest.mark.parametrize("command", ["backup", "doctor", "forget"])
def test_a_folder_without_records_is_bad_input_and_stays_as_it_was(
    command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = {"backup": [str(tmp_path / "b.tar.gz")], "doctor": [], "forget": ["ben"]}[command]
    assert main([command, *words, "--store", str(tmp_path / "none")]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_is_no_backup_is_bad_input(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "b").write_text("hello")
    assert main(["restore", str(tmp_path / "b"), "--store", str(tmp_path / "new")]) == 2
    assert "use another backup" in capsys.readouterr().err
    assert main(["restore", str(tmp_path / "missing"), "--store", str(tmp_path / "new")]) == 2
    assert "no such file" in capsys.readouterr().err


def test_the_doctor_says_what_was_wrong_once_and_then_that_all_is_well(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with (folder / "history.jsonl").open("ab") as file:
        file.write(b'{"v":1,')
    assert main(["doctor", "--store", str(folder)]) == 1
    assert "the last line was cut short; set aside in history.torn-1" in capsys.readouterr().out
    assert main(["doctor", "--store", str(folder)]) == 0
    assert "no fault" in capsys.readouterr().out


def test_a_person_gets_their_own_records_and_is_then_forgotten(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["export", "--store", str(folder), "--person", "ben"]) == 0
    (own,) = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert (own["by"], own["fryer"]) == ("ben", "1")
    assert main(["forget", "ben", "--store", str(folder)]) == 0
    assert capsys.readouterr().out.startswith("ben is now gone-1 in ")
    assert main(["export", "--store", str(folder)]) == 0
    kept = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [row["by"] for row in kept] == ["gone-1", "rosa"]
    assert kept[0] == own | {"by": "gone-1"}
    assert main(["forget", "ben", "--store", str(folder)]) == 2


def test_a_forgotten_person_is_not_in_the_buttons_of_others_either(tmp_path: Path) -> None:
    store = tmp_path / "store"
    helper = opener(kitchen_of(None), store)(local("2026-09-15 21:00"))
    at = local("2026-09-15 21:01")
    helper.tap("maya", "maya", "trained:guide.skim", at)
    helper.tap("maya", "maya", "sign:guide.skim:ben", at)
    helper.close()
    assert main(["forget", "ben", "--store", str(store)]) == 0
    records = "".join(path.read_text(encoding="utf-8") for path in store.glob("*.json*"))
    assert "sign:guide.skim:gone-1" in records
    assert "guide.skim:ben" not in records
