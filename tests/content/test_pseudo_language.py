"""A third language is files alone: a copy of the program gets accented English as a language, and an evening is walked.

The copy runs as a program of its own, so that nothing but files can have made it speak.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import bot

ROOT = Path(str(bot.__file__)).parent.parent
CODE = "xx"
ACCENTS = str.maketrans("aeinouycAEINOU", "áéíñóúýçÁÉÍÑÓÚ")
QUOTED = re.compile(r'(?<!\\)"((?:[^"\\\n]|\\.)*)"')
PLACEHOLDER = re.compile(r"(\{[^{}]*\}|[^{}]+)")
WORD = re.compile(r"[áéíñóúýçÁÉÍÑÓÚ]")
AS_THEY_STAND = re.compile(r"^\s*(?:power|picture|decimal|date)\s*=")
"""Keys whose values are names, not words."""


def accented(text: str) -> str:
    """English that no English file holds: every letter that can, bears an accent; placeholders stay."""
    return "".join(part if part[0] == "{" else part.translate(ACCENTS) for part in PLACEHOLDER.findall(text))


def translated(toml: str) -> str:
    """A file's texts with accents; its keys, placeholders and names as they stand."""
    lines = []
    for line in toml.splitlines():
        if line.lstrip().startswith(("#", "[")) or AS_THEY_STAND.match(line):
            lines.append(line)
            continue
        # A quoted key, as in "guide.skim" = "Skim the oil", is no text.
        key, equals, value = line.partition(" = ")
        said = value if equals else line
        told = QUOTED.sub(lambda match: f'"{accented(match[1])}"', said)
        lines.append(f"{key}{equals}{told}" if equals else told)
    return "\n".join(lines) + "\n"


