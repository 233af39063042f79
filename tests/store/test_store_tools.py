"""Backup, restore, the doctor and forgetting a person: what they promise, and that no fault makes them lie."""

from __future__ import annotations

import errno
import gzip
import io
import json
import random
import tarfile
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from bot.core import records as r
from bot.core.state import State
from bot.reports.export import rows
from bot.store import Store, StoreBusy, StoreError, Upkeep, read_only
from bot.store.backup import back_up, restore, verify
from bot.store.doctor import look_over
from bot.store.evidence import keep_photo, kind_of, names_of, photo
from bot.store.files import Files
from bot.store.forgetting import forget, unfinished
from tests.store.storekit import Crash, FailingFiles, HastyFiles, MortalFiles, UnpoweredFiles, WatchedFiles

START = datetime(2025, 11, 1, 21, tzinfo=UTC)
NOW = datetime(2026, 3, 1, tzinfo=UTC)
JPEG = b"\xff\xd8\xff\xe0" + b"a photo"
NOTE = "Ben's note: the pump on 2 rattles"


def evening(folder: Path, files: Files | None = None) -> list[r.Turn]:
    """A small store of two years and three people; its turns."""
    changes: list[tuple[r.Change, ...]] = [
        (r.Confirmed(1, "pad_change", "1", START, None, "unscheduled", "ben"),),
        (r.NoteLeft(2, NOTE, "ben"), r.FryerMentioned("ben", "2")),
        (r.Asked("ben", "ben", (r.Option("yes", "done:pad_change:1"),)),),
        (
            r.WaitStarted("2", "pump", START + timedelta(hours=1), "ben", "ben"),
            r.Told(("rollup|ben|2026-01-02", "rollup|rosa|2026-01-02")),
            r.Asked("omar", "omar", (r.Option("yes", "sign:guide.drain:ben"),)),
        ),
        (r.WalkMoved("ben", "ben", "guide.drain", "2", 1), r.LanguageChosen("ben", "es")),
        (r.QuestionUnanswered("does it rain", "en", "ben"), r.Snoozed("pad_change", "1", START, "ben", "ben")),
        (r.Confirmed(3, "pad_change", "2", START, None, "unscheduled", "rosa"), r.Undone(1, "ben")),
        (r.IncidentReported("burn", "rosa", "crew"), r.EvidenceKept(3, "3-1.jpg", "rosa")),
    ]
    turns = []
    for seq, some in enumerate(changes, 1):
        at = START + timedelta(days=15 * seq)
        texts = (
            ("ben", "Logged, Ben.", "walk|ben"),
            ("omar", f"Note from Ben: {NOTE}", None),
            ("crew", "Benign.", None),
        )
        out = tuple(
            r.Outgoing(3 * seq + n, at, to, "reply", text, (r.OutButton("Ask Ben", "no"),), key)
            for n, (to, text, key) in enumerate(texts)
        )
        turns.append(r.Turn(seq, at, some, out, cause=f"tg:{seq}"))
    delivered = tuple(r.Delivered(m.number, "x") for turn in turns for m in turn.out if m.number < 24)
    turns.append(r.Turn(len(turns) + 1, at, delivered))
    with Store.open(folder, State, files=files or HastyFiles()) as store:
        for turn in turns:
            store.append(turn)
        keep_photo(folder, 3, JPEG, HastyFiles())
    Store.open(folder, State, files=HastyFiles(), upkeep=Upkeep(NOW, timedelta(days=4000))).close()
    return turns


def held(folder: Path) -> list[r.Turn]:
    with Store.open(folder, State, files=HastyFiles()) as store:
        assert store.recovery is None
        return list(store.turns())


# --- backup and restore ---


def test_a_backup_brings_back_every_turn_of_every_year_and_every_photo(tmp_path: Path) -> None:
    turns = evening(tmp_path / "store")
    contents = back_up(tmp_path / "store", tmp_path / "b.tar.gz")
    assert (contents.turns, contents.last) == (9, 9)
    assert restore(tmp_path / "b.tar.gz", tmp_path / "new") == contents
    assert held(tmp_path / "new") == turns
    assert photo(tmp_path / "new", "3-1.jpg") == JPEG
    assert look_over(tmp_path / "new").faults == ()
    assert not (tmp_path / "new.restoring").exists()


