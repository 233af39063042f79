"""Text for the eye made into text for the ear: numbers, units, times and abbreviations written out.

How each is said stands in ``ear_words``, one file a language. A synthesiser left alone with "350 °F (177 °C)" or
"9:30 p. m." says it letter by letter, or in another language.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from intents.types import Language

FOLDER = Path(__file__).with_name("ear_words")

LANGUAGES: frozenset[Language] = frozenset(file.stem for file in FOLDER.glob("*.toml"))

LONGEST_NUMBER = 6
"""A longer run of digits is no amount: it is said digit by digit."""

_NUMBER = re.compile(r"(?<![\w.:-])(?P<minus>[-−])?(?P<whole>\d+)(?:[.,](?P<part>\d+))?(?!\w|:\d|-\w)")
_PHONE = re.compile(r"\+?\d[\d ()-]{5,}\d")
_ENDS = (".", "!", "?", ":", ";", ",")


@dataclass(frozen=True, slots=True)
class Spoken:
    """How a language is spoken: the synthesiser's name for its voice, and the pace of that."""

    name: str
    letters_a_second: float


@dataclass(frozen=True, slots=True)
class _Rules:
    voice: Spoken
    rewrite: tuple[tuple[re.Pattern[str], str], ...]
    numbers: dict[str, Any]
    units: dict[str, list[str]]
    unit: re.Pattern[str]
    bare: re.Pattern[str]
    """A unit that can be told from a word, without its number."""
    agreement: dict[str, Any]
    clock: dict[str, Any]
    time: re.Pattern[str]
    dates: dict[str, Any]
    date: re.Pattern[str]


def for_the_ear(text: str, language: Language) -> str:
    """A text as it is to be said, on one line; every line ends as a sentence does."""
    rules = _rules(language)
    for pattern, instead in rules.rewrite:
        text = pattern.sub(instead, text)
    text = "".join(
        " " if unicodedata.category(mark) in ("So", "Cf", "Co", "Cs") and mark != "°" else mark for mark in text
    )
    text = rules.date.sub(lambda match: _date(match, rules), text)
    text = rules.time.sub(lambda match: _time(match, rules), text)
    text = _PHONE.sub(lambda match: _phone(match, rules), text)
    text = rules.unit.sub(lambda match: _measured(match, rules), text)
    text = _NUMBER.sub(lambda match: _number(match, rules), text)
    text = rules.bare.sub(lambda match: rules.units[match[0]][1], _agreed(text, rules))
    lines = [" ".join(line.split()) for line in text.split("\n")]
    return " ".join(line if line.endswith(_ENDS) else f"{line}." for line in lines if line)


def in_words(number: int, language: Language) -> str:
    """A whole number from 0 to 999,999 in words. Raises ``ValueError`` for any other."""
    return _in_words(number, _rules(language).numbers)


def voice_of(language: Language) -> Spoken:
    """How a language is spoken."""
    return _rules(language).voice


@cache
def _rules(language: Language) -> _Rules:
    data = tomllib.loads((FOLDER / f"{language}.toml").read_text(encoding="utf-8"))
    clock, dates = data["clock"], data["dates"]
    units = "|".join(sorted(map(re.escape, data["units"]), key=len, reverse=True))
    weekdays, months = ("|".join(map(re.escape, dates[name])) for name in ("weekdays", "months"))
    return _Rules(
        Spoken(data["voice"]["name"], data["voice"]["letters_a_second"]),
        tuple((re.compile(pattern), instead) for pattern, instead in data["rewrite"]),
        data["numbers"],
        data["units"],
        re.compile(rf"(?<![\w.:-])(?P<number>[-−]?\d+(?:[.,]\d+)?) ?(?P<unit>{units})(?![\w°])"),
        re.compile("|".join(re.escape(unit) for unit in data["units"] if not unit.isalpha())),
        data["agreement"],
        clock,
        re.compile(
            rf"(?<![\d:])(?P<hour>[01]?\d|2[0-3]):(?P<minute>[0-5]\d)(?![\d:])"
            rf"(?: ?(?:(?P<am>{clock['marks']['am']})|(?P<pm>{clock['marks']['pm']}))(?!\w))?"
        ),
        dates,
        re.compile(rf"\b(?P<weekday>{weekdays}) (?P<day>\d\d?) (?P<month>{months})\b"),
    )


