"""The commands, as another program or a person at a terminal meets them."""

from __future__ import annotations

import io
import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from bot.cli import main
from bot.content.kitchen_file import read_kitchen
from bot.content.places import demo_folder

ROOT = Path(__file__).parents[1]
Run = Callable[..., tuple[int, str, str]]

SCRIPT = [
    {"at": "2026-09-15T21:00:00-04:00"},
    {"at": "2026-09-15T21:31:00-04:00", "from": "ben", "text": "pad changed on 2"},
    {"at": "2026-09-15T21:40:00-04:00", "from": "ben", "text": "oil on 2 is 19 percent"},
]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Run:
    def run_it(*args: Any, stdin: str = "") -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(stdin.encode())))
        try:
            status = main([str(arg) for arg in args])
        except SystemExit as left:
            status = int(left.code or 0)
        out, err = capsys.readouterr()
        return status, out, err

    return run_it


@pytest.fixture
def script(tmp_path: Path) -> Path:
    file = tmp_path / "script.jsonl"
    file.write_text("".join(json.dumps(line) + "\n" for line in SCRIPT), encoding="utf-8")
    return file


def test_understand_answers_each_line_in_order_with_the_contracts_keys(run: Run) -> None:
    status, out, _ = run("understand", stdin="how do I change the pad on 2\n\nla 1 no calienta\n")
    assert status == 0
    answers = [json.loads(line) for line in out.splitlines()]
    assert [a["topic"] for a in answers] == ["guide.pad_change", None, "fault.no_heat"]
    assert all({"text", "topic", "confidence", "language", "slots"} <= set(a) for a in answers)
    assert answers[0]["slots"] == {"fryer": "2"}
    assert answers[2]["language"] == "es"


def test_replay_prints_one_object_a_message_with_the_contracts_keys(run: Run, script: Path) -> None:
    status, out, _ = run("replay", script, "--json", "--until", "2026-09-15T22:31:00-04:00")
    assert status == 0
    messages = [json.loads(line) for line in out.splitlines()]
    assert all(set(m) == {"at", "to", "kind", "text", "buttons", "edit", "files"} for m in messages)
    (summary,) = [m for m in messages if m["kind"] == "summary"]
    assert (summary["at"], summary["to"], summary["files"]) == (
        "2026-09-15T22:30:00-04:00", "omar", ["summary-2026-09-15.png"],
    )  # fmt: skip


def test_export_and_summary_read_what_a_replay_wrote(run: Run, script: Path, tmp_path: Path) -> None:
    store = tmp_path / "store"
    run("replay", script, "--json", "--store", store, "--until", "2026-09-16T01:00:00-04:00")
    status, out, _ = run("export", "--store", store)
    assert status == 0
    kinds = [json.loads(line)["kind"] for line in out.splitlines()]
    assert kinds == ["confirmation", "reading", "confirmation"]
    assert run("export", "--store", store, "--format", "csv")[1].startswith("kind,")
    status, out, _ = run("summary", "--store", store, "--on", "2026-09-15", "--format", "json")
    found = json.loads(out)
    assert status == 0
    assert found["kitchen"] == "Lantern Street Kitchen"
    assert found["due"] == found["on_time"] + found["late"] + found["missed"] + found["excused"] + len(found["open"])
    assert found["by_duty"]["pad_change"]["on_time"] == 1
    assert "Lantern" not in run("summary", "--store", store, "--on", "2026-09-15")[2]


def test_check_finds_nothing_in_what_travels_with_the_program(run: Run) -> None:
    assert run("check") == (0, "No faults found.\n", "")


def test_check_names_file_and_line_of_every_fault_and_leaves_with_one(run: Run, tmp_path: Path) -> None:
    kitchen = tmp_path / "kitchen.toml"
    text = (demo_folder() / "kitchen.toml").read_text(encoding="utf-8")
    kitchen.write_text(text.replace('cool_down = "30 min"', 'cool_down = "20 min"'), encoding="utf-8")
    status, out, _ = run("check", "--kitchen", kitchen)
    assert status == 1
    assert out.startswith(f"{kitchen}:")
    assert "30 min" in out