def test_a_backup_is_of_one_moment_while_the_helper_goes_on_writing(tmp_path: Path) -> None:
    turns = evening(tmp_path / "store")
    with Store.open(tmp_path / "store", State) as store:
        for seq in range(10, 40):
            turns.append(r.Turn(seq, NOW, (r.FryerMentioned("rosa", "1"),)))
            store.append(turns[-1])
            if seq == 25:
                back_up(tmp_path / "store", tmp_path / "b.tar.gz")
    restore(tmp_path / "b.tar.gz", tmp_path / "new")
    assert held(tmp_path / "new") == turns[:25]


def test_a_line_that_is_just_being_written_is_left_out(tmp_path: Path) -> None:
    turns = evening(tmp_path / "store")
    with (tmp_path / "store" / "history.jsonl").open("ab") as file:
        file.write(b'{"v":1,"crc":"0')
    back_up(tmp_path / "store", tmp_path / "b.tar.gz")
    restore(tmp_path / "b.tar.gz", tmp_path / "new")
    assert held(tmp_path / "new") == turns


def test_a_damaged_store_is_to_be_repaired_before_it_is_backed_up(tmp_path: Path) -> None:
    evening(tmp_path)
    _spoil(tmp_path)
    with pytest.raises(StoreError, match=r"history\.jsonl: there is damage in it; run 'vatside doctor' first"):
        back_up(tmp_path, tmp_path / "b.tar.gz")
    assert not (tmp_path / "b.tar.gz").exists()


@pytest.mark.parametrize("lies_there", ["a file", "something in it"])
def test_restoring_into_a_folder_that_is_not_empty_is_refused(tmp_path: Path, lies_there: str) -> None:
    evening(tmp_path / "store")
    back_up(tmp_path / "store", tmp_path / "b.tar.gz")
    target = tmp_path / "target"
    if lies_there == "a file":
        target.write_text("mine")
    else:
        target.mkdir()
        (target / "mine").write_text("mine")
    with pytest.raises(StoreError, match="it is not empty; choose a folder that is empty or not there"):
        restore(tmp_path / "b.tar.gz", target)
    assert (target if target.is_file() else target / "mine").read_text() == "mine"


def test_an_empty_folder_may_be_restored_into(tmp_path: Path) -> None:
    turns = evening(tmp_path / "store")
    back_up(tmp_path / "store", tmp_path / "b.tar.gz")
    (tmp_path / "new").mkdir()
    restore(tmp_path / "b.tar.gz", tmp_path / "new")
    assert held(tmp_path / "new") == turns


def test_no_changed_byte_of_a_backup_is_ever_restored_as_something_else(tmp_path: Path) -> None:
    turns = evening(tmp_path / "store")
    whole = _backup_bytes(tmp_path)
    chance = random.Random(7)
    for n in range(150):
        spoilt = bytearray(whole)
        spoilt[chance.randrange(len(spoilt))] ^= 1 << chance.randrange(8)
        (tmp_path / "spoilt").write_bytes(spoilt)
        target = tmp_path / f"new{n}"
        try:
            restore(tmp_path / "spoilt", target)
        except StoreError:
            assert not target.exists()
        else:  # bytes that mean nothing: the name and time in gzip's header, padding of the tar
            assert held(target) == turns


@pytest.mark.parametrize("share", [0.0, 0.3, 0.9])
def test_a_backup_that_was_cut_short_is_refused(tmp_path: Path, share: float) -> None:
    evening(tmp_path / "store")
    whole = _backup_bytes(tmp_path)
    (tmp_path / "short").write_bytes(whole[: int(share * len(whole))])
    with pytest.raises(StoreError, match="use another backup"):
        restore(tmp_path / "short", tmp_path / "new")
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize("name", ["../evil", "/etc/evil", "evidence/../../evil", "history.jsonl/x", "state.json"])
def test_a_forged_backup_can_not_write_outside_its_folder(tmp_path: Path, name: str) -> None:
    with tarfile.open(tmp_path / "forged", "w:gz") as tar:
        said = {"v": 1, "turns": 0, "last": 0, "files": [{"name": name, "size": 1, "sha256": "x"}]}
        for member, content in (("contents.json", json.dumps(said).encode()), (name, b"x")):
            info = tarfile.TarInfo(member)
            info.size = len(content)
            tar.addfile(info, io.BytesIO(content))
    with pytest.raises(StoreError, match="is no file of a store"):
        restore(tmp_path / "forged", tmp_path / "new")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["forged"]


