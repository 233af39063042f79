"""All content, loaded and checked together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from bot.content import places
from bot.content.dangers import Dangers, load_dangers
from bot.content.duty_kinds import load_duty_kinds
from bot.content.emergencies import Emergencies, load_emergencies
from bot.content.findings import ContentError, Finding, collected
from bot.content.formats import load_formats
from bot.content.guides import Guides, load_guides, references
from bot.content.wording import Wording, load_wording
from bot.core.library import Library
from intents.types import Language


@dataclass(frozen=True)
class Content:
    """What there is to answer with, and the words for it."""

    library: Library
    wording: Wording
    dangers: Dangers

    def picture(self, name: str) -> Path | None:
        """The file of a guide's picture, or None where there is none of that name."""
        path = places.PICTURES / f"{name}.png"
        return path if path.is_file() else None


def load_content(kitchen_guides: Path | None = None) -> Content:
    """Everything that travels with the program; a guide in ``kitchen_guides`` replaces the one on its topic.

    Raises ``ContentError`` with every fault of every file.
    """
    findings: list[Finding] = []
    duties, guides, emergencies, dangers, formats = {}, Guides(), None, None, None
    with collected(findings):
        duties = load_duty_kinds()
    with collected(findings):
        folders = [places.GUIDES] if kitchen_guides is None else [places.GUIDES, kitchen_guides]
        guides = load_guides(folders, references(duties))
    with collected(findings):
        emergencies = load_emergencies()
    with collected(findings):
        dangers = load_dangers()
    with collected(findings):
        formats = load_formats()
    findings.extend(_duty_guides(duties_file=str(places.DUTIES), duties=duties, guides=guides) if not findings else ())
    if findings or emergencies is None or dangers is None or formats is None:
        # The wording is checked too, so that one run shows every fault.
        with collected(findings):
            if formats is not None:
                load_wording(places.WORDING, {}, formats)
        raise ContentError(findings)
    texts = {language: _joined(language, guides, emergencies, dangers) for language in guides.texts}
    wording = load_wording(places.WORDING, texts, formats)
    return Content(Library(guides.shapes, duties, emergencies.shapes), wording, dangers)
