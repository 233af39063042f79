"""``vatside setup``: a new kitchen file from a few questions."""

from __future__ import annotations

import argparse
import re
import sys
import unicodedata
from collections.abc import Callable
from json import dumps
from pathlib import Path
from zoneinfo import available_timezones

from bot.channels.errors import UsageError
from bot.content.kitchen_file import read_kitchen
from bot.content.languages import LANGUAGES

CODES = " or ".join(LANGUAGES)
CLOCK = re.compile(r"([01]?\d|2[0-3]):[0-5]\d")

DUTIES = """
# What falls due, and when. Change the times to yours; see README, "The kitchen file".
[[duties]]
id = "midshift_filter"
every = "day"
at = "15:00"
fryers = "all"
grace = "45 min"
escalate = "90 min"

[[duties]]
id = "pad_change"
every = "day"
at = "{before_closing}"
fryers = "all"
grace = "30 min"
escalate = "60 min"

[[duties]]
id = "closing_filter"
every = "day"
at = "{closes}"
fryers = "all"
grace = "30 min"
escalate = "60 min"

[[duties]]
id = "seal_replacement"
every = "90 days"
at = "{opens}"
fryers = "all"

[[duties]]
id = "boil_out"
every = "30 days"
at = "{opens}"
fryers = "all"
"""


def run(args: argparse.Namespace) -> int:
    """Ask, write the file, check it, and say how to go on."""
    file: Path = args.file
    if file.exists():
        raise UsageError(file, None, "the file exists already", "name another one, or edit this one")
    ask = Asker(sys.stdin.readline, sys.stdout.write)
    written = compose(ask)
    try:
        file.write_text(written, encoding="utf-8")
    except OSError as error:
        raise UsageError(file, None, f"it can't be written ({error.strerror})", "name a file elsewhere") from error
    read_kitchen(file)
    sys.stdout.write(
        f"\nWritten: {file}\n"
        f"  vatside check --kitchen {file}   checks it after every change\n"
        f"  vatside chat --kitchen {file}    talk to your helper here\n"
        f"  vatside serve --kitchen {file}   run it on Telegram (README, 'Going live')\n"
    )
    return 0


class Asker:
    """Asks until an answer will do."""

    def __init__(self, read: Callable[[], str], write: Callable[[str], object]) -> None:
        self._read = read
        self._write = write

    def ask(self, question: str, default: str = "", good: Callable[[str], bool] = bool, hint: str = "") -> str:
        """The answer, or the default for an empty one. Raises ``UsageError`` at the end of the input."""
        shown = f"{question} [{default}]: " if default else f"{question}: "
        while True:
            self._write(shown)
            line = self._read()
            if not line:
                raise UsageError("setup", None, "the answers ended too early", "answer every question")
            answer = line.strip() or default
            if good(answer):
                return answer
            self._write(f"  {hint or 'Please give an answer.'}\n")


def compose(ask: Asker) -> str:
    """The text of a kitchen file, from the answers."""
    zones = available_timezones()
    name = ask.ask("The kitchen's name")
    zone = ask.ask(
        "Its time zone", "America/New_York", zones.__contains__, "Write it like America/Chicago or Europe/Madrid."
    )
    language = ask.ask(f"The crew's language ({CODES})", "en", LANGUAGES.__contains__, f"Write one of {CODES}.")
    clock_hint = "Write it like 09:30 or 22:00."
    opens = _clock(ask.ask("Opens at", "10:00", _is_clock, clock_hint))
    closes = _clock(ask.ask("Closes at (may be after midnight)", "22:00", _is_clock, clock_hint))
    number = ask.ask("Emergency number", "911")
    service = ask.ask("Service: a name and a number", "none")
    lines = [
        f"name = {dumps(name, ensure_ascii=False)}",
        f"timezone = {dumps(zone)}",
        f"language = {dumps(language)}",
        f"opens = {dumps(opens)}",
        f"closes = {dumps(closes)}",
        f"summary_at = {dumps(_plus(closes, 30))}",
        f"emergency_number = {dumps(number, ensure_ascii=False)}",
    ]
    if service != "none":
        lines.append(f"service_contact = {dumps(service, ensure_ascii=False)}")
    lines += _fryers(ask)
    lines += _people(ask, language)
    duties = DUTIES.format(opens=opens, closes=closes, before_closing=_plus(closes, -30))
    return "\n".join(lines) + "\n" + duties


def _fryers(ask: Asker) -> list[str]:
    count = int(ask.ask("How many fryers", "3", lambda n: n.isdigit() and 1 <= int(n) <= 40, "A number from 1 to 40."))
    lines = []
    for number in range(1, count + 1):
        name = ask.ask(f"Fryer {number}: what does the crew call it", f"fryer {number}")
        power = ask.ask(
            f"Fryer {number}: electric or gas", "electric", ("electric", "gas").__contains__, "electric or gas"
        )
        names = "" if name == f"fryer {number}" else f"names = [{dumps(name, ensure_ascii=False)}]\n"
        lines.append(f'\n[[fryers]]\nid = "{number}"\n{names}power = "{power}"')
    return lines


def _people(ask: Asker, language: str) -> list[str]:
    lines, taken = [], {"crew"}
    sys.stdout.write("Now the people, you first. An empty name ends the list.\n")
    for number in range(1, 100):
        name = ask.ask(f"Person {number}: name", good=(bool if number == 1 else lambda _: True))
        if not name:
            break
        role = ask.ask(
            f"{name}: cook, lead, manager or trainer",
            "manager" if number == 1 else "cook",
            ("cook", "lead", "manager", "trainer").__contains__,
            "cook, lead, manager or trainer",
        )
        speaks = ask.ask(f"{name}: {CODES}", language, LANGUAGES.__contains__, f"Write one of {CODES}.")
        young = ask.ask(f"{name}: under 16, yes or no", "no", ("yes", "no").__contains__, "yes or no")
        person = _id(name, taken)
        taken.add(person)
        lines.append(
            f'\n[[people]]\nid = "{person}"\nname = {dumps(name, ensure_ascii=False)}\n'
            f'role = "{role}"\nlanguage = "{speaks}"' + ("\nunder_16 = true" if young == "yes" else "")
        )
    return lines


def _id(name: str, taken: set[str]) -> str:
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    base = re.sub(r"[^a-z0-9]", "", plain)[:10] or "person"
    return next(i for i in (base, *(f"{base}{n}" for n in range(2, 100))) if i not in taken)


def _is_clock(answer: str) -> bool:
    return CLOCK.fullmatch(answer) is not None


def _clock(answer: str) -> str:
    return answer.rjust(5, "0")


def _plus(clock: str, minutes: int) -> str:
    hour, minute = (int(part) for part in clock.split(":"))
    total = (hour * 60 + minute + minutes) % (24 * 60)
    return f"{total // 60:02}:{total % 60:02}"
