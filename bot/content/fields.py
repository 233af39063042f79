"""Reading one table of a file: each key once, with its type checked, and every fault noted where it stands.

A *reader* turns one raw TOML value into what the program wants and raises ``Fault`` where it can't. A ``Table``
applies readers to its keys, and in the end reports the keys that nobody asked for.
"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Callable, Iterator, Mapping
from typing import Any, TypeVar

from bot.content.findings import Finding, instead
from bot.content.toml_lines import Document, KeyPath

T = TypeVar("T")
D = TypeVar("D")
Reader = Callable[[Any], T]

LONGEST_TEXT = 400
"""Characters; a longer text is no name or number of anything, and would burst a message."""

_UNPRINTED = {"Cc", "Zl", "Zp"}


class Fault(Exception):  # noqa: N818 - a finding in the making, not an error of the program
    """A value is wrong: what, and what to do."""

    def __init__(self, what: str, todo: str) -> None:
        super().__init__(what)
        self.what = what
        self.todo = todo


class Table:
    """One table of a document, read key by key; faults go to ``findings``."""

    def __init__(self, document: Document, findings: list[Finding], data: Any = None, path: KeyPath = ()) -> None:
        self.document = document
        self.findings = findings
        self.path = path
        self._asked: set[str] = set()
        self.data: Mapping[str, Any] = {}
        if data is None and not path:
            self.data = document.data
        elif isinstance(data, Mapping):
            self.data = data
        else:
            self._note(path, f"{spelled(path)} is {kind_of(data)}", "write a table: { key = value, ... }")

    def __contains__(self, key: str) -> bool:
        return key in self.data

    def need(self, key: str, read: Reader[T], otherwise: T) -> T:
        """A key that must stand there; ``otherwise`` keeps the reading going after a fault is noted."""
        if key not in self.data:
            self._asked.add(key)
            self._note(self.path, f'"{key}" is missing', f"add {key} = ...")
            return otherwise
        return self.take(key, read, otherwise)

    def take(self, key: str, read: Reader[T], otherwise: D) -> T | D:
        """A key that may be left out: ``otherwise`` where it is, and after a fault."""
        self._asked.add(key)
        if key not in self.data:
            return otherwise
        try:
            return read(self.data[key])
        except Fault as fault:
            self.fault(key, fault.what, fault.todo)
            return otherwise

    def items(self, key: str, read: Reader[T]) -> tuple[T, ...]:
        """A list, each of its values read and reported on its own; empty where the key is left out."""
        self._asked.add(key)
        values = self.data.get(key, [])
        if not isinstance(values, list):
            self.fault(key, f"{key} is {kind_of(values)}", f"write a list: {key} = [...]")
            return ()
        good: list[T] = []
        for number, value in enumerate(values):
            try:
                good.append(read(value))
            except Fault as fault:
                self._note((*self.path, key, number), f"{key}: {fault.what}", fault.todo)
        return tuple(good)

    def tables(self, key: str) -> Iterator[Table]:
        """The tables of an array of tables, ``[[key]]``."""
        self._asked.add(key)
        values = self.data.get(key, [])
        if isinstance(values, Mapping):
            self.fault(key, f"{key} is a single table", f"write [[{key}]] with two brackets")
            return
        if not isinstance(values, list):
            self.fault(key, f"{key} is {kind_of(values)}", f"write [[{key}]] and its keys below it")
            return
        for number, value in enumerate(values):
            yield Table(self.document, self.findings, value, (*self.path, key, number))

    def table(self, key: str) -> Table | None:
        """The table under a key, or None where it is left out."""
        self._asked.add(key)
        if key not in self.data:
            return None
        return Table(self.document, self.findings, self.data[key], (*self.path, key))

    def fault(self, key: str, what: str, todo: str) -> None:
        """Note a fault at a key (at the table itself, where it has no such key)."""
        self._note((*self.path, key), what, todo)

    def finish(self) -> None:
        """Report the keys that were never asked for."""
        for key in self.data:
            if key not in self._asked:
                known = self._asked - set(self.data) or self._asked
                todo = instead(key, known, f"take it out; known here: {', '.join(sorted(self._asked))}")
                self.fault(key, f'unknown key "{key}"', todo)

    def _note(self, path: KeyPath, what: str, todo: str) -> None:
        self.findings.append(Finding(self.document.file, self.document.line(*path), what, todo))


def spelled(path: KeyPath) -> str:
    """A key path as people write it: ``fryers 2, seals``; list places count from 1."""
    words = ""
    for part in path:
        words += f" {part + 1}" if isinstance(part, int) else f", {part}" if words else part
    return words


def kind_of(value: Any) -> str:
    """What a raw TOML value is, in words."""
    match value:
        case bool():
            return "true or false"
        case int():
            return "a whole number"
        case float():
            return "a number"
        case str():
            return "a text"
        case list():
            return "a list"
        case dict():
            return "a table"
        case _:
            return "a date or time"


def text(value: Any) -> str:
    """A text of one line that isn't blank."""
    if not isinstance(value, str):
        quoted = f', like "{value}"' if type(value) in (int, float) else ""
        raise Fault(f"this must be a text, not {kind_of(value)}", f"write it in quotes{quoted}")
    if not value.strip():
        raise Fault("this text is blank", "fill it in, or take the key out")
    if any(unicodedata.category(sign) in _UNPRINTED for sign in value):
        raise Fault("this text holds a line break or another control character", "write it on one line")
    if len(value) > LONGEST_TEXT:
        raise Fault(f"this text is {len(value)} characters long", f"keep it to {LONGEST_TEXT}")
    return value.strip()


def flag(value: Any) -> bool:
    """True or false."""
    if not isinstance(value, bool):
        raise Fault(f"this must be true or false, not {kind_of(value)}", "write true or false without quotes")
    return value


def whole(low: int, high: int) -> Reader[int]:
    """A whole number within bounds, both included."""

    def read(value: Any) -> int:
        if not isinstance(value, int) or isinstance(value, bool):
            raise Fault(f"this must be a whole number, not {kind_of(value)}", "write digits without quotes")
        if not low <= value <= high:
            raise Fault(f"{_shown(value)} is out of range", f"give a number from {low} to {high}")
        return value

    return read


def number(low: float, high: float) -> Reader[float]:
    """A number within bounds, both included."""

    def read(value: Any) -> float:
        if not isinstance(value, (int, float)) or isinstance(value, bool):
            raise Fault(f"this must be a number, not {kind_of(value)}", "write digits without quotes")
        if not low <= value <= high or math.isnan(value):
            raise Fault(f"{_shown(value)} is out of range", f"give a number from {low:g} to {high:g}")
        return float(value)

    return read


def one_of(what: str, known: tuple[T, ...]) -> Reader[T]:
    """One of a few words."""

    def read(value: Any) -> T:
        if value in known and not isinstance(value, bool):
            return known[known.index(value)]
        if not isinstance(value, str):
            raise Fault(f"the {what} must be a text, not {kind_of(value)}", f"choose from {_listed(known)}")
        raise Fault(f'unknown {what} "{value}"', instead(value, map(str, known), f"choose from {_listed(known)}"))

    return read


def _listed(known: tuple[Any, ...]) -> str:
    return ", ".join(f'"{name}"' for name in known)


def _shown(value: float) -> str:
    # A whole number of TOML may have more digits than Python is willing to print.
    return f"{value}" if isinstance(value, float) or abs(value) < 10**18 else "this number"
