"""A kitchen's own phrases in chat, in its files and at the command line."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from bot.app import Helper
from bot.cli import main
from bot.content import places
from bot.content.catalogue import Content
from bot.content.kitchen_file import read_kitchen
from bot.content.own_phrases import duty_words, objections, own_phrases, with_line, without_line, without_names
from bot.content.watching import LOOK_EVERY
from bot.core.kitchen import Kitchen
from bot.core.records import Outgoing
from bot.core.state import State
from bot.learning import Learning
from bot.store.files import Files
from intents.own import OwnDuties
from intents.phrasebook import Phrase
from intents.understander import Understander

NOON = datetime(2026, 9, 18, 16, 0, tzinfo=UTC)
ODD = "the gubbins are wonky again"
TOPIC = "fault.wont_filter"
LINE = "en/fault.wont_filter.txt"


class FullDisk(Files):
    """A disk on which nothing can be written until there is ``room``."""

    room = False

    def open_new(self, path: Path) -> int:
        if not self.room:
            raise OSError(28, "No space left on device")
        return super().open_new(path)


@pytest.fixture
def kitchen_file(tmp_path: Path) -> Path:
    return Path(shutil.copy(places.demo_folder() / "kitchen.toml", tmp_path / "kitchen.toml"))


@pytest.fixture
def folder(kitchen_file: Path) -> Path:
    found = own_phrases(kitchen_file)
    assert found is not None
    return found


Open = Callable[..., Helper]


@pytest.fixture
def opened(
    kitchen_file: Path, folder: Path, content: Content, understander: Understander, tmp_path: Path
) -> Iterator[Open]:
    """Opens the helper of the kitchen with its phrase files; the one before dies as by a power cut."""
    helpers: list[Helper] = []

    def open_at(now: datetime = NOON, files: Files | None = None) -> Helper:
        for helper in helpers:
            helper.drop()
        kitchen = read_kitchen(kitchen_file)
        learning = Learning(understander, folder, writes=True, files=files)
        helpers[:] = [Helper.open(kitchen, content, understander, tmp_path / "store", now, learning=learning)]
        return helpers[0]

    yield open_at
    for helper in helpers:
        helper.drop()


def said(messages: list[Outgoing], to: str) -> str:
    return "\n".join(message.text for message in messages if message.to == to)


def topic_of(helper: Helper, text: str) -> str | None:
    return helper._understander.understand(text).topic


def teach(helper: Helper, text: str = ODD, topic: str = TOPIC, at: datetime = NOON) -> list[Outgoing]:
    helper.hear("ben", "ben", text, at)
    number = max(helper.state.lessons.by_number)
    return helper.tap("lena", "lena", f"learn:{number}:{topic}", at)


def edit(file: Path, text: str) -> None:
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(text, encoding="utf-8")
    stat = file.stat()
    os.utime(file, ns=(stat.st_atime_ns, stat.st_mtime_ns + 1_000_000))


# --- in chat ---


def test_what_a_trainer_accepts_is_understood_from_the_next_message_on_and_stands_in_the_file(
    opened: Open, folder: Path
) -> None:
    helper = opened()
    assert topic_of(helper, ODD) is None
    assert "From now on" in said(teach(helper), "lena")
    assert topic_of(helper, "The gubbins are WONKY again!") == TOPIC
    assert (folder / LINE).read_text(encoding="utf-8") == f"{ODD}\n"
    assert not helper.state.lessons.unfiled


def test_the_phrase_and_its_file_do_not_say_who_wrote_it(opened: Open, folder: Path) -> None:
    teach(opened())
    assert "ben" not in (folder / LINE).read_text(encoding="utf-8").lower()


def test_taken_back_it_is_gone_from_the_file_and_the_understanding(opened: Open, folder: Path) -> None:
    helper = opened()
    teach(helper)
    helper.tap("lena", "lena", "unlearn:1", NOON)
    assert topic_of(helper, ODD) is None
    assert (folder / LINE).read_bytes() == b""


def test_the_other_lines_of_the_file_stay_as_they_are(opened: Open, folder: Path) -> None:
    before = "# ours\r\nthe whatsit is stuck\r\nlast line without an end"
    edit(folder / LINE, before)
    helper = opened()
    teach(helper)
    assert (folder / LINE).read_bytes().decode() == f"{before}\n{ODD}\n"
    helper.tap("lena", "lena", "unlearn:1", NOON)
    assert (folder / LINE).read_bytes().decode() == f"{before}\n"


def test_what_was_deleted_by_hand_is_not_written_again_after_a_restart(opened: Open, folder: Path) -> None:
    teach(opened())
    (folder / LINE).unlink()
    helper = opened(NOON + timedelta(minutes=1))
    helper.tick(NOON + timedelta(minutes=2))
    assert not (folder / LINE).exists()
    assert topic_of(helper, ODD) is None


def test_an_alarm_can_not_be_taught_away_and_the_reason_is_said(opened: Open, folder: Path) -> None:
    helper = opened()
    helper.hear("ben", "ben", ODD, NOON)
    helper.state.lessons.by_number[1].text = "the falafel fryer is on fire"
    answer = said(helper.tap("lena", "lena", f"learn:1:{TOPIC}", NOON), "lena")
    assert "sounds an alarm (Fire)" in answer
    assert not folder.exists()
    assert topic_of(helper, "the falafel fryer is on fire") == "emergency.fire"


@pytest.mark.parametrize("text", ["FIRE", "grease fire on fryer 2", "huele a gas", "se quemó el brazo con aceite"])
def test_whatever_was_taught_an_alarm_is_raised(opened: Open, text: str) -> None:
    helper = opened()
    teach(helper)
    teach(helper, "wonky gubbins over there mate", "guide.skim")
    assert (topic_of(helper, text) or "").startswith("emergency.")


def test_the_list_is_the_same_after_a_restart_from_the_saved_state_and_from_the_history(opened: Open) -> None:
    helper = opened()
    teach(helper)
    helper.hear("ben", "ben", "wonky gubbins over there mate", NOON)
    before = helper.state.lessons
    helper.save()
    assert opened(NOON + timedelta(minutes=1)).state.lessons == before
    refolded = State()
    for turn in helper.turns():
        refolded.apply(turn)
    assert refolded.lessons == before


# --- the file can't be written ---


def test_where_the_file_can_not_be_written_that_is_said_once_and_the_phrase_acts_all_the_same(
    opened: Open, folder: Path
) -> None:
    disk = FullDisk()
    helper = opened(files=disk)
    told = said(teach(helper), "lena")
    assert "I can't write them" in told
    assert "No space left on device." in told
    assert topic_of(helper, ODD) == TOPIC
    assert not helper.tick(NOON + timedelta(minutes=1))
    assert not (folder / LINE).exists()
    disk.room = True
    helper.tick(NOON + timedelta(minutes=2))
    assert (folder / LINE).read_text(encoding="utf-8") == f"{ODD}\n"


def test_a_power_cut_before_the_file_was_written_loses_nothing(opened: Open, folder: Path) -> None:
    teach(opened(files=FullDisk()))
    helper = opened(NOON + timedelta(minutes=1))
    assert topic_of(helper, ODD) == TOPIC
    helper.tick(NOON + timedelta(minutes=2))
    assert (folder / LINE).read_text(encoding="utf-8") == f"{ODD}\n"


def test_without_a_kitchen_file_of_its_own_what_was_taught_acts_from_the_history(
    open_helper: Callable[[datetime], Helper],
) -> None:
    teach(open_helper(NOON))
    helper = open_helper(NOON + timedelta(minutes=1))
    assert topic_of(helper, ODD) == TOPIC
    helper.tap("lena", "lena", "unlearn:1", NOON + timedelta(minutes=2))
    assert topic_of(helper, ODD) is None


# --- edited by hand ---


def test_a_line_written_by_hand_is_taken_in_while_it_runs(opened: Open, folder: Path) -> None:
    helper = opened()
    helper.tick(NOON)
    edit(folder / LINE, f"{ODD}\n")
    assert not helper.tick(NOON + LOOK_EVERY)
    assert topic_of(helper, ODD) == TOPIC


def test_a_faulty_line_is_told_to_the_trainers_and_the_others_act(opened: Open, folder: Path) -> None:
    helper = opened()
    helper.tick(NOON)
    edit(folder / LINE, f"{ODD}\nthe falafel fryer is on fire\n!!!\n")
    told = said(helper.tick(NOON + LOOK_EVERY), "lena")
    assert f"{LINE}:2" in told
    assert f"{LINE}:3" in told
    assert topic_of(helper, ODD) == TOPIC
    assert topic_of(helper, "the falafel fryer is on fire") == "emergency.fire"


# --- lines ---


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (b"", b"a b\n"),
        (b"x", b"x\na b\n"),
        (b"x\r\n", b"x\r\na b\n"),
        (b"A, b!\n", b"A, b!\n"),
        (b"\xff\n", b"\xff\na b\n"),
    ],
)
def test_a_line_is_added_once_and_nothing_else_changes(before: bytes, after: bytes) -> None:
    assert with_line(before, "a b") == after
    assert with_line(after, "a b") == after


def test_a_line_is_taken_out_however_it_is_spelt_but_no_comment() -> None:
    assert without_line(b"# a b\nA  b!\nc\n\xff\n", "a b") == b"# a b\nc\n\xff\n"


def test_lines_that_name_somebody_are_taken_out_as_whole_words() -> None:
    written = "rosa's fryer is odd\nask Ana María\nrosary\nroses\n".encode()
    assert without_names(written, ["Ana Maria", "roses"]) == b"rosa's fryer is odd\nrosary\n"


# --- check ---


def test_two_topics_pulled_together_are_reported_with_both_places(understander: Understander) -> None:
    built_in = next(p for p in understander.phrases if p.text == "how to get the crumbs out of the oil")
    near = Phrase(f"hey {built_in.text}", "log.done", "en", Path("kitchen/phrases/en/log.done.txt"), 4)
    (finding,) = objections([near], understander)
    assert str(finding).startswith("kitchen/phrases/en/log.done.txt:4: ")
    assert built_in.where in str(finding)


def test_check_reports_every_fault_of_own_phrases_with_file_and_line(
    kitchen_file: Path, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    edit(folder / "en" / "guide.soup.txt", "soup of the day\n")
    edit(folder / "fr" / "guide.skim.txt", "bonjour\n")
    edit(folder / "es" / "guide.skim.txt", "")
    edit(folder / "en" / "guide.skim.txt", f"# ours\n?!\n{'word ' * 60}\nskim {{soup}}\ngrease fire on fryer 2\n")
    assert main(["check", "--kitchen", str(kitchen_file)]) == 1
    lines = capsys.readouterr().out.splitlines()
    for place in (
        "en/guide.soup.txt:1",
        "fr/guide.skim.txt:1",
        "es/guide.skim.txt:1",
        *(f"en/guide.skim.txt:{n}" for n in (2, 3, 4, 5)),
    ):
        assert any(line.startswith(f"{folder}/{place}: ") and "; " in line for line in lines), (place, lines)
    assert len(lines) == 7


def test_check_of_a_kitchen_without_own_phrases_finds_no_fault(
    kitchen_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["check", "--kitchen", str(kitchen_file)]) == 0
    assert "No faults found." in capsys.readouterr().out


# --- the command ---


def run(capsys: pytest.CaptureFixture[str], *args: object) -> tuple[int, str, str]:
    status = main(["phrases", *map(str, args)])
    printed = capsys.readouterr()
    return status, printed.out, printed.err


def test_the_command_lists_accepts_refuses_and_takes_back(
    opened: Open, kitchen_file: Path, folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    helper = opened()
    helper.hear("ben", "ben", ODD, NOON)
    helper.hear("rosa", "rosa", "wonky the other way round mate", NOON)
    helper.drop()
    where = ("--kitchen", kitchen_file, "--store", tmp_path / "store")
    status, out, _ = run(capsys, "list", *where)
    assert status == 0
    assert ODD in out
    assert run(capsys, "accept", 1, TOPIC, *where)[0] == 0
    assert (folder / LINE).read_text(encoding="utf-8") == f"{ODD}\n"
    assert run(capsys, "accept", 1, TOPIC, *where)[0] == 2
    # No fit with it is needed for what follows.
    (folder / LINE).unlink()
    assert run(capsys, "refuse", 2, *where)[0] == 0
    out = run(capsys, "list", *where)[1]
    assert f"means {TOPIC}" in out
    assert "refused" in out
    assert run(capsys, "undo", 2, *where)[0] == 0
    assert "to be decided: 1" in run(capsys, "list", *where)[1]


def test_the_command_adds_and_removes_lines_of_the_files(
    kitchen_file: Path, folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    where = ("--kitchen", kitchen_file, "--store", tmp_path / "store")
    assert run(capsys, "add", ODD, TOPIC, *where)[0] == 0
    assert (folder / LINE).read_text(encoding="utf-8") == f"{ODD}\n"
    assert run(capsys, "remove", ODD.upper(), *where)[0] == 0
    assert (folder / LINE).read_bytes() == b""
    status, _, complaint = run(capsys, "remove", ODD, *where)
    assert status == 2
    assert complaint.count("\n") == 1


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (["add", "grease fire on fryer 2", "guide.skim"], "sounds an alarm"),
        (["add", "hello there", "guide.skimm"], 'did you mean "guide.skim"?'),
        (["add", "...", "guide.skim"], "no word"),
        (["accept", "1", "guide.skim"], "holds no records"),
    ],
)
def test_what_makes_no_sense_is_refused_in_one_line(
    kitchen_file: Path, tmp_path: Path, args: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    status, _, complaint = run(capsys, *args, "--kitchen", kitchen_file, "--store", tmp_path / "none")
    assert status == 2
    assert words in complaint
    assert complaint.count("\n") == 1


def test_the_demo_kitchen_gets_no_phrase_files(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, _, complaint = run(capsys, "add", ODD, TOPIC, "--store", tmp_path)
    assert status == 2
    assert "name a kitchen file" in complaint


# --- forgetting a person ---


def test_forgetting_reaches_what_they_wrote_and_every_phrase_that_names_them(
    opened: Open,
    kitchen_file: Path,
    folder: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    helper = opened()
    teach(helper, "rosa left the gubbins wonky", "guide.skim")
    helper.hear("rosa", "rosa", "mis cachivaches bailan solos", NOON)
    teach(helper)
    helper.close()
    monkeypatch.setenv("VATSIDE_CACHE", str(tmp_path / "cache"))
    fit = tmp_path / "cache" / "own-0.npz"
    edit(fit, "what was learnt from phrases")
    names = ["forget", "rosa", "--kitchen", str(kitchen_file), "--store", str(tmp_path / "store")]
    assert main(names) == 0
    capsys.readouterr()
    everything = "".join(
        path.read_text(encoding="utf-8").lower()
        for path in tmp_path.rglob("*")
        if path.suffix in (".txt", ".jsonl", ".json")
    )
    assert "rosa" not in everything
    assert "cachivaches" not in everything
    assert not fit.exists()
    assert (folder / LINE).read_text(encoding="utf-8") == f"{ODD}\n"


# --- a kitchen's own duties ---


def test_an_own_duty_that_is_said_to_be_done_is_logged(
    content: Content, demo_kitchen: Kitchen, understander: Understander, tmp_path: Path
) -> None:
    text = (places.demo_folder() / "kitchen.toml").read_text(encoding="utf-8")
    own = '\n[[duties]]\nid = "hood_rail"\nevery = "day"\nat = "20:00"\n'
    own += '[duties.title]\nen = "hood rail"\nes = "barandal de la campana"\n'
    (tmp_path / "kitchen.toml").write_text(text.replace("[supplies]", f"{own}\n[supplies]"), encoding="utf-8")
    kitchen = read_kitchen(tmp_path / "kitchen.toml")
    knowing = replace(understander, duties=OwnDuties.of(duty_words(kitchen)))
    helper = Helper.open(kitchen, content, knowing, tmp_path / "store", NOON)
    assert "Logged: hood rail" in said(helper.hear("ben", "ben", "just wiped the hood rail", NOON), "ben")
    assert "ogged" not in said(helper.hear("ben", "ben", "the hood rail, what is that?", NOON), "ben")
    helper.drop()
