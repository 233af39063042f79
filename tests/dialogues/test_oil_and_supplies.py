"""Oil, supplies and summaries in whole conversations, in words, across a restart."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

from bot.app import Helper

Open = Callable[[datetime], Helper]


def at(text: str) -> datetime:
    return datetime.fromisoformat(f"2026-09-{text}:00-04:00")


def heard(helper: Helper, who: str, text: str, now: datetime) -> str:
    return next(m.text for m in helper.hear(who, who, text, now) if m.to == who and m.kind == "reply")


def tapped(helper: Helper, who: str, action: str, now: datetime) -> str:
    return next(m.text for m in helper.tap(who, who, action, now) if m.to == who and m.kind == "reply")


def test_the_day_of_the_oil_change_is_named_in_both_languages_after_a_restart(open_helper: Open) -> None:
    helper = open_helper(at("15 09:00"))
    for day, percent in ((15, 8), (16, 11), (17, 14)):
        heard(helper, "ben", f"oil on 2 is {percent} percent", at(f"{day} 12:00"))
    helper = open_helper(at("18 11:59"))
    said = heard(helper, "ben", "oil on 2 is 17 percent", at("18 12:00"))
    assert "by the trend of its tests the oil reaches 24 % around Sun 20 Sep" in said
    said = heard(helper, "rosa", "cuánto dura el aceite de la 2", at("18 12:01"))
    assert "el aceite llega al 24 % hacia el dom 20 sep" in said and "Consejo" in said


def test_a_count_of_the_shelf_survives_a_restart(open_helper: Open) -> None:
    helper = open_helper(at("15 12:00"))
    assert "Did you count 12" in heard(helper, "omar", "we have 12 filter pads left", at("15 12:00"))
    assert "12 on the shelf" in heard(helper, "omar", "yes", at("15 12:01"))
    helper = open_helper(at("15 12:02"))
    said = heard(helper, "omar", "what do we need to order", at("15 12:03"))
    assert "Filter pads: 12 left" in said and "Time to order" in said
    order = tapped(helper, "omar", "order", at("15 12:04"))
    assert order.startswith("Order for Lantern Street Kitchen")
    assert "Size 28 x 3 mm, 3 each, for fryer 2" in order


def test_the_jug_is_announced_once_its_swaps_are_known(open_helper: Open) -> None:
    helper = open_helper(at("01 09:00"))
    for day in ("01", "03", "05", "08"):
        heard(helper, "rosa", "ya cambié la garrafa de aceite", at(f"{day} 16:00"))
    assert "reservoir will be empty around Thu 10 Sep" in heard(
        helper, "ben", "when will the jug be empty", at("08 17:00")
    )
    wake = helper.wake_at(at("08 17:01"))
    told = []
    while wake is not None and wake < at("10 12:00"):
        told += helper.tick(wake)
        wake = helper.wake_at(wake + timedelta(seconds=1))
    assert sum("full oil jug ready" in m.text and m.kind == "reminder" and m.to == "crew" for m in told) == 1


def test_a_manager_reads_yesterday_and_the_week_in_words(open_helper: Open) -> None:
    helper = open_helper(at("15 09:00"))
    heard(helper, "ben", "pad changed on 1", at("15 21:34"))
    said = heard(helper, "omar", "how did we do yesterday", at("16 11:00"))
    assert said.startswith("Tue 15 Sep: ") and "Missed: " in said
    week = tapped(helper, "omar", "sum:week", at("16 11:01"))
    assert week.startswith("Mon 14 Sep to Wed 16 Sep: ")
