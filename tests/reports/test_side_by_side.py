"""Several kitchens side by side: the one with the most to act on first, as lines, as data and as a picture."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest
from PIL import Image

from bot.cli import main
from bot.content.catalogue import Content
from bot.content.places import demo_folder
from bot.core.kitchen import Kitchen
from bot.core.messages import Words
from bot.core.state import FOLD_VERSION, State
from bot.reports.canvas import WIDTH
from bot.reports.side_by_side import KitchenDay, as_json, kitchen_day, lines, picture, ranked
from bot.store import Store
from tests.core.stage import local
from tests.reports.reportkit import DAY, month_of_work, rules


def worked(name: str, share_on_time: float, days: int = 28) -> KitchenDay:
    log = month_of_work(rules(name=name), days=days, share_on_time=share_on_time)
    found = kitchen_day(name, log.state, DAY, log.days.day_end(DAY))
    assert found is not None
    return found


@pytest.fixture(scope="module")
def three() -> list[KitchenDay]:
    return [worked("Alder", 0.95), worked("Birch", 0.4), worked("Cedar", 0.7)]


def test_the_kitchen_with_the_lowest_share_comes_first(three: list[KitchenDay]) -> None:
    found = ranked(three)
    rates = [day.report.total.rate or 0.0 for day in found]
    assert rates == sorted(rates)
    assert found[0].name == "Birch"


def test_each_line_says_the_day_and_the_week_and_a_first_day_says_no_week(three: list[KitchenDay]) -> None:
    said = lines([*three, worked("Dogwood", 0.9, days=0)], DAY)
    assert said[0] == Words("rollup.head", {"n": 4, "on": DAY})
    by_kitchen = {words.params["kitchen"]: words for words in said[1:]}
    assert by_kitchen["Dogwood"].id == "rollup.line"
    week = three[0].week
    assert week.judged > three[0].report.total.judged
    assert by_kitchen["Alder"].params["percent"] == round(100 * week.on_time / week.judged)


def test_a_closed_kitchen_and_one_without_a_log_have_no_day() -> None:
    log = month_of_work(rules(closed_days=("tuesday",)))
    assert kitchen_day("Alder", log.state, DAY, log.days.day_end(DAY)) is None
    assert kitchen_day("Alder", State(), DAY, log.days.day_end(DAY)) is None


def test_the_data_holds_the_counts_of_every_kitchen(three: list[KitchenDay]) -> None:
    data = as_json(three, DAY)
    assert data["date"] == DAY.isoformat()
    for row in data["kitchens"]:
        assert row["rate"] == row["on_time"] / (row["on_time"] + row["late"] + row["missed"])


@pytest.mark.parametrize("language", ["en", "es"])
def test_the_picture_is_as_wide_as_a_phone_and_a_card_taller_for_each_kitchen(
    three: list[KitchenDay], content: Content, demo_kitchen: Kitchen, language: str
) -> None:
    def say(words: Words) -> str:
        return content.wording.render(words, language, demo_kitchen, local("2026-09-15 22:30"))

    sizes = [Image.open(io.BytesIO(picture(three[:n], "Tue 15 Sep", say))).size for n in (1, 2, 3)]
    assert {width for width, _ in sizes} == {WIDTH}
    assert sizes[1][1] - sizes[0][1] == sizes[2][1] - sizes[1][1] > 0


def test_the_command_reads_the_records_of_each_kitchen(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    demo = (demo_folder() / "kitchen.toml").read_text(encoding="utf-8")
    files = []
    for name, share in (("Alder", 0.9), ("Birch", 0.3)):
        file = tmp_path / f"{name}.toml"
        file.write_text(demo.replace('name = "Lantern Street Kitchen"', f'name = "{name}"'), encoding="utf-8")
        files += ["--kitchen", str(file)]
        store = Store.open(tmp_path / "records" / name.lower(), State, fold_version=FOLD_VERSION)
        for turn in month_of_work(rules(name=name), share_on_time=share).turns:
            store.append(turn)
        store.close()
    asked = ["rollup", *files, "--store", str(tmp_path / "records"), "--on", DAY.isoformat()]
    assert main([*asked, "--format", "json"]) == 0
    assert [row["kitchen"] for row in json.loads(capsys.readouterr().out)["kitchens"]] == ["Birch", "Alder"]
    assert main(asked) == 0
    assert capsys.readouterr().out.startswith("Your kitchens, Tue 15 Sep: 2 were open.\n– Birch: ")
    assert main([*asked[:-1], "2020-01-01"]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert main([*asked[:-1], "soon"]) == 2
