"""A kitchen file becomes a kitchen, or every fault of it is reported with its line and what to do."""

from __future__ import annotations

from datetime import date, time, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings, strategies as st

from bot.content.duty_kinds import load_duty_kinds
from bot.content.findings import ContentError
from bot.content.kitchen_file import kitchen_of, read_kitchen
from bot.content.toml_lines import parse_toml
from bot.core.kitchen import Every, Fryer, Kitchen, Person, Seals, Supply
from tests.content.contentkit import KITCHEN, findings_of, line_of

KINDS = load_duty_kinds()


def kitchen(text: str) -> Kitchen:
    return kitchen_of(parse_toml(text, "kitchen.toml"), KINDS)


def changed(old: str, new: str) -> str:
    assert KITCHEN.count(old) >= 1, old
    return KITCHEN.replace(old, new, 1)


# --- a valid file ---


def test_a_valid_file_gives_its_kitchen() -> None:
    found = kitchen(KITCHEN)
    assert (found.name, found.timezone, found.opens, found.closes) == (
        "Corner Kitchen",
        "America/New_York",
        time(10),
        time(22),
    )
    assert found.fryers == (
        Fryer("1", ("fries fryer",), "electric", None, None, 18.0, Seals("black", "25 x 3 mm", 3)),
        Fryer("2", ("falafel fryer",), "gas"),
    )
    assert found.people == (
        Person("ben", "Ben", "cook", "en", telegram=11),
        Person("rosa", "Rosa", "manager", "es", telegram=12),
    )
    assert found.polar_limit_percent == 24
    assert found.supplies == {"filter_pads": Supply(40, 15), "seals_black": Supply(3, 3)}


def test_what_may_be_left_out_has_its_default() -> None:
    found = kitchen(KITCHEN)
    assert found.language == "en"
    assert found.summary_at == time(22, 30)
    assert found.emergency_number == "911"
    assert found.cool_down == timedelta(minutes=30)
    assert (found.service_contact, found.crew_chat, found.closed_days, found.closed_dates) == (None, None, (), ())


def test_the_summary_of_a_kitchen_that_closes_before_midnight_may_come_after_it() -> None:
    assert kitchen(changed('closes = "22:00"', 'closes = "23:45"')).summary_at == time(0, 15)


def test_a_person_speaks_the_kitchens_language_unless_the_file_says_otherwise() -> None:
    found = kitchen(f'language = "es"\n{KITCHEN}')
    assert [person.language for person in found.people] == ["es", "es"]


def test_all_fryers_means_every_fryer_in_the_files_order() -> None:
    duty = kitchen(KITCHEN).duty("pad_change")
    assert duty is not None
    assert (duty.fryers, duty.every, duty.at) == (("1", "2"), Every("day"), time(21, 30))
    assert (duty.grace, duty.escalate, duty.last_done) == (timedelta(minutes=30), timedelta(minutes=60), None)


def test_a_duty_without_fryers_is_done_once_for_the_kitchen() -> None:
    duty = kitchen(changed('at = "21:30"\nfryers = "all"', 'at = "21:30"')).duty("pad_change")
    assert duty is not None
    assert duty.fryers is None


@pytest.mark.parametrize(
    ("written", "every"),
    [
        ('every = "day"\nat = "09:00"', Every("day")),
        ('every = "week"\non = "friday"\nat = "09:00"', Every("week", 1, "friday")),
        ('every = "month"\non = 31\nat = "09:00"', Every("month", 1, 31)),
        ('every = "2 days"\nat = "09:00"', Every("days", 2)),
        ('every = "1 drops"', Every("drops", 1)),
    ],
)
def test_every_rhythm_is_understood(written: str, every: Every) -> None:
    duty = kitchen(changed('every = "day"\nat = "21:30"', written)).duty("pad_change")
    assert duty is not None
    assert duty.every == every


@pytest.mark.parametrize(
    ("written", "length"),
    [("30 min", 30), ("2 h", 120), ("1 h 30 min", 90), ("1h30min", 90), ("0 min", 0)],
)
def test_lengths_of_time_are_understood(written: str, length: int) -> None:
    duty = kitchen(changed('at = "21:30"', f'at = "21:30"\ngrace = "{written}"\nescalate = "3 h"')).duty("pad_change")
    assert duty is not None
    assert duty.grace == timedelta(minutes=length)


