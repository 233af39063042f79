"""A duty of the kitchen's own: checked in the file, named in messages, confirmed by tap, asked about in words."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from pathlib import Path

import pytest

from bot.app import Helper
from bot.content.catalogue import Content
from bot.content.duty_kinds import load_duty_kinds
from bot.content.kitchen_file import kitchen_of
from bot.content.toml_lines import parse_toml
from bot.core.actions import LONGEST, action
from bot.core.kitchen import Kitchen
from bot.core.records import Confirmed, Outgoing
from bot.reports.summary import as_json
from intents.understander import Understander
from tests.content.contentkit import KITCHEN, findings_of
from tests.core.stage import local

OWN = """
[[duties]]
id = "wipe_hoods"
title = { en = "hood wipe", es = "limpieza de la campana" }
words = ["wiped the hood", "Campana  limpia"]
every = "day"
at = "20:00"

[[duties]]
id = "tray_swap"
title = { en = "crumb tray swap", es = "cambio de bandeja" }
every = "day"
at = "20:30"
fryers = "all"
"""
KINDS = load_duty_kinds()
TUESDAY = date(2026, 9, 15)


def kitchen(text: str) -> Kitchen:
    return kitchen_of(parse_toml(text, "kitchen.toml"), KINDS)


@pytest.fixture
def helper(content: Content, understander: Understander, tmp_path: Path) -> Helper:
    return Helper.open(kitchen(KITCHEN + OWN), content, understander, tmp_path, local("2026-09-15 15:00"))


def said(messages: list[Outgoing], to: str | None = None) -> str:
    return "\n".join(m.text for m in messages if to in (None, m.to))


def test_the_file_gives_its_title_in_every_language_and_its_words() -> None:
    own = kitchen(KITCHEN + OWN).duty("wipe_hoods")
    assert own is not None
    assert (own.called("en"), own.called("es")) == ("hood wipe", "limpieza de la campana")
    assert own.words == ("wiped the hood", "campana limpia")
    assert (own.at, own.fryers) == (time(20), None)


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        (', es = "limpieza de la campana"', "", '"es" is missing'),
        ('"hood wipe"', "3", "whole number"),
        ('"hood wipe"', f'"{"x" * 41}"', "too long for a button"),
        ('id = "wipe_hoods"', 'id = "Wipe hoods"', "can't be the id of a duty"),
        ('id = "wipe_hoods"', 'id = "x234567890123456789012345"', "can't be the id of a duty"),
        ('id = "wipe_hoods"', 'id = "pad_change"', "has a name already"),
        ("en = ", "fr = ", 'unknown key "fr"'),
        ('"wiped the hood"', '"ok"', "too short"),
        ('title = { en = "hood wipe", es = "limpieza de la campana" }\n', "", 'unknown duty "wipe_hoods"'),
    ],
)
def test_what_is_wrong_with_it_is_said_with_its_line(old: str, new: str, fault: str) -> None:
    assert old in OWN
    found = findings_of(kitchen, KITCHEN + OWN.replace(old, new, 1))
    assert any(fault in one.what for one in found), [str(one) for one in found]
    assert all(one.line > KITCHEN.count("\n") - 20 for one in found)


def test_the_longest_id_fits_into_every_button() -> None:
    longest, fryer = "x" * 24, "f" * 12
    assert len(action("did", longest, fryer, "20260915T2130")) <= LONGEST
    assert len(action("moveto", longest, "2130")) <= LONGEST


def test_it_is_reminded_of_by_name_in_each_readers_language(helper: Helper) -> None:
    out = helper.tick(local("2026-09-15 20:00"))
    assert said(out, "crew") == "Due now: hood wipe."
    late = helper.tick(local("2026-09-15 21:00"))
    assert "limpieza de la campana" in said(late, "rosa")
    helper.drop()


def test_a_tap_confirms_it_on_its_fryer(helper: Helper) -> None:
    (reminder,) = [m for m in helper.tick(local("2026-09-15 20:30")) if "tray" in m.text]
    assert "crumb tray swap" in reminder.text
    done = next(b.action for b in reminder.buttons if b.action == "done:tray_swap:2")
    answer = helper.tap("ben", "crew", done, local("2026-09-15 20:35"))
    assert "Logged: crumb tray swap on fryer 2. On time." in said(answer)
    helper.drop()


@pytest.mark.parametrize("words", ["I wiped the hood!", "hood wipe", "campana limpia", "the hood wipe is finished"])
def test_words_that_name_it_ask_whether_it_was_done_and_log_nothing_by_themselves(helper: Helper, words: str) -> None:
    now = local("2026-09-15 20:10")
    (answer,) = [m for m in helper.hear("ben", "ben", words, now) if m.kind == "reply"]
    assert [b.action for b in answer.buttons] == ["done:wipe_hoods:-", "later:wipe_hoods:-"]
    assert not any(isinstance(c, Confirmed) for turn in helper.turns() for c in turn.changes)
    assert "On time" in said(helper.hear("ben", "ben", "1", now + timedelta(minutes=1)))
    helper.drop()


def test_it_is_judged_and_summed_up_like_any_other(helper: Helper) -> None:
    helper.tap("ben", "crew", "done:wipe_hoods:-", local("2026-09-15 20:05"))
    figures = as_json(helper.state, TUESDAY, local("2026-09-16 01:00"))
    assert figures["by_duty"]["wipe_hoods"]["on_time"] == 1
    assert figures["by_duty"]["tray_swap"]["missed"] == 2
    assert (
        "crumb tray swap on fryers 1 and 2"
        in said(helper.hear("ben", "ben", "what is due", local("2026-09-15 22:31"))).lower()
    )
    helper.drop()


def test_a_manager_can_move_it(helper: Helper) -> None:
    answer = helper.hear("rosa", "rosa", "/times", local("2026-09-15 15:05"))
    assert any("impieza de la campana" in b.label for m in answer for b in m.buttons)
    moved = helper.tap("rosa", "rosa", "moveto:wipe_hoods:1900", local("2026-09-15 15:06"))
    assert "hood wipe is due at 7:00 pm" in said(moved, "crew").lower()
    helper.drop()


def test_one_that_has_left_the_file_is_still_named_in_old_days(
    helper: Helper, content: Content, understander: Understander, tmp_path: Path
) -> None:
    helper.tap("ben", "crew", "done:wipe_hoods:-", local("2026-09-15 21:50"))
    helper.close()
    now: datetime = local("2026-09-16 12:00")
    without = Helper.open(kitchen(KITCHEN), content, understander, tmp_path, now)
    assert "wipe hoods" in said(without.tap("rosa", "rosa", "more:2026-09-15", now)).lower()
    without.drop()


def test_a_restart_after_a_move_takes_no_rules_in_again(
    helper: Helper, content: Content, understander: Understander, tmp_path: Path
) -> None:
    helper.tap("rosa", "rosa", "moveto:wipe_hoods:1900", local("2026-09-15 15:06"))
    seq = helper.state.seq
    helper.close()
    again = Helper.open(kitchen(KITCHEN + OWN), content, understander, tmp_path, local("2026-09-15 16:00"))
    assert again.state.seq == seq
    assert "hood wipe" in said(again.tick(local("2026-09-15 19:00")), "crew")
    again.drop()