def test_a_link_in_a_backup_is_refused(tmp_path: Path) -> None:
    with tarfile.open(tmp_path / "forged", "w:gz") as tar:
        info = tarfile.TarInfo("history.jsonl")
        info.type, info.linkname = tarfile.SYMTYPE, "/etc/passwd"
        tar.addfile(info)
    with pytest.raises(StoreError, match="is no plain file"):
        verify(tmp_path / "forged")


def test_a_backup_names_nobody_of_this_machine(tmp_path: Path) -> None:
    evening(tmp_path / "store")
    with tarfile.open(fileobj=io.BytesIO(_backup_bytes(tmp_path))) as tar:
        assert {(info.uname, info.uid, info.mtime) for info in tar} == {("", 0, 0)}


def test_a_folder_without_records_can_not_be_backed_up(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="there are no records"):
        back_up(tmp_path, tmp_path / "b.tar.gz")


@pytest.mark.parametrize("name", ["store/history.jsonl", "kitchen.toml", "."])
def test_a_backup_takes_the_place_of_nothing_but_a_backup(tmp_path: Path, name: str) -> None:
    evening(tmp_path / "store")
    (tmp_path / "kitchen.toml").write_text("name = 'x'")
    before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    with pytest.raises(StoreError, match="name another one"):
        back_up(tmp_path / "store", tmp_path / name)
    assert {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()} == before


def test_a_backup_into_a_folder_that_is_not_there_names_that_folder(tmp_path: Path) -> None:
    evening(tmp_path / "store")
    with pytest.raises(StoreError, match=r"there is no folder .*gone; make it"):
        back_up(tmp_path / "store", tmp_path / "gone" / "b.tar.gz")


def test_a_file_that_is_no_backup_is_refused(tmp_path: Path) -> None:
    (tmp_path / "b").write_bytes(gzip.compress(b"hello"))
    with pytest.raises(StoreError, match="use another backup"):
        verify(tmp_path / "b")


OLD = b"\x1f\x8bthe old one"


@pytest.mark.parametrize("code", [errno.EIO, errno.ENOSPC])
def test_a_failing_operation_leaves_the_old_backup_or_a_whole_new_one(tmp_path: Path, code: int) -> None:
    evening(tmp_path / "store")
    target = tmp_path / "b.tar.gz"
    for at in range(1, _operations(lambda files: back_up(tmp_path / "store", target, files)) + 1):
        target.write_bytes(OLD)
        files = FailingFiles(lambda n, _: n == at, code)  # noqa: B023
        with pytest.raises(StoreError):
            back_up(tmp_path / "store", target, files)
        assert target.read_bytes() == OLD or verify(target).turns == 9
        assert not (tmp_path / "b.tar.gz.tmp").exists()


def test_a_restore_that_dies_anywhere_leaves_nothing_or_all_and_can_be_run_again(tmp_path: Path) -> None:
    turns = evening(tmp_path / "store")
    back_up(tmp_path / "store", tmp_path / "b.tar.gz")
    calm = tmp_path / "calm"
    for at in range(1, _operations(lambda files: restore(tmp_path / "b.tar.gz", calm, files)) + 1):
        target = tmp_path / f"new{at}"
        with pytest.raises(Crash):
            restore(tmp_path / "b.tar.gz", target, MortalFiles(at))
        if not target.exists():
            restore(tmp_path / "b.tar.gz", target)
        assert held(target) == turns


# --- the doctor ---


def test_a_healthy_store_has_no_fault_and_stays_as_it_is(tmp_path: Path) -> None:
    turns = evening(tmp_path)
    report = look_over(tmp_path)
    assert (report.turns, report.faults) == (9, ())
    assert held(tmp_path) == turns


def test_the_doctor_tells_of_every_fault_and_finds_none_the_second_time(tmp_path: Path) -> None:
    evening(tmp_path)
    _spoil(tmp_path)
    (tmp_path / "state.json.tmp").write_bytes(b"half")
    (tmp_path / "evidence" / "9-1.jpg").write_bytes(JPEG)
    (tmp_path / "evidence" / "9-1.jpg").chmod(0o644)
    (tmp_path / "evidence" / "3-1.jpg").unlink()
    said = "\n".join(map(str, look_over(tmp_path).faults))
    for expected in (
        "state.json.tmp: left over from a write that was cut short; removed",
        "history.jsonl: 1 damaged lines; 8 good turns kept; the file as it was is in history.damaged-1.jsonl",
        "is not there; they stood on damaged lines",
        "evidence/3-1.jpg: the photo is not there; look in a backup",
        "evidence/9-1.jpg: no record names this photo; left where it is",
        "9-1.jpg: other users could read or change it; rights set to 600",
    ):
        assert expected in said
    again = "\n".join(map(str, look_over(tmp_path).faults))
    assert "damaged lines;" not in again
    assert "rights" not in again