def test_a_long_grace_moves_the_default_escalation_with_it() -> None:
    duty = kitchen(changed('at = "21:30"', 'at = "21:30"\ngrace = "90 min"')).duty("pad_change")
    assert duty is not None
    assert duty.escalate == timedelta(minutes=90)


def test_dates_may_stand_with_or_without_quotes() -> None:
    found = kitchen(f'closed_dates = ["2026-12-25", 2027-01-01]\n{KITCHEN}')
    assert found.closed_dates == (date(2026, 12, 25), date(2027, 1, 1))


def test_seals_of_a_colour_in_two_words_are_counted_under_that_colour() -> None:
    text = changed('colour = "black"', 'colour = "Dark red"').replace("seals_black", "seals_dark_red")
    found = kitchen(text)
    assert found.fryers[0].seals == Seals("dark red", "25 x 3 mm", 3)
    assert "seals_dark red" in found.supplies


def test_seals_that_fit_no_fryer_any_more_may_still_be_on_the_shelf() -> None:
    assert "seals_yellow" in kitchen(KITCHEN + "seals_yellow = { on_hand = 1, reorder_at = 0 }\n").supplies


def test_nobody_need_be_a_manager() -> None:
    assert kitchen(changed('role = "manager"', 'role = "lead"')).with_role("manager") == ()


# --- faults: what replaces what, the piece on whose line it is reported, what is wrong, what to do ---

