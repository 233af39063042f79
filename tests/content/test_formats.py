"""Values read as the language and the kitchen are used to."""

from __future__ import annotations

import shutil
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, strategies as st

from bot.content import places
from bot.content.formats import Style, load_formats, number
from intents.types import Language
from tests.content.contentkit import findings_of

FORMATS = load_formats()
TODAY = date(2026, 9, 15)
TWELVE, TWENTY_FOUR = Style(12, "."), Style(24, ",")


@pytest.mark.parametrize(
    ("value", "point", "comma"),
    [
        (24.0, "24", "24"),
        (20.5, "20.5", "20,5"),
        (1234.5, "1,234.5", "1.234,5"),
        (1234567, "1,234,567", "1.234.567"),
        (100, "100", "100"),
        (0, "0", "0"),
        (-0.001, "0", "0"),
        (-3.456, "-3.46", "-3,46"),
    ],
)
def test_numbers_follow_the_kitchens_decimal_sign(value: float, point: str, comma: str) -> None:
    assert (number(value, TWELVE), number(value, TWENTY_FOUR)) == (point, comma)


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_what_is_no_number_is_refused(value: float) -> None:
    with pytest.raises(ValueError, match="no number"):
        number(value, TWELVE)


@pytest.mark.parametrize(
    ("language", "moment", "style", "manner", "words"),
    [
        ("en", "2026-09-15 21:30", TWELVE, "plain", "9:30 pm"),
        ("en", "2026-09-15 00:05", TWELVE, "plain", "12:05 am"),
        ("en", "2026-09-15 12:00", TWELVE, "plain", "12:00 pm"),
        ("en", "2026-09-15 09:05", TWENTY_FOUR, "plain", "09:05"),
        ("en", "2026-09-14 21:30", TWELVE, "plain", "yesterday 9:30 pm"),
        ("en", "2026-09-16 21:30", TWELVE, "plain", "tomorrow 9:30 pm"),
        ("en", "2026-09-01 21:30", TWELVE, "plain", "Tue 1 Sep 9:30 pm"),
        ("en", "2025-09-01 21:30", TWELVE, "plain", "Mon 1 Sep 2025 9:30 pm"),
        ("en", "2026-09-15 21:30", TWELVE, "when", "at 9:30 pm"),
        ("en", "2026-09-14 21:30", TWELVE, "when", "yesterday at 9:30 pm"),
        ("en", "2026-09-01 21:30", TWELVE, "when", "on Tue 1 Sep at 9:30 pm"),
        ("en", "2026-09-14 21:30", TWELVE, "the", "yesterday 9:30 pm"),
        ("es", "2026-09-15 21:30", TWELVE, "plain", "9:30 p. m."),
        ("es", "2026-09-15 21:30", TWENTY_FOUR, "plain", "21:30"),
        ("es", "2026-09-14 21:30", TWENTY_FOUR, "plain", "ayer 21:30"),
        ("es", "2026-09-15 13:30", TWELVE, "when", "a la 1:30 p. m."),
        ("es", "2026-09-15 13:30", TWENTY_FOUR, "when", "a las 13:30"),
        ("es", "2026-09-15 01:30", TWENTY_FOUR, "the", "la 01:30"),
        ("es", "2026-09-16 09:00", TWELVE, "when", "mañana a las 9:00 a. m."),
        ("es", "2026-09-01 09:00", TWELVE, "when", "el mar 1 sep a las 9:00 a. m."),
        ("es", "2026-09-01 09:00", TWELVE, "the", "el mar 1 sep a las 9:00 a. m."),
    ],
)
def test_times_read_as_people_say_them(language: Language, moment: str, style: Style, manner: str, words: str) -> None:
    local = datetime.fromisoformat(moment)
    assert FORMATS.speech[language].moment(local, TODAY, style, manner) == words


@pytest.mark.parametrize(
    ("on", "english", "spanish"),
    [
        (date(2026, 9, 15), "Tue 15 Sep", "mar 15 sep"),
        (date(2025, 12, 27), "Sat 27 Dec 2025", "sáb 27 dic 2025"),
    ],
)
def test_dates_have_their_year_only_where_it_is_another(on: date, english: str, spanish: str) -> None:
    assert FORMATS.speech["en"].day(on, TODAY) == english
    assert FORMATS.speech["es"].day(on, TODAY) == spanish