def test_the_doctor_notices_a_saved_state_that_is_not_the_sum_of_the_history(tmp_path: Path) -> None:
    evening(tmp_path)
    with Store.open(tmp_path, State, files=HastyFiles()) as store:
        store.state.entries += 5
        store.save_snapshot()
    (fault,) = look_over(tmp_path).faults
    assert fault.what == "state.json: the saved state is not what the history adds up to"
    assert look_over(tmp_path).faults == ()


def test_the_doctor_leaves_a_store_that_is_in_use_alone(tmp_path: Path) -> None:
    evening(tmp_path)
    with Store.open(tmp_path, State), pytest.raises(StoreBusy):
        look_over(tmp_path)


def test_the_doctor_makes_no_store_where_there_is_none(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="there are no records"):
        look_over(tmp_path)
    assert list(tmp_path.iterdir()) == []


# --- forgetting a person ---


def _forget(folder: Path, files: Files | None = None) -> str | None:
    done = forget(folder, "ben", ("Ben",), ("ben", "rosa", "omar"), NOW, files=files or HastyFiles())
    return done.token if done is not None else None


def _bytes(folder: Path) -> bytes:
    return b"".join(path.read_bytes() for path in folder.rglob("*") if path.is_file())


def test_a_forgotten_person_is_nowhere_and_every_record_of_theirs_is_there(tmp_path: Path) -> None:
    evening(tmp_path)
    before = list(rows(read_only(tmp_path, State).turns(), "UTC"))
    assert _forget(tmp_path) == "gone-1"
    for trace in (b'"ben"', b"Ben ", b"Ben:", b"Ben.", b"rattles", b"does it rain", b"|ben", b":ben"):
        assert trace not in _bytes(tmp_path)
    after = list(rows(read_only(tmp_path, State).turns(), "UTC"))
    own = {"by": "gone-1", "text": ""}
    assert after == [row | {k: v for k, v in own.items() if k in row} if row["by"] == "ben" else row for row in before]
    assert held(tmp_path)[-1].seq == 10
    assert look_over(tmp_path).faults == ()


def test_the_messages_of_others_lose_the_name_and_the_note_and_keep_the_rest(tmp_path: Path) -> None:
    evening(tmp_path)
    _forget(tmp_path)
    first = held(tmp_path)[0]
    assert [(m.to, m.text) for m in first.out] == [("gone-1", ""), ("omar", "Note from …: …"), ("crew", "Benign.")]
    assert first.out[1].buttons[0].label == "Ask …"


def test_messages_that_wait_for_them_are_given_up(tmp_path: Path) -> None:
    evening(tmp_path)
    _forget(tmp_path)
    with Store.open(tmp_path, State) as store:
        assert {m.to for m in store.state.outbox.values()} == {"omar", "crew"}


def test_two_forgotten_people_stay_apart_and_an_unknown_one_changes_nothing(tmp_path: Path) -> None:
    evening(tmp_path)
    _forget(tmp_path)
    assert forget(tmp_path, "rosa", ("Rosa",), (), NOW, files=HastyFiles()).token == "gone-2"  # type: ignore[union-attr]
    before = _bytes(tmp_path)
    assert forget(tmp_path, "zoe", (), (), NOW, files=HastyFiles()) is None
    assert _bytes(tmp_path) == before


def test_what_was_set_aside_goes_too(tmp_path: Path) -> None:
    evening(tmp_path)
    (tmp_path / "history.damaged-1.jsonl").write_text("something of ben")
    done = forget(tmp_path, "ben", ("Ben",), (), NOW, files=HastyFiles())
    assert done is not None
    assert "history.damaged-1.jsonl" in done.removed


@pytest.mark.parametrize("code", [errno.EIO, errno.ENOSPC])
def test_forgetting_that_fails_anywhere_is_finished_by_running_it_again(tmp_path: Path, code: int) -> None:
    evening(tmp_path / "calm")
    for at in range(1, _operations(lambda files: _forget(tmp_path / "calm", files)) + 1):
        folder = tmp_path / str(at)
        evening(folder)
        with pytest.raises(StoreError):
            _forget(folder, FailingFiles(lambda n, _: n == at, code))  # noqa: B023
        _assert_finished(folder)