FAULTS = [
    ('name = "Corner Kitchen"\n', "", "timezone", '"name" is missing', "add name"),
    ('timezone = "America/New_York"\n', "", "name =", '"timezone" is missing', "add timezone"),
    ('opens = "10:00"\n', "", "name =", '"opens" is missing', "add opens"),
    ('closes = "22:00"\n', "", "name =", '"closes" is missing', "add closes"),
    ("timezone", "timezon", "timezon =", 'unknown key "timezon"', 'did you mean "timezone"?'),
    ("telegram = 11", "telgram = 11", "telgram", 'unknown key "telgram"', 'did you mean "telegram"?'),
    ("telegram = 11", "zzz = 11", "zzz", 'unknown key "zzz"', "known here: id, language, name"),
    ('name = "Corner Kitchen"', "name = 7", "name = 7", "must be a text, not a whole number", 'like "7"'),
    ('name = "Corner Kitchen"', 'name = " "', "name =", "blank", "fill it in"),
    ('name = "Corner Kitchen"', 'name = "a\\nb"', "name =", "line break", "on one line"),
    ('name = "Corner Kitchen"', f'name = "{"x" * 401}"', "name =", "401 characters", "keep it to 400"),
    ("America/New_York", "America/NewYork", "timezone", "unknown time zone", '"America/New_York"?'),
    ("America/New_York", "new york", "timezone", "unknown time zone", '"America/New_York"?'),
    ("America/New_York", "localtime", "timezone", "unknown time zone", ""),
    ("America/New_York", "../etc/passwd", "timezone", "unknown time zone", ""),
    ('opens = "10:00"', 'opens = "9:30"', "opens", '"9:30" is no time of day', 'write it as "09:30"'),
    ('opens = "10:00"', 'opens = "9:30 pm"', "opens", "no time of day", 'write it as "21:30"'),
    ('closes = "22:00"', 'closes = "24:00"', "closes", "no time of day", 'write it as "00:00"'),
    ('closes = "22:00"', 'closes = "25:00"', "closes", "no time of day", "24-hour clock"),
    ('closes = "22:00"', 'closes = "22:60"', "closes", "no time of day", "24-hour clock"),
    ('closes = "22:00"', 'closes = "٢٢:٠٠"', "closes", "no time of day", "24-hour clock"),
    ('closes = "22:00"', "closes = 22", "closes", "not a whole number", 'a time like "21:30"'),
    ('closes = "22:00"', 'closes = "22:00"\nlanguage = "fr"', "language", 'unknown language "fr"', ""),
    ('closes = "22:00"', 'closes = "22:00"\nlanguage = 1', "language", "must be a text", '"en", "es"'),
    ('closes = "22:00"', 'closes = "22:00"\nclosed_days = ["mondy"]', "closed_days", '"mondy"', '"monday"?'),
    ('closes = "22:00"', 'closes = "22:00"\nclosed_days = "monday"', "closed_days", "a text", "[...]"),
    ('closes = "22:00"', 'closes = "22:00"\nclosed_dates = [\n"2026-02-30"]', '"2026-02-30"', "no date", "check the"),
    ('closes = "22:00"', 'closes = "22:00"\nclosed_dates = ["25.12."]', "closed_dates", "is no date", "2026-12-25"),
    ('closes = "22:00"', 'closes = "22:00"\nclosed_dates = [5]', "closed_dates", "a whole number", "a date like"),
    ('closes = "22:00"', 'closes = "22:00"\nemergency_number = 911', "emergency", "must be a text", 'like "911"'),
    ('closes = "22:00"', 'closes = "22:00"\nemergency_number = "fire"', "emergency", "no phone number", "911"),
    ('closes = "22:00"', 'closes = "22:00"\ncrew_chat = "x"', "crew_chat", "a whole number", "without quotes"),
    ('closes = "22:00"', 'closes = "22:00"\ncrew_chat = 0', "crew_chat", "0 is no chat", "take crew_chat out"),
    ('closes = "22:00"', f"closes = '22:00'\ncrew_chat = {10**30}", "crew_chat", "out of range", "give a number"),
    ('closes = "22:00"', 'closes = "22:00"\ncool_down = "29 min"', "cool_down", "too short", "at least 30 min"),
    ('closes = "22:00"', 'closes = "22:00"\ncool_down = "30"', "cool_down", "no length of time", '"30 min"'),
    ('closes = "22:00"', 'closes = "22:00"\ncool_down = 30', "cool_down", "in quotes", '"30 min"'),
    ('closes = "22:00"', 'closes = "22:00"\ncool_down = "999 h"', "cool_down", "too long", "31 days"),
    ("polar_percent = 24", "polar_percent = 101", "polar_percent", "out of range", "from 0 to 100"),
    ("polar_percent = 24", "polar_percent = -1", "polar_percent", "out of range", "from 0 to 100"),
    ("polar_percent = 24", "polar_percent = nan", "polar_percent", "out of range", "from 0 to 100"),
    ("polar_percent = 24", 'polar_percent = "24"', "polar_percent", "a number, not a text", "without quotes"),
    ("polar_percent = 24", "polar = 24", "[oil_limit]", '"polar_percent" is missing', "add polar_percent"),
    ("[oil_limit]\npolar_percent = 24", "oil_limit = 24", "oil_limit", "a whole number", "write a table"),
    ('id = "2"', 'id = "1"', 'id = "1"\nnames = ["falafel', 'the same fryer id "1"', "an id of its own"),
    ('id = "2"', "id = 2", "id = 2", "must be a text", 'in quotes, like "2"'),
    ('id = "2"', 'id = "fryer number 2"', "fryer number", "can't be an id", "1 to 12 letters"),
    ('id = "2"', 'id = "núm2"', "núm2", "can't be an id", "without accents"),
    ("falafel fryer", "Fries Fryer", "Fries Fryer", "names two fryers", "names of its own"),
    ('power = "gas"', 'power = "gass"', "gass", 'unknown power "gass"', 'did you mean "gas"?'),
    ('names = ["falafel fryer"]\npower = "gas"\n', "", '[[fryers]]\nid = "2"', '"power" is missing', "add power"),
    ("oil_litres = 18", 'oil_litres = "18"', "oil_litres", "a number, not a text", "without quotes"),
    ("oil_litres = 18", "oil_litres = true", "oil_litres", "not true or false", "digits"),
    ("oil_litres = 18", "oil_litres = 0", "oil_litres", "out of range", "0.1 to 1000"),
    ("oil_litres = 18", "oil_litres = inf", "oil_litres", "out of range", ""),
    ("count = 3 }", "count = 3.5 }", "seals =", "a whole number, not a number", ""),
    ("count = 3 }", "cuont = 3 }", "seals =", 'unknown key "cuont"', 'did you mean "count"?'),
    ('seals = { colour = "black", size = "25 x 3 mm", count = 3 }', 'seals = "black"', "seals =", "a text", "a table"),
    ('id = "rosa"', 'id = "ben"', 'id = "ben"\nname = "Rosa"', 'the same person id "ben"', "of its own"),
    ('id = "rosa"', 'id = "crew"', 'id = "crew"', "the name of the chat of all", "another id"),
    ('role = "manager"', 'role = "boss"', "boss", 'unknown role "boss"', '"cook", "lead", "manager", "trainer"'),
    ("telegram = 12", "telegram = 11", 'telegram = 11\n\n[[duties', "two people", "their own"),
    ("telegram = 12", "telegram = -12", "telegram = -12", "out of range", ""),
    ("telegram = 12", "under_16 = 'yes'", "under_16", "must be true or false", "without quotes"),
    ('id = "pad_change"', 'id = "pad_chnage"', "pad_chnage", "unknown duty", 'did you mean "pad_change"?'),
    ('id = "hood_filters"', 'id = "pad_change"', 'id = "pad_change"\nevery = "week"', "stands here twice", "keep one"),
    ('every = "day"', 'every = "dayly"', "dayly", "not how often", 'did you mean "day"?'),
    ('every = "day"', 'every = "2 day"', "2 day", "not how often", 'did you mean "2 days"?'),
    ('every = "day"', "every = 2", "every = 2", "a text, not a whole number", '"2 days"'),
    ('every = "day"', 'every = "0 days"', "0 days", "out of range", "from 1"),
    ('every = "day"\n', "", '[[duties]]\nid = "pad_change"', '"every" is missing', "add every"),
    ('on = "sunday"\n', "", '[[duties]]\nid = "hood', '"on" is missing', "add on"),
    ('on = "sunday"', 'on = "sundy"', "sundy", 'unknown day "sundy"', 'did you mean "sunday"?'),
    ('every = "week"', 'every = "month"', 'on = "sunday"', "falls on a day number", "1 to 31"),
    ('every = "week"\non = "sunday"', 'every = "month"\non = 32', "on = 32", "out of range", "1 to 31"),
    ('at = "21:30"', 'at = "21:30"\non = "monday"', "on =", "no meaning", "take it out"),
    ('at = "21:30"\n', "", '[[duties]]\nid = "pad_change"', '"at" is missing', "add at"),
    ('every = "300 drops"', 'every = "300 drops"\nat = "10:00"', 'at = "10:00"', "no meaning", "take it out"),
    ('fryers = ["2"]', 'fryers = ["2", "9"]', "fryers = [", 'there is no fryer "9"', "known ids: 1, 2"),
    ('fryers = ["2"]', 'fryers = ["2", "2"]', "fryers = [", "stands here twice", "keep one"),
    ('fryers = ["2"]', "fryers = []", "fryers = [", "empty", '"all"'),
    ('fryers = ["2"]', 'fryers = "2"', 'fryers = "2"', "are no fryers", 'write "all" or a list'),
    ('fryers = ["2"]', "fryers = 2", "fryers = 2", "are no fryers", 'write "all" or a list'),
    ('at = "21:30"', 'at = "21:30"\ngrace = "2 h"\nescalate = "1 h"', "escalate", "before it is late", "at least"),
    ('at = "21:30"', 'at = "21:30"\nlast_done = "yesterday"', "last_done", "is no date", "like"),
    ("[[fryers]]\nid", "[fryers]\nid", '[[fryers]]\nid = "2"', "overwrite", "two brackets each time"),
    ("filter_pads", "filter_pad", "filter_pad =", "unknown supply", 'did you mean "filter_pads"?'),
    ("filter_pads", "napkins", "napkins =", "unknown supply", "known supplies: filter_pads, oil_jugs"),
    ("seals_black", "seals_blak", "seals_blak", "unknown supply", 'did you mean "seals_black"?'),
    ("on_hand = 40", "on_hand = -1", "filter_pads", "out of range", "from 0"),
    ("on_hand = 40, ", "", "filter_pads", '"on_hand" is missing', "add on_hand"),
    ("{ on_hand = 40, reorder_at = 15 }", "40", "filter_pads", "a whole number", "write a table"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "piece", "what", "todo"), FAULTS)
