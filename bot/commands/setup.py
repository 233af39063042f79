"""``vatside setup``: a new kitchen file from a few questions."""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Callable
from json import dumps
from pathlib import Path
from zoneinfo import available_timezones

from bot.channels.errors import UsageError
from bot.content.kitchen_file import read_kitchen
from bot.content.languages import LANGUAGES
from bot.core.kitchen import Kitchen
from bot.core.roster import clean_name, slug

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
    """Ask, write the file, check it, and say how to go on; or only say so, for a file that there is."""
    if args.kitchen is not None:
        _how_to_go_on(args.kitchen, read_kitchen(args.kitchen))
        return 0
    file: Path = args.file
    if file.exists():
        raise UsageError(file, None, "the file exists already", "name another one, or edit this one")
    if not file.parent.is_dir():
        raise UsageError(file, None, f"there is no folder {file.parent}", "make it, or name a file elsewhere")
    ask = Asker(sys.stdin.readline, sys.stdout.write)
    written = compose(ask)
    try:
        file.write_text(written, encoding="utf-8")
    except OSError as error:
        raise UsageError(file, None, f"it can't be written ({error.strerror})", "name a file elsewhere") from error
    sys.stdout.write(f"\nWritten: {file}\n")
    _how_to_go_on(file, read_kitchen(file))
    return 0


def _how_to_go_on(file: Path, kitchen: Kitchen) -> None:
    manager = next(iter(kitchen.with_role("manager")), None)
    named = f" --name {manager.id}" if manager is not None else ""
    sys.stdout.write(
        f"  vatside check --kitchen {file}      checks it after every change\n"
        f"  vatside chat --kitchen {file}       talk to your helper here\n"
        f"  vatside invite --kitchen {file}{named} --bot YOUR_BOT\n"
        "      before you serve: the link that lets the first manager in, who lets in everybody else with /invite\n"
        f"  vatside serve --kitchen {file}      run it on Telegram (README, 'Going live')\n"
        f"  vatside stickers --kitchen {file} --bot YOUR_BOT --out stickers.pdf\n"
        "      square codes for the fryers\n"
    )


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
    lines += _manager(ask, language)
    duties = DUTIES.format(opens=opens, closes=closes, before_closing=_plus(closes, -30))
    return "\n".join(lines) + "\n" + duties


def _fryers(ask: Asker) -> list[str]:
    count = int(ask.ask("How many fryers", "3", lambda n: n.isdigit() and 1 <= int(n) <= 40, "A number from 1 to 40."))
    numbers = {str(n) for n in range(1, count + 1)}
    gas = ask.ask(
        "Which of them burn gas: their numbers, or none",
        "none",
        lambda said: said == "none" or set(said.replace(",", " ").split()) <= numbers,
        f"Numbers from 1 to {count}, like 1, 3; or none.",
    )
    lines = []
    for number in range(1, count + 1):
        name = ask.ask(f"Fryer {number}: what does the crew call it", f"fryer {number}")
        power = "gas" if str(number) in gas.replace(",", " ").split() else "electric"
        names = "" if name == f"fryer {number}" else f"names = [{dumps(name, ensure_ascii=False)}]\n"
        lines.append(f'\n[[fryers]]\nid = "{number}"\n{names}power = "{power}"')
    return lines


def _manager(ask: Asker, language: str) -> list[str]:
    """The first manager. Everybody else comes in by a link."""
    name = ask.ask(
        "The first manager's name (they let the others in, by chat)",
        good=lambda said: clean_name(said) is not None,
        hint="Letters only, please.",
    )
    speaks = ask.ask(f"{name}: {CODES}", language, LANGUAGES.__contains__, f"Write one of {CODES}.")
    return [
        f'\n[[people]]\nid = "{slug(name, set())}"\nname = {dumps(name, ensure_ascii=False)}\n'
        f'role = "manager"\nlanguage = "{speaks}"'
    ]


def _is_clock(answer: str) -> bool:
    return CLOCK.fullmatch(answer) is not None


def _clock(answer: str) -> str:
    return answer.rjust(5, "0")


def _plus(clock: str, minutes: int) -> str:
    hour, minute = (int(part) for part in clock.split(":"))
    total = (hour * 60 + minute + minutes) % (24 * 60)
    return f"{total // 60:02}:{total % 60:02}"
