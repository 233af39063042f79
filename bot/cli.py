"""The command ``vatside``: arguments in, exit status out.

Status 0: done. 1: a check found faults. 2: bad usage or input, with one line on standard error.
"""

from __future__ import annotations

import argparse
import errno
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NoReturn

from bot.channels.errors import UsageError
from bot.content.findings import ContentError
from bot.content.languages import LANGUAGES
from bot.core.roster import ROLES
from bot.store import StoreError

DONE, FAULTS, BAD_INPUT = 0, 1, 2
FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)


class Parser(argparse.ArgumentParser):
    """Says what is wrong in one line."""

    def error(self, message: str) -> NoReturn:
        """Leave with status 2."""
        self.exit(BAD_INPUT, f"{self.prog}: {message}; see '{self.prog} --help'\n")


def build_parser() -> argparse.ArgumentParser:
    """The command line."""
    parser = Parser(prog="vatside", description="A helper in the crew's own chat for commercial fryers.")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND", parser_class=Parser)

    def add(name: str, help_text: str) -> argparse.ArgumentParser:
        return commands.add_parser(name, help=help_text, description=help_text)

    def kitchen(sub: argparse.ArgumentParser) -> None:
        sub.add_argument("--kitchen", type=Path, metavar="FILE", help="the kitchen file (default: the demo kitchen)")

    def store(sub: argparse.ArgumentParser, default: str) -> None:
        sub.add_argument("--store", type=Path, metavar="DIR", help=f"the records' folder (default: {default})")

    own = "in your user data folder"
    sub = add("demo", "play a busy evening of the demo kitchen, then say how to go on")
    store(sub, "a fresh temporary folder")
    sub.add_argument("--language", choices=LANGUAGES, help="what the crew chat speaks (default: the file's)")
    sub = add("chat", "talk to the helper in the terminal, on the real clock")
    kitchen(sub)
    store(sub, own)
    sub.add_argument("--as", dest="person", metavar="PERSON", help="who you are (default: the first of the file)")
    sub = add("serve", "run the helper on Telegram; needs VATSIDE_TELEGRAM_TOKEN")
    sub.add_argument(
        "--kitchen", type=Path, metavar="FILE", action="append", help="a kitchen file; may be given more than once"
    )
    store(sub, own)
    sub = add("health", "say whether a running 'vatside serve' works, as JSON; 1 if not")
    kitchen(sub)
    store(sub, own)
    sub = add("operate", "tell a running 'vatside serve' something: who is in, pause, resume, broadcast")
    orders = sub.add_subparsers(dest="what", required=True, metavar="who|health|pause|resume|broadcast")
    for name, help_text in (
        ("who", "list the people of the kitchen, their roles, and who is in"),
        ("health", "print the door's counters"),
        ("pause", "send no reminders for a while; it is logged, told to leads and managers, and in the summary"),
        ("resume", "end a pause"),
        ("broadcast", "write to the managers of the kitchen; at most 5 a day"),
    ):
        order = orders.add_parser(name, help=help_text, description=help_text)
        if name == "pause":
            order.add_argument("minutes", type=_count(1440), metavar="MINUTES", help="1 to 1440")
        if name == "broadcast":
            order.add_argument("text", metavar="TEXT", help="at most 1000 characters")
        kitchen(order)
        store(order, own)
    sub = add("setup", "make a kitchen file by answering a few questions")
    sub.add_argument("file", type=Path, nargs="?", default=Path("kitchen.toml"), help="the file to write")
    sub.add_argument("--kitchen", type=Path, metavar="FILE", help="take this file as it is, and only say how to go on")
    sub = add("invite", "make a link that lets one person in on Telegram; how the first manager gets in")
    kitchen(sub)
    store(sub, own)
    sub.add_argument("--role", choices=ROLES, default="manager", help="of a new person (default: manager)")
    sub.add_argument("--name", metavar="PERSON", help="a person of the kitchen, by id or name, whose link it is")
    sub.add_argument("--bot", metavar="NAME", help="the bot's name (default: the server is asked, with the token)")
    sub.add_argument("--out", type=Path, metavar="FILE.png", help="write the square code to a picture")
    sub = add("stickers", "make a PDF of square codes for the fryers; a scan opens the chat at that fryer")
    kitchen(sub)
    sub.add_argument("--bot", metavar="NAME", help="the bot's name (default: the server is asked, with the token)")
    sub.add_argument("--out", type=Path, metavar="FILE.pdf", required=True)
    sub.add_argument("--paper", choices=["a4", "letter"], default="letter", help="default: letter")
    sub = add("understand", "read messages from standard input, a line each; write what they mean as JSON")
    kitchen(sub)
    sub.add_argument("--explain", action="store_true", help="write why instead: the nearest phrases and their scores")
    sub = add("listen", "sound files to what the helper would make of them, as JSON")
    sub.add_argument("files", nargs="+", type=Path, metavar="FILE")
    sub.add_argument("--language", required=True, choices=LANGUAGES)
    kitchen(sub)
    sub = add("replay", "run a script on a virtual clock and print what the helper says")
    sub.add_argument("script", type=Path, metavar="SCRIPT.jsonl")
    kitchen(sub)
    store(sub, "a fresh temporary folder")
    sub.add_argument("--until", metavar="TIME", help="let time pass after the last line, up to this")
    sub.add_argument("--json", action="store_true", help="one JSON object a message")
    sub = add("export", "print everything that was logged, oldest first")
    kitchen(sub)
    store(sub, own)
    sub.add_argument("--format", choices=["jsonl", "csv"], default="jsonl")
    sub.add_argument("--person", metavar="PERSON", help="only what this person caused (default: everything)")
    sub = add("summary", "the compliance summary of one kitchen day")
    kitchen(sub)
    store(sub, own)
    sub.add_argument("--on", required=True, metavar="YYYY-MM-DD")
    sub.add_argument("--format", choices=["text", "json", "png", "csv"], default="text")
    sub = add("rollup", "one kitchen day of several kitchens side by side, the one with the most to act on first")
    sub.add_argument("--kitchen", type=Path, metavar="FILE", action="append", required=True, help="one each")
    store(sub, f"{own}; each kitchen's lies below it under its name")
    sub.add_argument("--on", required=True, metavar="YYYY-MM-DD")
    sub.add_argument("--format", choices=["text", "json", "png"], default="text")
    sub.add_argument("--language", choices=LANGUAGES, help="default: the first kitchen's")
    sub = add("report", "a month's duties for an inspector: due, done, by whom, when, and every correction")
    kitchen(sub)
    store(sub, own)
    sub.add_argument("--month", required=True, metavar="YYYY-MM")
    sub.add_argument("--format", choices=["pdf", "csv"], default="pdf")
    sub.add_argument("--language", choices=LANGUAGES, help="default: the kitchen's")
    sub = add("calendar", "coming duties as an iCalendar, for a calendar program")
    kitchen(sub)
    store(sub, own)
    sub.add_argument("--days", type=int, default=28, metavar="N", help="how far ahead (default: 28)")
    sub.add_argument("--language", choices=LANGUAGES, help="default: the kitchen's")
    sub = add("simulate", "let a made-up crew work on a virtual clock, and print rates and costs")
    sub.add_argument("--kitchens", type=_count(10_000), default=10, metavar="N", help="how many (default: 10)")
    sub.add_argument("--days", type=_count(3_660), default=30, metavar="D", help="days of each (default: 30)")
    sub.add_argument("--seed", type=int, default=1, metavar="S", help="the same seed does the same (default: 1)")
    kitchen(sub)
    store(sub, "a fresh temporary folder")
    sub = add("backup", "write all records into one file, also while the helper runs")
    sub.add_argument("file", type=Path, metavar="FILE.tar.gz")
    kitchen(sub)
    store(sub, own)
    sub = add("restore", "make an empty folder hold the records of a backup, checked before and after")
    sub.add_argument("file", type=Path, metavar="FILE.tar.gz")
    sub.add_argument("--store", type=Path, metavar="DIR", required=True, help="a folder that is empty or not there")
    sub = add("doctor", "look over the records, put right what can be, and say what was done; 1 if faults were found")
    kitchen(sub)
    store(sub, own)
    sub = add("forget", "take a person out of the records, which keep what was done; stop the helper first")
    sub.add_argument("person", metavar="PERSON", help="the person's id")
    kitchen(sub)
    store(sub, own)
    sub = add("guides", "make a guide of your own, see one as the crew sees it, or check them all")
    deeds = sub.add_subparsers(dest="what", required=True, metavar="new|show|check", parser_class=Parser)
    deed = deeds.add_parser("new", help="copy a guide into the folder guides/ beside your kitchen file, with notes")
    deed.add_argument("name", metavar="NAME", help="which guide, as in pad_change")
    kitchen(deed)
    deed = deeds.add_parser("show", help="print a guide as the crew will see it")
    deed.add_argument("name", metavar="NAME", help="which guide, as in pad_change")
    deed.add_argument("--language", choices=LANGUAGES, help="default: the kitchen's")
    kitchen(deed)
    kitchen(deeds.add_parser("check", help="list the faults of all guides, and what your own ones override"))
    sub = add("phrases", "decide what texts mean that were not understood, or change the kitchen's own phrases")
    acts = sub.add_subparsers(dest="what", required=True, metavar="list|accept|refuse|undo|add|remove")
    for name, help_text in (
        ("list", "print what was not understood, what was decided, and the kitchen's own phrases"),
        ("accept", "from now on a text means a topic; stop the helper first, or decide in chat with /phrases"),
        ("refuse", "a text is to be no phrase and is not asked about again"),
        ("undo", "take back what was decided about a text"),
        ("add", "write a phrase into the files beside the kitchen file; a running helper takes it in"),
        ("remove", "take a phrase out of these files"),
    ):
        act = acts.add_parser(name, help=help_text, description=help_text)
        if name in ("accept", "refuse", "undo"):
            act.add_argument("number", type=int, metavar="NUMBER", help="the text's number in the list")
        if name in ("add", "remove"):
            act.add_argument("text", metavar="TEXT")
            act.add_argument("--language", choices=LANGUAGES, help="default: the kitchen's; of remove: any")
        if name in ("accept", "add"):
            act.add_argument("topic", metavar="TOPIC", help="as in guide.pad_change")
        if name == "remove":
            act.add_argument("--topic", metavar="TOPIC", help="default: any")
        kitchen(act)
        store(act, own)
    sub = add("check", "check a kitchen file, the phrase books and the guides")
    kitchen(sub)
    return parser