def test_a_fault_is_reported_with_its_line_and_what_to_do(old: str, new: str, piece: str, what: str, todo: str) -> None:
    text = changed(old, new)
    line = 1 if piece in ("name =", "timezone") and not new else line_of(text, piece)
    found = findings_of(kitchen, text)
    assert any(f.line == line and what in f.what and todo in f.todo for f in found), [str(f) for f in found]
    assert all(f.file == "kitchen.toml" for f in found)


def without(first: str, last: str) -> str:
    return KITCHEN[: KITCHEN.index(first)] + KITCHEN[KITCHEN.index(last) :]


def test_a_kitchen_without_fryers_is_refused() -> None:
    found = findings_of(kitchen, without("[[fryers]]", "[[people]]"))
    assert any("no fryer" in f.what and "[[fryers]]" in f.todo for f in found)


def test_a_kitchen_without_people_is_refused() -> None:
    (found,) = findings_of(kitchen, without("[[people]]", "[[duties]]"))
    assert "nobody" in found.what


def test_a_kitchen_that_never_opens_is_refused() -> None:
    days = '["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]'
    (found,) = findings_of(kitchen, f"closed_days = {days}\n{KITCHEN}")
    assert (found.line, found.what) == (1, "the kitchen is closed on every day of the week")


def test_a_single_table_of_fryers_asks_for_two_brackets() -> None:
    text = without('[[fryers]]\nid = "2"', "[[people]]").replace("[[fryers]]", "[fryers]")
    assert any("two brackets" in f.todo for f in findings_of(kitchen, text))