def _in_words(number: int, rules: dict[str, Any]) -> str:
    below: list[str] = rules["below"]
    if not 0 <= number < 1_000_000:
        raise ValueError(number)
    if number < len(below):
        return below[number]
    if number < 100:
        tens: str = rules["tens"][number // 10]
        return tens if number % 10 == 0 else f"{tens}{rules['joint']}{below[number % 10]}"
    if number < 1000:
        if number == 100:
            return str(rules["hundred_alone"])
        hundreds: str = rules["hundreds"][number // 100]
        return hundreds if number % 100 == 0 else f"{hundreds} {_in_words(number % 100, rules)}"
    thousands = number // 1000
    head = rules["thousand_alone"] if thousands == 1 else f"{_in_words(thousands, rules)} {rules['thousand']}"
    return str(head) if number % 1000 == 0 else f"{head} {_in_words(number % 1000, rules)}"


def _digits(digits: str, rules: _Rules) -> str:
    return " ".join(rules.numbers["below"][int(digit)] for digit in digits)


def _number(match: re.Match[str], rules: _Rules) -> str:
    whole, part = match["whole"], match["part"]
    by_digits = whole in rules.numbers["by_digits"] or len(whole) > LONGEST_NUMBER or (whole[0] == "0" and whole != "0")
    said = _digits(whole, rules) if by_digits else _in_words(int(whole), rules.numbers)
    if part is not None:
        said = f"{said} {rules.numbers['point']} {_digits(part, rules)}"
    return f"{rules.numbers['minus']} {said}" if match["minus"] else said


def _measured(match: re.Match[str], rules: _Rules) -> str:
    number = match["number"]
    one, other = rules.units[match["unit"]]
    return f"{number} {one if number in ('1', '-1', '−1') else other}"


def _phone(match: re.Match[str], rules: _Rules) -> str:
    """A run of digits in groups is a telephone number, unless it is no more than two amounts beside each other."""
    groups = re.findall(r"\d+", match[0])
    if sum(map(len, groups)) < 7:
        return match[0]
    return ", ".join(_digits(group, rules) for group in groups)


def _time(match: re.Match[str], rules: _Rules) -> str:
    clock, hour, minute = rules.clock, int(match["hour"]), match["minute"]
    half = clock["am"] if match["am"] else clock["pm"] if match["pm"] else None
    said: str = clock["hours"][hour]
    if minute != "00":
        zero = f"{clock['leading_zero']} " if minute[0] == "0" else ""
        said = f"{said} {zero}{_in_words(int(minute), rules.numbers)}"
    elif half is None:
        said = clock["whole"].format(hour=said)
    return said if half is None else f"{said} {half[hour % 12]}"


def _date(match: re.Match[str], rules: _Rules) -> str:
    dates = rules.dates
    weekday, month = dates["weekdays"][match["weekday"]], dates["months"][match["month"]]
    return str(dates["written"].format(weekday=weekday, day=match["day"], month=month))


def _agreed(text: str, rules: _Rules) -> str:
    """A number that ends in "one" as it sounds before the noun that follows it."""
    one = rules.agreement["one"]
    for gender in ("masculine", "feminine"):
        ending, nouns = rules.agreement[gender]["ending"], rules.agreement[gender]["nouns"]
        if nouns and ending != one:
            text = re.sub(rf"{one}(?= (?:{'|'.join(nouns)})\b)", ending, text)
    return text.replace("veintiun ", "veintiún ")
