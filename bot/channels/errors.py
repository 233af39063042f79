"""What a person at a terminal got wrong, in one line."""

from __future__ import annotations

from pathlib import Path


class UsageError(Exception):
    """Bad input from the person at the terminal: where, what is wrong, what to do."""

    def __init__(self, file: Path | str, line: int | None, what: str, todo: str) -> None:
        where = f"{file}:{line}: " if line is not None else f"{file}: "
        super().__init__(f"{where}{what}; {todo}")