def test_all_faults_come_at_once_in_the_order_of_the_file() -> None:
    text = KITCHEN.replace("New_York", "Nowhere").replace('"gas"', '"wood"').replace('"21:30"', '"21.30"')
    found = findings_of(kitchen, text)
    assert [f.line for f in found] == sorted(f.line for f in found)
    assert len(found) == 3


def test_the_fault_of_a_file_on_disk_names_that_file(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(changed('"22:00"', '"late"'), encoding="utf-8")
    (found,) = findings_of(read_kitchen, file)
    assert str(found).startswith(f'{file}:4: "late" is no time of day; ')


@pytest.mark.parametrize("said", ["a\\nb", "\\u001b[31m", "x" * 5000])
def test_a_fault_stays_one_short_line_whatever_it_quotes(said: str) -> None:
    (found,) = findings_of(kitchen, changed('power = "gas"', f'power = "{said}"'))
    assert len(str(found)) < 2000
    assert str(found).isprintable()


# --- whatever is in the file, it is read or its faults are told ---

PIECES = ["=", '"', "'", "[", "]", "{", "}", "#", ",", ".", "\n", "[[duties]]", "[fryers]", '"""', "id", "true", "nan",
          "-1", "1e400", "0x10", "9" * 40, "2026-12-25", "10:00:00", "\t", "é", "\x00", "\ud7ff", "all", "crew",
          "\\u0000", "\\", "99999999999 h", "every", "[1, 2]", "{}", "[]", "inf"]  # fmt: skip


@st.composite
def spoilt(draw: st.DrawFn) -> str:
    text = KITCHEN
    for _ in range(draw(st.integers(1, 4))):
        start = draw(st.integers(0, len(text)))
        end = min(len(text), start + draw(st.integers(0, 12)))
        text = text[:start] + draw(st.sampled_from(PIECES) | st.text(max_size=6)) + text[end:]
    return text


@st.composite
def revalued(draw: st.DrawFn) -> str:
    lines = KITCHEN.split("\n")
    for _ in range(draw(st.integers(1, 3))):
        n = draw(st.integers(0, len(lines) - 1))
        key, equals, _ = lines[n].partition(" = ")
        if equals:
            lines[n] = f"{key} = {draw(st.sampled_from(VALUES))}"
    return "\n".join(lines)


VALUES = ["1", "-1", "0", "1.5", "nan", "inf", "true", '""', '"x"', "[]", "{}", "[1]", '[["a"]]', "[{}]", "{ a = 1 }",
          "2026-12-25", "10:00:00", "2026-12-25T10:00:00Z", "10:00:00.5", '"all"',
          "9" * 30, '"30 min"', '"99 days"']  # fmt: skip


@settings(max_examples=400, suppress_health_check=[HealthCheck.too_slow])
@given(spoilt() | revalued())
def test_any_file_gives_a_kitchen_or_findings_and_never_a_traceback(text: str) -> None:
    try:
        read = kitchen(text)
    except ContentError as error:
        assert error.findings
        lines = text.count("\n") + 1
        assert all(1 <= f.line <= lines and f.what and f.todo for f in error.findings)
        assert all(str(f).isprintable() for f in error.findings)
    else:
        assert isinstance(read, Kitchen)
        assert read.cool_down >= timedelta(minutes=30)
        assert read.fryers
        assert read.people


@given(st.binary(max_size=200))
def test_any_bytes_give_findings(tmp_path_factory: pytest.TempPathFactory, raw: bytes) -> None:
    file = tmp_path_factory.mktemp("k") / "k.toml"
    file.write_bytes(raw)
    assert findings_of(read_kitchen, file)