def test_forgetting_that_dies_anywhere_is_finished_by_running_it_again(tmp_path: Path) -> None:
    evening(tmp_path / "calm")
    for at in range(1, _operations(lambda files: _forget(tmp_path / "calm", files)) + 1):
        folder = tmp_path / str(at)
        evening(folder)
        with pytest.raises(Crash):
            _forget(folder, MortalFiles(at))
        _assert_finished(folder)


@pytest.mark.parametrize("renames_reach_disk", [False, True])
def test_forgetting_that_a_power_cut_ends_is_finished_by_running_it_again(
    tmp_path: Path, renames_reach_disk: bool
) -> None:
    chance = random.Random(20260302)
    evening(tmp_path / "calm")
    for at in range(1, _operations(lambda files: _forget(tmp_path / "calm", files)) + 1):
        folder = tmp_path / str(at)
        evening(folder)
        (folder / "evidence" / "3-1.jpg").unlink()
        (folder / "evidence").rmdir()  # the harness knows one folder
        files = UnpoweredFiles(folder, at, renames_reach_disk)
        with pytest.raises(Crash):
            _forget(folder, files)
        files.cut_power(chance)
        _assert_finished(folder)


def test_another_person_must_wait_until_the_first_is_forgotten(tmp_path: Path) -> None:
    evening(tmp_path)
    (tmp_path / "forgetting.json").write_text('{"person":"ben","token":"gone-1"}')
    assert unfinished(tmp_path) == "ben"
    with pytest.raises(StoreError, match="forgetting another person was cut short"):
        forget(tmp_path, "rosa", ("Rosa",), (), NOW, files=HastyFiles())
    assert "run 'vatside forget ben' again" in str(look_over(tmp_path).faults[-1])


def _assert_finished(folder: Path) -> None:
    """However far it came: one more run leaves no trace, loses no turn, and uses one token throughout."""
    _forget(folder)
    for rest in folder.glob("*.tmp"):
        rest.unlink()
    turns = held(folder)
    assert [turn.seq for turn in turns] == list(range(1, turns[-1].seq + 1))
    assert turns[-1].seq >= 9
    assert b'"ben"' not in _bytes(folder)
    assert b"rattles" not in _bytes(folder)
    tokens = {getattr(c, "by", "") for turn in turns for c in turn.changes if getattr(c, "by", "").startswith("gone")}
    assert tokens == {"gone-1"}
    assert unfinished(folder) is None


# --- photos ---


def test_a_photo_is_kept_under_the_number_of_its_record_for_this_user_alone(tmp_path: Path) -> None:
    names = [keep_photo(tmp_path, 7, content, HastyFiles()) for content in (JPEG, b"\x89PNG\r\n\x1a\nx", JPEG)]
    assert names == ["7-1.jpg", "7-2.png", "7-3.jpg"] == names_of(tmp_path)
    assert (tmp_path / "evidence" / "7-1.jpg").stat().st_mode & 0o777 == 0o600
    assert (tmp_path / "evidence").stat().st_mode & 0o777 == 0o700
    assert photo(tmp_path, "7-1.jpg") == JPEG


@pytest.mark.parametrize("content", [b"", b"%PDF-1.7", b"<svg>", b"\xff\xd8\xff" + bytes(10 << 20)])
def test_what_is_no_photo_or_too_large_is_not_kept(tmp_path: Path, content: bytes) -> None:
    assert kind_of(content) is None
    with pytest.raises(ValueError, match="no photo, or too large"):
        keep_photo(tmp_path, 7, content, HastyFiles())
    assert names_of(tmp_path) == []


@pytest.mark.parametrize("name", ["../history.jsonl", "7-1.jpg/..", "7.jpg", "", "7-1.exe"])
def test_a_name_that_no_photo_can_have_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(StoreError, match="no photo can have that name"):
        photo(tmp_path, name)


def _operations(work: Callable[[Files], object]) -> int:
    files = WatchedFiles()
    work(files)
    return files.count


def _backup_bytes(tmp_path: Path) -> bytes:
    back_up(tmp_path / "store", tmp_path / "b.tar.gz")
    return (tmp_path / "b.tar.gz").read_bytes()


def _spoil(folder: Path) -> None:
    """Flip a byte of the second line of the history."""
    history = folder / "history.jsonl"
    lines = history.read_bytes().splitlines(keepends=True)
    history.write_bytes(b"".join([lines[0], lines[1].replace(b"2", b"3", 1), *lines[2:]]))
