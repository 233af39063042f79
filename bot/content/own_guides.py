"""A kitchen's own guides: the folder ``guides`` beside its kitchen file. They win over the built-in ones by topic."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from bot.content import places
from bot.content.languages import LANGUAGES

FOLDER = "guides"
NOTES = places.CONTENT / "guide_notes"


@dataclass(frozen=True, slots=True)
class Override:
    """One guide of a kitchen, and whether a built-in one gives way to it."""

    topic: str
    folder: Path
    replaces: bool

    def __str__(self) -> str:
        what = "in place of the built-in guide" if self.replaces else "which has no built-in guide"
        return f"{self.topic}: {self.folder} is used, {what}"


def own_guides(kitchen_file: Path | None) -> Path | None:
    """The folder of a kitchen's own guides; None where it has none."""
    if kitchen_file is None:
        return None
    folder = kitchen_file.parent / FOLDER
    return folder if folder.is_dir() else None


def overrides(folder: Path | None) -> Iterator[Override]:
    """What the kitchen's own guides override."""
    if folder is None:
        return
    for place in sorted(path for path in folder.iterdir() if path.is_dir() and not path.name.startswith(".")):
        yield Override(f"guide.{place.name}", place, (places.GUIDES / place.name).is_dir())


def new_guide(folder: Path, name: str) -> Path:
    """Make a guide to work on: the built-in one with notes on what each part is, or an empty one.

    A copy is at work at once and says the same; an empty one is not, until all of it is written. Raises
    ``FileExistsError`` where there is one already.
    """
    place = folder / name
    place.mkdir(parents=True)
    built_in = places.GUIDES / name
    about, words = ((NOTES / f"{part}.toml").read_text(encoding="utf-8") for part in ("about", "words"))
    blank_about, blank_words = _blank(name)
    files = {"about": (about, blank_about)} | dict.fromkeys(LANGUAGES, (words, blank_words))
    for file, (notes, blank) in files.items():
        source = built_in / f"{file}.toml"
        body = source.read_text(encoding="utf-8") if source.is_file() else blank
        (place / f"{file}.toml").write_text(notes + body, encoding="utf-8")
    return place


def _blank(name: str) -> tuple[str, str]:
    about = f'topic = "guide.{name}"\nkind = "walk"\nhot_oil = true\nrisk = "high"\nby_power = false\n\n[sources]\n'
    step = '[[steps]]\nsay = ""\nsee = ""\nif_not = ""\n'
    words = 'title = ""\npurpose = ""\ntakes = ""\nnot_when = []\ngear = []\ncautions = [""]\n\n'
    return about, words + "\n".join([step] * 4)
