"""A kitchen's own guides: made, shown, checked, used instead of the built-in ones, and read again when edited."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from bot.app import Helper
from bot.cli import main
from bot.commands.loading import kitchen_of
from bot.content import places
from bot.content.catalogue import load_content
from bot.content.own_guides import new_guide, overrides, own_guides
from bot.content.watching import LOOK_EVERY, Watched
from intents.understander import Understander

NOON = datetime(2026, 9, 18, 16, 0, tzinfo=UTC)
OUR_TITLE = "Change the pad the Lantern Street way"


@pytest.fixture
def kitchen_file(tmp_path: Path) -> Path:
    return Path(shutil.copy(places.demo_folder() / "kitchen.toml", tmp_path / "kitchen.toml"))


@pytest.fixture
def guide(kitchen_file: Path) -> Path:
    return new_guide(kitchen_file.parent / "guides", "pad_change")


def edit(file: Path, old: str, new: str) -> None:
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, new), encoding="utf-8")
    # A clock of the file system may be coarser than two edits in one test are apart.
    stat = file.stat()
    os.utime(file, ns=(stat.st_atime_ns, stat.st_mtime_ns + 1_000_000))


def test_a_new_guide_is_a_copy_with_notes_and_says_what_the_built_in_one_says(guide: Path) -> None:
    text = (guide / "en.toml").read_text(encoding="utf-8")
    assert text.startswith("# The words of this guide in one language.")
    ours, built_in = load_content(guide.parent), load_content()
    assert ours.library.guides == built_in.library.guides


def test_a_guide_without_a_model_is_blank_and_is_not_used_until_it_is_written(tmp_path: Path) -> None:
    place = new_guide(tmp_path, "no_such_guide")
    assert 'title = ""' in (place / "en.toml").read_text(encoding="utf-8")


def test_an_own_guide_wins_over_the_built_in_one_by_topic(guide: Path, kitchen_file: Path) -> None:
    edit(guide / "en.toml", "Change the filter pad", OUR_TITLE)
    assert own_guides(kitchen_file) == guide.parent
    (override,) = overrides(guide.parent)
    assert override.topic == "guide.pad_change"
    assert override.replaces


def test_a_kitchen_without_own_guides_has_none(kitchen_file: Path) -> None:
    assert own_guides(kitchen_file) is None
    assert own_guides(None) is None
    assert list(overrides(None)) == []


# --- the commands ---


def test_new_makes_the_folder_beside_the_kitchen_file(kitchen_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["guides", "new", "skim", "--kitchen", str(kitchen_file)]) == 0
    place = kitchen_file.parent / "guides" / "skim"
    assert sorted(path.name for path in place.iterdir()) == ["about.toml", "en.toml", "es.toml"]
    assert str(place) in capsys.readouterr().out
    assert main(["guides", "check", "--kitchen", str(kitchen_file)]) == 0


def test_new_never_overwrites(guide: Path, kitchen_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    edit(guide / "en.toml", "Change the filter pad", OUR_TITLE)
    assert main(["guides", "new", "pad_change", "--kitchen", str(kitchen_file)]) == 2
    assert "already" in capsys.readouterr().err
    assert OUR_TITLE in (guide / "en.toml").read_text(encoding="utf-8")


def test_new_needs_a_kitchen_file_and_a_known_name(kitchen_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["guides", "new", "skim"]) == 2
    assert main(["guides", "new", "skimm", "--kitchen", str(kitchen_file)]) == 2
    assert main(["guides", "new", "../../skim", "--kitchen", str(kitchen_file)]) == 2
    err = capsys.readouterr().err
    assert 'did you mean "skim"?' in err
    assert "Traceback" not in err


def test_show_prints_every_message_of_a_walk_as_the_crew_sees_it(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["guides", "show", "reset_high_limit", "--language", "es"]) == 0
    out = capsys.readouterr().out
    steps = load_content().library.guides["guide.reset_high_limit"]
    for power in ("gas", "electric"):
        assert out.count(f"Paso 1 de {len(steps.steps_for(power))}:") >= 1
    assert "Cuidado:" in out
    assert "[Empezar]" in out


def test_show_prints_a_guide_of_facts_in_one_message(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["guides", "show", "food_temps"]) == 0
    assert "165 °F (74 °C)" in capsys.readouterr().out


def test_show_prints_the_kitchens_own_guide(
    guide: Path, kitchen_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    edit(guide / "en.toml", "Change the filter pad", OUR_TITLE)
    assert main(["guides", "show", "pad_change", "--kitchen", str(kitchen_file)]) == 0
    assert OUR_TITLE in capsys.readouterr().out


@pytest.mark.parametrize("command", [["check"], ["guides", "check"]])
def test_check_tells_what_overrides_what_and_where_the_faults_are(
    guide: Path, kitchen_file: Path, command: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    edit(guide / "en.toml", "Lay the screen flat", "Wait 77 minutes and lay the screen flat")
    assert main([*command, "--kitchen", str(kitchen_file)]) == 1
    out = capsys.readouterr().out
    assert f"guide.pad_change: {guide} is used, in place of the built-in guide" in out
    assert f"{guide / 'en.toml'}:" in out
    assert "the number 77 has no source" in out


# --- while the helper runs ---


@pytest.fixture
def running(guide: Path, kitchen_file: Path, understander: Understander, tmp_path: Path) -> Iterator[Helper]:
    content = load_content(guide.parent)
    helper = Helper.open(
        kitchen_of(kitchen_file), content, understander, tmp_path / "store", NOON, watched=Watched(kitchen_file)
    )
    helper.tick(NOON)
    yield helper
    helper.drop()


@pytest.fixture
def later() -> Callable[[int], datetime]:
    return lambda n: NOON + n * LOOK_EVERY


def title(helper: Helper, now: datetime) -> str:
    return helper.tap("ben", "ben", "walk:guide.pad_change:1", now)[-1].text.splitlines()[0]


def test_an_edit_is_at_work_without_a_restart(running: Helper, guide: Path, later: Callable[[int], datetime]) -> None:
    assert title(running, NOON) == "Change the filter pad, fryer 1"
    edit(guide / "en.toml", "Change the filter pad", OUR_TITLE)
    running.tick(later(1))
    assert title(running, later(1)) == f"{OUR_TITLE}, fryer 1"


def test_a_faulty_edit_keeps_the_last_good_guide_and_tells_the_trainer_once(
    running: Helper, guide: Path, later: Callable[[int], datetime]
) -> None:
    edit(guide / "en.toml", "Lay the screen flat", "Wait 77 minutes and lay the screen flat")
    (alert,) = running.tick(later(1))
    assert (alert.to, alert.kind) == ("lena", "alert")
    assert f"{guide / 'en.toml'}:" in alert.text
    assert "the number 77 has no source" in alert.text
    assert title(running, later(1)) == "Change the filter pad, fryer 1"
    edit(guide / "en.toml", "# The words of this guide", "# the words of this guide")
    assert running.tick(later(2)) == [], "the same fault is told once"
    edit(guide / "en.toml", "Wait 77 minutes and lay the screen flat", "Lay our screen flat")
    (mended,) = running.tick(later(3))
    assert (mended.to, mended.kind) == ("lena", "alert")
    assert "in order now" in mended.text


def test_the_same_fault_is_not_told_again_after_a_restart(
    running: Helper, guide: Path, kitchen_file: Path, understander: Understander, tmp_path: Path
) -> None:
    good = load_content(guide.parent)
    edit(guide / "en.toml", "Lay the screen flat", "Wait 77 minutes and lay the screen flat")
    assert len(running.tick(NOON + LOOK_EVERY)) == 1
    running.drop()
    watched = Watched(kitchen_file)
    at = NOON + timedelta(minutes=1)
    again = Helper.open(running.kitchen, good, understander, tmp_path / "store", at, watched=watched)
    edit(guide / "es.toml", "# The words of this guide", "# the words of this guide")
    assert again.tick(at) == []
    again.drop()


def test_a_guide_that_is_deleted_gives_way_to_the_built_in_one(
    running: Helper, guide: Path, later: Callable[[int], datetime]
) -> None:
    edit(guide / "en.toml", "Change the filter pad", OUR_TITLE)
    running.tick(later(1))
    shutil.rmtree(guide)
    running.tick(later(2))
    assert title(running, later(2)) == "Change the filter pad, fryer 1"


def test_a_walk_that_is_open_while_its_guide_gets_shorter_goes_on_without_a_fault(
    running: Helper, guide: Path, later: Callable[[int], datetime]
) -> None:
    running.tap("ben", "ben", "go:guide.pad_change:1:13", NOON)
    for language in ("en", "es"):
        file = guide / f"{language}.toml"
        steps = file.read_text(encoding="utf-8").split("[[steps]]")
        file.write_text("[[steps]]".join(steps[:-3]), encoding="utf-8")
    running.tick(later(1))
    assert "last step" in running.hear("ben", "ben", "next", later(1))[-1].text


def test_the_files_are_looked_at_only_every_few_seconds(kitchen_file: Path, guide: Path) -> None:
    watched = Watched(kitchen_file)
    assert not watched.changed(NOON)
    edit(guide / "en.toml", "Change the filter pad", OUR_TITLE)
    assert not watched.changed(NOON + timedelta(seconds=1))
    assert watched.changed(NOON + LOOK_EVERY)
    assert not watched.changed(NOON + 2 * LOOK_EVERY)