def _count(most: int) -> Callable[[str], int]:
    """A whole number from 1 to ``most``."""

    def number(said: str) -> int:
        value = int(said)
        if not 1 <= value <= most:
            raise argparse.ArgumentTypeError(f"give a number from 1 to {most}")
        return value

    return number


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command."""
    if sys.stdout is None:  # closed by whoever started us: "vatside export >&-"
        return _nowhere("it is closed")
    args = build_parser().parse_args(argv)
    try:
        status = command(args.command)(args)
        sys.stdout.flush()
        return status
    except ContentError as error:
        for finding in error.findings:
            _complain(str(finding))
    except (UsageError, StoreError) as error:
        _complain(str(error))
    except BrokenPipeError:
        # The reader has gone (``| head``): nothing is left to say, not even at exit.
        _say_no_more()
        return DONE
    except OSError as error:
        if error.errno not in FULL or error.filename is not None:
            raise
        _say_no_more()
        return _nowhere(f"it can't be written ({error.strerror})")
    except KeyboardInterrupt:
        return 130
    return BAD_INPUT


def command(name: str) -> Callable[[argparse.Namespace], int]:
    """The function behind a command; loaded only when it is wanted, so that each starts quickly."""
    from importlib import import_module

    run: Callable[[argparse.Namespace], int] = import_module(f"bot.commands.{name}").run
    return run


def _say_no_more() -> None:
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _nowhere(why: str) -> int:
    _complain(f"standard output: {why}; send it to where there is room")
    return BAD_INPUT


def _complain(line: str) -> None:
    sys.stderr.write(line.replace("\n", " ") + "\n")