def add_language(content: Path) -> int:
    """Write the files of the language; how many."""
    written = 0
    for source in [*content.rglob("en.toml"), *content.rglob("*.en.toml")]:
        target = source.with_name(source.name.replace("en.toml", f"{CODE}.toml"))
        target.write_text(translated(source.read_text(encoding="utf-8")), encoding="utf-8")
        written += 1
    formats = content / "formats.toml"
    text = formats.read_text(encoding="utf-8")
    sections = re.split(r"(?m)^(?=\[)", text)
    english = [section for section in sections if re.match(r"\[en(?:[.\]])", section)]
    assert english
    formats.write_text(text + "\n" + "".join(re.sub(r"^\[en", f"[{CODE}", s) for s in english), encoding="utf-8")
    for wording in (content / "wording").glob("*.toml"):
        said = wording.read_text(encoding="utf-8")
        wording.write_text(re.sub(r"(?m)^(\[language\]\n)", rf'\1{CODE} = "Pseudo"\n', said, count=1), encoding="utf-8")
    return written + 1


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the program that speaks a third language."""
    root = tmp_path_factory.mktemp("program")
    for package in ("bot", "intents", "demo_store"):
        shutil.copytree(ROOT / package, root / package, ignore=shutil.ignore_patterns("__pycache__"))
    assert add_language(root / "bot" / "content") > 40
    kitchen = root / "demo_store" / "kitchen.toml"
    text = kitchen.read_text(encoding="utf-8").replace('language = "en"', f'language = "{CODE}"', 1)
    text = text.replace('role = "cook"\nlanguage = "en"', f'role = "cook"\nlanguage = "{CODE}"')
    kitchen.write_text(text, encoding="utf-8")
    return root


def run(root: Path, *args: str) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "PYTHONPATH": str(root), "PYTHONDONTWRITEBYTECODE": "1"}
    return subprocess.run(
        [sys.executable, "-m", "bot", *args], cwd=root, env=environment, capture_output=True, text=True, check=False
    )


@pytest.fixture(scope="module")
def evening(copy: Path, tmp_path_factory: pytest.TempPathFactory) -> list[dict[str, object]]:
    """What the copy says in an evening in which the crew speaks the third language."""
    day = "2026-09-18T"
    said = [
        ("20:00", "ben", "how do I change the pad on 1"), ("20:01", "ben", "next"), ("20:02", "ben", "next"),
        ("20:03", "ben", "stop"), ("20:10", "ben", "the high limit tripped on fryer 2, how do I reset it"),
        ("20:11", "ben", "yes"), ("20:50", "teo", "how do I drain fryer 3"), ("21:00", "ben", "fryer 1 won't drain"),
        ("21:01", "ben", "no"), ("21:20", "ben", "skimmed 2"), ("21:35", "ben", "pad changed on 1, 2 and 3"),
        ("21:40", "ben", "what is due"), ("21:45", "ben", "can i pour the old oil down the sink"),
        ("21:50", "ben", "qwertz asdfg"), ("22:20", "ben", "fryer 2 is on fire"),
    ]  # fmt: skip
    script = tmp_path_factory.mktemp("script") / "evening.jsonl"
    lines: list[dict[str, object]] = [
        {"at": f"{day}{at}:00-04:00", "from": who, "text": accented(text)} for at, who, text in said
    ]
    # A third language is in the history, too: it must be read again.
    lines.insert(-1, {"at": f"{day}21:55:00-04:00", "restart": True})
    lines.append({"at": f"{day}22:30:00-04:00", "from": "rosa", "text": "en qué idiomas hablas"})
    lines.append({"at": f"{day}22:31:00-04:00", "from": "rosa", "tap": "Pseudo"})
    lines.append({"at": f"{day}22:32:00-04:00", "restart": True})
    lines.append({"at": f"{day}22:33:00-04:00", "from": "rosa", "text": "hola"})
    script.write_text("".join(json.dumps(line) + "\n" for line in lines), encoding="utf-8")
    done = run(copy, "replay", str(script), "--json", "--until", f"{day}23:50:00-04:00")
    assert done.returncode == 0, done.stderr
    return [json.loads(line) for line in done.stdout.splitlines()]


def test_check_finds_no_fault_in_the_third_language(copy: Path) -> None:
    done = run(copy, "guides", "check")
    assert done.stdout == "No faults found.\n", done.stdout[:2000]
    assert done.returncode == 0


def test_a_missing_file_of_the_third_language_is_a_fault_and_never_english(copy: Path, tmp_path: Path) -> None:
    root = tmp_path / "program"
    shutil.copytree(copy, root)
    (root / "bot" / "content" / "guides" / "skim" / f"{CODE}.toml").unlink()
    done = run(root, "guides", "check")
    assert done.returncode == 1
    assert f"skim/{CODE}.toml:1: there is no such file" in done.stdout


def test_every_message_to_those_who_speak_it_is_in_the_third_language(evening: list[dict[str, object]]) -> None:
    theirs = [message for message in evening if message["to"] in ("ben", "teo", "crew")]
    assert len(theirs) > 15
    plain = [message for message in theirs if not WORD.search(str(message["text"]))]
    assert plain == []


def test_the_others_still_get_their_own_language(evening: list[dict[str, object]]) -> None:
    for message in evening:
        if message["to"] in ("maya", "omar"):
            assert not WORD.search(str(message["text"])), message


def test_the_evening_holds_a_walk_a_wait_reminders_a_refusal_a_warning_and_an_emergency(
    evening: list[dict[str, object]],
) -> None:
    text = "\n".join(str(message["text"]) for message in evening if message["to"] in ("ben", "teo", "crew"))
    kinds = {message["kind"] for message in evening}
    assert {"reply", "reminder", "countdown", "alert"} <= kinds
    for words in ("Step 1 of", "Cooling", "I can't walk you through this", "Due now", "NEVER use water", "Logged"):
        assert accented(words) in text, words


def test_a_person_chooses_the_third_language_and_keeps_it_over_a_restart(evening: list[dict[str, object]]) -> None:
    last = [message for message in evening if message["to"] == "rosa" and message["kind"] == "reply"][-1]
    assert accented("Hello") in str(last["text"])


def test_a_guide_is_shown_in_the_third_language(copy: Path) -> None:
    done = run(copy, "guides", "show", "skim", "--language", CODE)
    assert done.returncode == 0, done.stderr
    assert accented("Step 1 of") in done.stdout
