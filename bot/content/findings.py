"""Faults in the files that people edit: where, what is wrong, and what to do about it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from rapidfuzz import fuzz, process

CLOSE_ENOUGH = 60
"""From this similarity on (0 to 100) a known name is suggested for an unknown one; tried on common slips."""


@dataclass(frozen=True, slots=True, order=True)
class Finding:
    """One fault in one file; ``line`` counts from 1."""

    file: str
    line: int
    what: str
    todo: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: {self.what}; {self.todo}"


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
