"""A third language is files alone: a copy of the program gets accented English as a language, and an evening is walked.

The copy runs as a program of its own, so that nothing but files can have made it speak.
"""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.channels.telegram.api_server import TOKEN, ApiServer
from tests.content.pseudo import CODE, WORD, accented, copy_that_reads, copy_that_speaks, program


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the program that speaks a third language."""
    return copy_that_speaks(tmp_path_factory.mktemp("program"))


def run(root: Path, *args: str, said: str | None = None) -> subprocess.CompletedProcess[str]:
    command, environment = program(root, *args)
    return subprocess.run(command, cwd=root, env=environment, input=said, capture_output=True, text=True, check=False)


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


def test_a_message_in_the_third_language_is_understood_as_one(tmp_path: Path) -> None:
    """Its letters tell it apart from English, and its own lexicon and phrases are read."""
    root = copy_that_reads(tmp_path / "program")
    said = f"{accented('how do I change the pad on fryer 2')} xox\nhow do I change the pad on fryer 2\n"
    done = run(root, "understand", said=said)
    assert done.returncode == 0, done.stderr
    theirs, english = (json.loads(line) for line in done.stdout.splitlines())
    assert (theirs["topic"], theirs["slots"]["fryer"]) == ("guide.pad_change", "2")
    assert theirs["language"] == CODE
    assert english["language"] == "en"


class Phone:
    """Ben's phone, by which the copy is spoken to over Telegram's wire."""

    USER = 1001

    def __init__(self, server: ApiServer) -> None:
        self.server = server

    def say(self, text: str) -> str:
        """Write something accented; what comes back."""
        return self._answer(lambda: self.server.say(self.USER, accented(text), language=CODE))

    def press(self, label: str) -> str:
        """Press the button of that accented English label on the newest message that has it."""
        messages = sorted(self.server.messages.items(), reverse=True)
        ref, data = next(
            (f"{chat}:{number}", button["callback_data"])
            for (chat, number), shown in messages
            for row in shown.keyboard
            for button in row
            if chat == self.USER and button["text"] == accented(label)
        )
        return self._answer(lambda: self.server.tap(self.USER, ref, data, language=CODE))

    def _answer(self, act: Callable[[], int]) -> str:
        before = self.server.texts(self.USER)
        act()
        self.server.wait(lambda: self.server.texts(self.USER) != before and self.server.waiting() == 0)
        return self.server.texts(self.USER)[-1]


def test_over_telegram_the_menu_a_walk_a_duty_and_an_emergency_are_in_the_third_language(
    copy: Path, tmp_path: Path
) -> None:
    # Fitted before the server waits for it.
    assert run(copy, "understand", said="hello\n").returncode == 0
    with ApiServer() as server:
        command, environment = program(copy, "serve", "--store", str(tmp_path / "store"))
        environment |= {"VATSIDE_TELEGRAM_TOKEN": TOKEN, "VATSIDE_TELEGRAM_BASE_URL": server.base_url}
        running = subprocess.Popen(command, cwd=copy, env=environment, stderr=subprocess.PIPE, text=True)
        try:
            server.wait(lambda: bool(server.of("setMyCommands")) or running.poll() is not None)
            phone = Phone(server)
            said = [
                phone.say("how do I change the pad on 1"),
                phone.press("Start"),
                phone.press("Next"),
                phone.say("stop"),
            ]
            said += [
                phone.say("pad changed on 2"),
                phone.press("Undo"),
                phone.say("fryer 1 won't drain"),
                phone.press("No"),
            ]
            said += [phone.say("qwertz asdfg"), phone.say("fryer 2 is on fire")]
            menus = server.of("setMyCommands")
        finally:
            running.terminate()
            _, errors = running.communicate()
    assert "Traceback" not in errors
    assert [text for text in server.texts(Phone.USER) if not WORD.search(text)] == []
    assert accented("Step 2 of") in said[2]
    assert accented("NEVER use water") in said[-1]
    theirs = [call.params for call in menus if call.params.get("language_code") == CODE]
    assert len(theirs) == 1
    assert WORD.search(str(theirs[0]["commands"]))