@pytest.mark.parametrize(
    "args",
    [
        ["replay", "no-such-script.jsonl"],
        ["replay", "no-such-script.jsonl", "--kitchen", "no-such-kitchen.toml"],
        ["chat", "--as", "nobody"],
        ["summary", "--on", "yesterday"],
        ["export", "--store", "no-such-store"],
        ["export", "--format", "xml"],
        ["serve"],
        ["fry"],
        [],
    ],
)
def test_bad_input_leaves_with_two_and_one_line(args: list[str], run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("VATSIDE_TELEGRAM_TOKEN", raising=False)
    status, _, err = run(*args)
    assert status == 2
    assert len(err.splitlines()) == 1
    assert "; " in err


def test_a_store_that_another_process_holds_is_told_in_a_line(run: Run, script: Path, tmp_path: Path) -> None:
    from filelock import FileLock

    store = tmp_path / "store"
    run("replay", script, "--json", "--store", store)
    lock = next(store.glob("*lock*"))
    with FileLock(lock):
        status, _, err = run("replay", script, "--json", "--store", store)
    assert status == 2
    assert len(err.splitlines()) == 1


def test_a_store_that_is_a_file_is_told_in_a_line(run: Run, script: Path, tmp_path: Path) -> None:
    (tmp_path / "store").write_text("not a folder")
    status, _, err = run("replay", script, "--store", tmp_path / "store")
    assert status == 2
    assert len(err.splitlines()) == 1


def test_chat_reads_lines_where_there_is_no_terminal(run: Run, tmp_path: Path) -> None:
    status, out, _ = run("chat", "--store", tmp_path / "s", stdin="hello\n/as rosa\nhola\n/quit\nnot read\n")
    assert status == 0
    assert "Hello Ben" in out
    assert "Hola, Rosa" in out


def test_setup_writes_a_kitchen_file_that_checks(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    answers = "\n".join(
        ["Harbor Grill", "America/Chicago", "en", "9:30", "01:00", "911", "none", "2", "1", "", "onion rings",
         "Ana", "es"]
    )  # fmt: skip
    status, out, err = run("setup", file, stdin=answers + "\n")
    assert (status, err) == (0, "")
    assert f"vatside invite --kitchen {file} --name ana --bot YOUR_BOT" in out
    assert run("check", "--kitchen", file)[0] == 0
    kitchen = read_kitchen(file)
    assert [(f.id, f.names, f.power) for f in kitchen.fryers] == [("1", (), "gas"), ("2", ("onion rings",), "electric")]
    assert [(p.id, p.role, p.language) for p in kitchen.people] == [("ana", "manager", "es")]
    assert run("setup", file, stdin=answers)[0] == 2


def test_setup_takes_a_kitchen_file_that_there_is_and_says_how_the_manager_gets_in(run: Run, tmp_path: Path) -> None:
    status, out, _ = run("setup", "--kitchen", demo_folder() / "kitchen.toml")
    assert status == 0 and "--name omar --bot YOUR_BOT" in out
    assert run("setup", "--kitchen", tmp_path / "none.toml")[0] == 2


def test_demo_also_plays_with_a_crew_chat_in_spanish(run: Run) -> None:
    status, out, err = run("demo", "--language", "es")
    assert (status, err) == (0, "")
    assert "Toca ahora: cambio de papel" in out


def test_demo_plays_both_languages_and_touches_nothing_of_its_own(run: Run) -> None:
    before = {f.name: f.read_bytes() for f in demo_folder().iterdir() if f.is_file()}
    status, out, err = run("demo")
    assert (status, err) == (0, "")
    for said in ("Hola, Rosa", "Late: pad change", "The wait is over", "Logged", "911", "How to go on"):
        assert said in out
    assert {f.name: f.read_bytes() for f in demo_folder().iterdir() if f.is_file()} == before


@pytest.mark.parametrize(
    "args",
    [
        ("summary", "--on", "9999-12-31"),
        ("summary", "--on", "0001-01-01"),
        ("summary", "--on", "2026-W38-1"),
        ("rollup", "--kitchen", demo_folder() / "kitchen.toml", "--on", "9999-12-31"),
        ("report", "--month", "9999-12"),
        ("report", "--month", "2026-13"),
    ],
)
def test_a_day_or_month_that_no_log_has_is_one_line_and_status_2(run: Run, args: tuple[Any, ...]) -> None:
    status, out, err = run(*args)
    assert (status, out, err.count("\n")) == (2, "", 1)
    assert "write it as" in err


def test_a_full_disk_or_a_closed_output_is_one_line_and_status_2(tmp_path: Path) -> None:
    say = f"echo pad | '{sys.executable}' -m bot understand"
    for end in (">/dev/full", ">&-"):
        done = subprocess.run(["sh", "-c", f"{say} {end}"], capture_output=True, text=True, cwd=ROOT, check=False)
        assert (done.returncode, done.stderr.count("\n")) == (2, 1), done.stderr
        assert done.stderr.startswith("standard output: ")


def test_setup_asks_nothing_for_a_file_that_it_could_not_write(run: Run, tmp_path: Path) -> None:
    status, out, err = run("setup", tmp_path / "gone" / "kitchen.toml", stdin="Oak Corner\n")
    assert (status, out, err.count("\n")) == (2, "", 1)
    assert "there is no folder" in err
