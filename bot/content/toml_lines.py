"""TOML with line numbers: ``tomllib`` reads the values, and one pass over the text finds where each stands.

The pass runs only on text that ``tomllib`` has accepted, so it can trust the grammar (TOML 1.0) and needs to know
no more than where strings, brackets, comments and keys begin and end.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from bot.content.findings import ContentError, Finding

KeyPath = tuple[str | int, ...]

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_SPACE = re.compile(r"[ \t]*")
_BLANK = re.compile(r"(?:[ \t\n]+|#[^\n]*)*")
_SCALAR = re.compile(r"[^,\]}#\n]*")
_STRINGS = (
    re.compile(r'"""(?:\\.|(?!""")[\s\S])*"{3,5}'),
    re.compile(r"'''(?:(?!''')[\s\S])*'{3,5}"),
    re.compile(r'"(?:\\.|[^"\\\n])*"'),
    re.compile(r"'[^'\n]*'"),
)
_AT_LINE = re.compile(r" \(at line (\d+), column \d+\)$")
_BARE_CLOCK = re.compile(r"=\s*\d{1,2}:\d{2}\s*(?:#.*)?$", re.ASCII)
_BARE_WORD = re.compile(r"=\s*[^\W\d]\w*\s*(?:#.*)?$")


@dataclass(frozen=True)
class Document:
    """A TOML file's values, and the line of each."""

    file: str
    data: Mapping[str, Any]
    lines: Mapping[KeyPath, int]

    def line(self, *path: str | int) -> int:
        """The line of a key path; of the nearest table around it where the file hasn't got that key."""
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path, 1)


def read_toml(path: Path) -> Document:
    """Read a file. Raises ``ContentError`` with one finding where it is missing, unreadable or no valid TOML."""
    file = str(path)
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        raise _fault(file, 1, "there is no such file", "check the path") from None
    except IsADirectoryError:
        raise _fault(file, 1, "this is a folder, not a file", "name the file in it") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise _fault(file, 1, f"can't be read ({reason})", "check the path and its permissions") from None
    try:
        # With a byte order mark too: some editors put one in front without being asked.
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise _fault(file, line, "this is not UTF-8 text", "save the file as UTF-8") from None
    return parse_toml(text, file)


def parse_toml(text: str, file: str) -> Document:
    """Read TOML text; ``file`` is its name in findings. Raises ``ContentError`` with one finding."""
    text = text.replace("\r\n", "\n")
    try:
        data = tomllib.loads(text)
        scan = _Scan(text)
        scan.document()
    except RecursionError:
        raise _fault(file, 1, "values are nested too deep", "take the brackets apart") from None
    except ValueError as error:
        raise _syntax_fault(text, file, str(error)) from None
    return Document(file, data, scan.lines)


def _fault(file: str, line: int, what: str, todo: str) -> ContentError:
    return ContentError([Finding(file, line, what, todo)])


def _syntax_fault(text: str, file: str, message: str) -> ContentError:
    rows = text.split("\n")
    at = _AT_LINE.search(message)
    line = int(at.group(1)) if at is not None else len(text.rstrip("\n").split("\n"))
    what = message[: at.start()] if at is not None else message.removesuffix(" (at end of document)")
    row = rows[line - 1] if line <= len(rows) else ""
    if _BARE_CLOCK.search(row):
        todo = 'write a time in quotes, like "21:30"'
    elif _BARE_WORD.search(row):
        todo = "write words in quotes"
    elif row.startswith("[[") and "overwrite" in what:
        todo = "write this heading with two brackets each time"
    elif "overwrite" in what or "twice" in what:
        todo = "keep one of the two"
    else:
        todo = "check the quotes, brackets and commas here"
    return _fault(file, line, f"this is no valid TOML ({what[:1].lower()}{what[1:]})", todo)


class _Scan:
    """One walk over valid TOML text, noting the line of each key path."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.pos = 0
        self.lines: dict[KeyPath, int] = {(): 1}
        self._tables: dict[KeyPath, int] = {}
        self._counted_to = 0
        self._line = 1

    def document(self) -> None:
        table: KeyPath = ()
        while self._skip(_BLANK) < len(self.text):
            if self.text.startswith("[[", self.pos):
                table = self._header(2, array=True)
            elif self.text[self.pos] == "[":
                table = self._header(1, array=False)
            else:
                self._pair(table)

    def _header(self, brackets: int, array: bool) -> KeyPath:
        line = self._here()
        self.pos += brackets
        keys = self._keys()
        self.pos += brackets
        path: KeyPath = ()
        for key in keys[:-1]:
            path = self._into((*path, key))
            self.lines.setdefault(path, line)
        path = (*path, keys[-1])
        if array:
            self.lines.setdefault(path, line)
            self._tables[path] = self._tables.get(path, -1) + 1
            path = (*path, self._tables[path])
        self.lines[path] = line
        return path

    def _into(self, path: KeyPath) -> KeyPath:
        # Below an array of tables, TOML means its latest table.
        return (*path, self._tables[path]) if path in self._tables else path

    def _pair(self, table: KeyPath) -> None:
        line = self._here()
        path = table
        for key in self._keys():
            path = (*path, key)
            self.lines.setdefault(path, line)
        self.pos += 1  # the equals sign
        self._skip(_SPACE)
        self._value(path)

    def _keys(self) -> list[str]:
        keys = []
        while True:
            self._skip(_SPACE)
            if self.text[self.pos] in "\"'":
                start = self.pos
                self._string()
                keys.append(_unquoted(self.text[start : self.pos]))
            else:
                start = self.pos
                keys.append(self.text[start : self._skip(_BARE_KEY)])
            self._skip(_SPACE)
            if self.text[self.pos] != ".":
                return keys
            self.pos += 1

    def _value(self, path: KeyPath) -> None:
        first = self.text[self.pos]
        if first in "\"'":
            self._string()
        elif first == "[":
            self._array(path)
        elif first == "{":
            self._inline_table(path)
        else:
            self._skip(_SCALAR)

    def _array(self, path: KeyPath) -> None:
        self.pos += 1
        item = 0
        while self.text[self._skip(_BLANK)] != "]":
            self.lines[(*path, item)] = self._here()
            self._value((*path, item))
            item += 1
            if self.text[self._skip(_BLANK)] == ",":
                self.pos += 1
        self.pos += 1

    def _inline_table(self, path: KeyPath) -> None:
        self.pos += 1
        while self.text[self._skip(_BLANK)] != "}":
            self._pair(path)
            if self.text[self._skip(_BLANK)] == ",":
                self.pos += 1
        self.pos += 1

    def _string(self) -> None:
        for pattern in _STRINGS:
            found = pattern.match(self.text, self.pos)
            if found is not None:
                self.pos = found.end()
                return

    def _skip(self, pattern: re.Pattern[str]) -> int:
        found = pattern.match(self.text, self.pos)
        if found is not None:
            self.pos = found.end()
        return self.pos

    def _here(self) -> int:
        self._line += self.text.count("\n", self._counted_to, self.pos)
        self._counted_to = self.pos
        return self._line


def _unquoted(key: str) -> str:
    return str(next(iter(tomllib.loads(f"{key} = 0"))))