@pytest.mark.parametrize(
    ("span", "english", "spanish", "long"),
    [
        (timedelta(minutes=30), "30 min", "30 min", "30 minutes"),
        (timedelta(minutes=1), "1 min", "1 min", "1 minute"),
        (timedelta(minutes=65), "1 h 5 min", "1 h 5 min", "1 hour 5 minutes"),
        (timedelta(hours=2), "2 h", "2 h", "2 hours"),
        (timedelta(days=2), "2 days", "2 días", "2 days"),
        (timedelta(days=1, hours=3, minutes=5), "1 day 3 h", "1 día 3 h", "1 day 3 hours"),
        (timedelta(0), "0 min", "0 min", "0 minutes"),
        (timedelta(seconds=20), "1 min", "1 min", "1 minute"),
        (timedelta(minutes=59, seconds=30), "1 h", "1 h", "1 hour"),
    ],
)
def test_lengths_of_time(span: timedelta, english: str, spanish: str, long: str) -> None:
    assert FORMATS.speech["en"].length(span) == english
    assert FORMATS.speech["es"].length(span) == spanish
    assert FORMATS.speech["en"].length(span, long=True) == long


def test_a_length_below_zero_is_refused() -> None:
    with pytest.raises(ValueError, match="below zero"):
        FORMATS.speech["en"].length(timedelta(minutes=-1))


@given(st.timedeltas(timedelta(0), timedelta(hours=23, minutes=59)))
def test_a_wait_is_never_said_shorter_than_it_is(span: timedelta) -> None:
    words = FORMATS.speech["en"].length(span).split()
    said = dict(zip(words[1::2], map(int, words[::2]), strict=True))
    told = timedelta(days=said.get("day", 0), hours=said.get("h", 0), minutes=said.get("min", 0))
    assert span <= told < span + timedelta(minutes=1)


@pytest.mark.parametrize(
    ("items", "english", "spanish"),
    [
        ((), "", ""),
        (("Ben",), "Ben", "Ben"),
        (("Ben", "Rosa"), "Ben and Rosa", "Ben y Rosa"),
        (("Ben", "Rosa", "Maya"), "Ben, Rosa and Maya", "Ben, Rosa y Maya"),
        (("Ben", "Inés"), "Ben and Inés", "Ben e Inés"),
        (("Ben", "íntima"), "Ben and íntima", "Ben e íntima"),
        (("aceite", "higos"), "aceite and higos", "aceite e higos"),
        (("agua", "hielo"), "agua and hielo", "agua y hielo"),
        (("Ben", "Yolanda"), "Ben and Yolanda", "Ben y Yolanda"),
    ],
)
def test_lists_are_joined_as_they_are_read(items: tuple[str, ...], english: str, spanish: str) -> None:
    assert FORMATS.speech["en"].all_of.put(items) == english
    assert FORMATS.speech["es"].all_of.put(items) == spanish


@pytest.mark.parametrize(
    ("zone", "clock", "decimal"),
    [
        ("America/New_York", 12, "."),
        ("America/Argentina/Cordoba", 24, ","),
        ("America/Mexico_City", 12, "."),
        ("Europe/Madrid", 24, ","),
        ("Europe/London", 24, "."),
        ("Asia/Tokyo", 24, "."),
    ],
)
def test_the_style_goes_by_the_longest_fitting_prefix_of_the_zone(zone: str, clock: int, decimal: str) -> None:
    assert FORMATS.style(zone) == Style(clock, decimal)


@pytest.mark.parametrize(
    ("old", "new", "what"),
    [
        ('weekdays = ["Mon", ', "weekdays = [", "there are 6 weekdays"),
        ('yesterday = "ayer"', 'yesterdy = "ayer"', '"yesterday" is missing'),
        ('date = "{weekday} {day} {month}"', 'date = "{weekday} {dia}"', "unknown placeholder {dia}"),
        ("clock = 12", "clock = 13", "must be 12 or 24"),
        ('decimal = ","', 'decimal = "x"', "unknown decimal sign"),
        ("h?[iíÍI](?!", "h?[iíÍI(?!", "no regular expression"),
        ("[es.time]", "[es.tiem]", "the table time is missing"),
        ('when = { today = "at {the_clock}", ', "when = { ", '"today" is missing'),
    ],
)
def test_a_fault_in_the_formats_is_a_finding(tmp_path: Path, old: str, new: str, what: str) -> None:
    file = tmp_path / "formats.toml"
    shutil.copy(places.FORMATS, file)
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, new, 1), encoding="utf-8")
    assert any(what in f.what for f in findings_of(load_formats, file))


@pytest.mark.parametrize(
    ("items", "english", "spanish"),
    [
        (["Ana"], "Ana", "Ana"),
        (["Ana", "Omar"], "Ana or Omar", "Ana u Omar"),
        (["Omar", "Ana"], "Omar or Ana", "Omar o Ana"),
    ],
)
def test_whoever_may_be_asked_is_listed_with_or(items: list[str], english: str, spanish: str) -> None:
    assert FORMATS.speech["en"].any_of.put(items) == english
    assert FORMATS.speech["es"].any_of.put(items) == spanish
