"""Everything that people edit, checked in one go."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from bot.content.catalogue import drawn_pictures, load_content
from bot.content.findings import ContentError, Finding, collected
from bot.content.kitchen_file import read_kitchen
from bot.content.limits import load_limits
from bot.content.voice_words import voice_words
from intents import phrasebook


def check(
    kitchen: Path, *, guides: Path | None = None, phrases: Sequence[Path] = (phrasebook.BUILT_IN,)
) -> list[Finding]:
    """Every fault of a kitchen file, of the content (with the kitchen's own ``guides``), and of the phrase books."""
    findings: list[Finding] = []
    with collected(findings):
        read_kitchen(kitchen)
    with collected(findings):
        load_limits()
    with collected(findings):
        voice_words()
    with collected(findings):
        load_content(guides, drawn_pictures())
    findings.extend(_phrase_faults(phrases))
    return list(ContentError(findings).findings)


def _phrase_faults(folders: Sequence[Path]) -> Iterator[Finding]:
    for fault in phrasebook.read(folders).faults:
        what, _, todo = fault.what.rpartition("; ")
        yield Finding(str(fault.file), max(1, fault.line), what, todo)
