"""Faults in the files that people edit: where, what is wrong, and what to do about it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from rapidfuzz import fuzz, process

CLOSE_ENOUGH = 60
"""From this similarity on (0 to 100) a known name is suggested for an unknown one; tried on common slips."""

LONGEST_PART = 600
"""Characters of a file's name, a fault or an advice that are shown; the middle of anything longer is left out."""


@dataclass(frozen=True, slots=True, order=True)
class Finding:
    """One fault in one file; ``line`` counts from 1."""

    file: str
    line: int
    what: str
    todo: str

    def __str__(self) -> str:
        return f"{_one_line(self.file)}:{self.line}: {_one_line(self.what)}; {_one_line(self.todo)}"


def _one_line(said: str) -> str:
    # What is quoted from a file may hold anything; a report stays one line that any terminal can show.
    if len(said) > LONGEST_PART:
        said = f"{said[: LONGEST_PART // 2]} … {said[-LONGEST_PART // 2 :]}"
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in said)


class ContentError(Exception):
    """One or more files are faulty; ``findings`` holds every fault, in order of file and line."""

    def __init__(self, findings: Iterable[Finding]) -> None:
        self.findings = tuple(sorted(set(findings)))
        super().__init__("\n".join(map(str, self.findings)))


@contextmanager
def collected(findings: list[Finding]) -> Iterator[None]:
    """Add to ``findings`` what a reader raises within the block, so that the next file is still read."""
    try:
        yield
    except ContentError as error:
        findings.extend(error.findings)


def nearest(said: str, known: Iterable[str], at_least: float = CLOSE_ENOUGH) -> str | None:
    """The known name that was probably meant, or None where none is similar ``at_least`` (0 to 100)."""
    found = process.extractOne(
        said, list(known), scorer=fuzz.ratio, processor=lambda name: str(name).casefold(), score_cutoff=at_least
    )
    return str(found[0]) if found is not None else None


def instead(said: str, known: Iterable[str], otherwise: str) -> str:
    """What to do about an unknown name: the likely one as a question, else the advice given."""
    meant = nearest(said, known)
    return f'did you mean "{meant}"?' if meant is not None else otherwise
