"""All content, loaded and checked together."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TypeVar

from bot.content import places
from bot.content.danger_signs import DangerSigns
from bot.content.dangers import Dangers, load_dangers, lost_offers
from bot.content.duty_kinds import load_duty_kinds
from bot.content.emergencies import Emergencies, load_emergencies
from bot.content.fault_files import Faults, Known, load_faults
from bot.content.findings import ContentError, Finding, collected
from bot.content.formats import load_formats
from bot.content.guides import Guides, load_guides, references
from bot.content.languages import LANGUAGES
from bot.content.toml_lines import read_toml
from bot.content.wording import Wording, load_wording
from bot.core.library import DutyKind, GuideShape, Library

T = TypeVar("T")
D = TypeVar("D")


@dataclass(frozen=True)
class Content:
    """What there is to answer with, and the words for it."""

    library: Library
    wording: Wording
    dangers: Dangers

    @cached_property
    def danger_signs(self) -> DangerSigns:
        """Finds dangerous acts in messages."""
        return self.dangers.finder()

    def picture(self, name: str) -> Path | None:
        """The file of a guide's picture, or None where there is none of that name."""
        path = places.PICTURES / f"{name}.png"
        return path if path.is_file() else None


def drawn_pictures() -> frozenset[str]:
    """The names of the pictures that travel with the program."""
    return frozenset(path.stem for path in places.PICTURES.glob("*.png"))


def load_content(kitchen_guides: Path | None = None, pictures: frozenset[str] | None = None) -> Content:
    """Everything that travels with the program; a guide in ``kitchen_guides`` replaces the one on its topic.

    ``pictures`` are those that guides may show; without them that isn't checked, for a step whose picture is
    missing can still be read out.

    Raises ``ContentError`` with every fault of every file.
    """
    findings: list[Finding] = []
    folders = [places.GUIDES] if kitchen_guides is None else [places.GUIDES, kitchen_guides]
    duties = _attempt(load_duty_kinds, {}, findings)
    known = references(duties, pictures)
    guides = _attempt(lambda: load_guides(folders, known), Guides(), findings)
    emergencies = _attempt(load_emergencies, Emergencies({}, {}), findings)
    dangers = _attempt(load_dangers, Dangers({}, {}), findings)
    # A fault that leads to a guide is only told apart from a typing slip where all guides were read.
    shapes = guides.shapes or None
    faults = _attempt(lambda: load_faults(known=Known(known.topics, shapes)), Faults(), findings)
    formats = _attempt(load_formats, None, findings)
    parts = (guides.texts, emergencies.texts, dangers.texts, faults.texts)
    wording = None
    if formats is not None:
        texts = {name: {i: said for part in parts for i, said in part.get(name, {}).items()} for name in LANGUAGES}
        wording = _attempt(lambda: load_wording(places.WORDING, texts, formats), None, findings)
    if guides.shapes:
        findings.extend(_lost_guides(duties, guides.shapes))
        findings.extend(lost_offers(dangers.shapes, known.topics or (), guides.shapes))
    if findings or wording is None:
        raise ContentError(findings)
    library = Library(guides.shapes, duties, emergencies.shapes, faults.shapes, dangers.shapes, LANGUAGES)
    return Content(library, wording, dangers)


def _attempt(load: Callable[[], T], otherwise: D, findings: list[Finding]) -> T | D:
    with collected(findings):
        return load()
    return otherwise


def _lost_guides(duties: dict[str, DutyKind], guides: dict[str, GuideShape]) -> list[Finding]:
    lost = [kind for kind in duties.values() if kind.guide is not None and kind.guide not in guides]
    if not lost:
        return []
    document = read_toml(places.DUTIES)
    return [
        Finding(document.file, document.line(kind.id, "guide"), f'there is no guide "{kind.guide}"', "write it")
        for kind in lost
    ]
