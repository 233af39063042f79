"""A third language made of files alone: English in which every letter that can bears an accent."""

from __future__ import annotations

import os
import re
import shutil
import sys
from pathlib import Path

import bot

ROOT = Path(str(bot.__file__)).parent.parent
CODE = "xx"
LETTERS = "áéíñóúýçÁÉÍÑÓÚ"
ACCENTS = str.maketrans("aeinouycAEINOU", LETTERS)
QUOTED = re.compile(r'(?<!\\)"((?:[^"\\\n]|\\.)*)"')
PLACEHOLDER = re.compile(r"(\{[^{}]*\}|[^{}]+)")
WORD = re.compile(f"[{LETTERS}]")
AS_THEY_STAND = re.compile(r"^\s*(?:power|picture|decimal|date)\s*=")
"""Keys whose values are names, not words."""


def accented(text: str) -> str:
    """English that no English file holds: every letter that can, bears an accent; placeholders stay."""
    return "".join(part if part[0] == "{" else part.translate(ACCENTS) for part in PLACEHOLDER.findall(text))


def copy_that_speaks(root: Path) -> Path:
    """Copy the program and its demo kitchen into a folder; it speaks the language, and so does half of the crew."""
    _copy(root)
    assert _add_what_is_said(root / "bot" / "content") > 40
    kitchen = root / "demo_store" / "kitchen.toml"
    text = kitchen.read_text(encoding="utf-8").replace('language = "en"', f'language = "{CODE}"', 1)
    text = text.replace('role = "cook"\nlanguage = "en"', f'role = "cook"\nlanguage = "{CODE}"')
    kitchen.write_text(text, encoding="utf-8")
    return root


def copy_that_reads(root: Path) -> Path:
    """Copy the program into a folder; it reads the language. Of all phrases only a few are kept: fitting takes long."""
    _copy(root)
    intents = root / "intents"
    lexicon = (intents / "lexicon" / "en.toml").read_text(encoding="utf-8")
    theirs = lexicon.replace('language = "en"', f'language = "{CODE}"', 1)
    theirs = re.sub(r"(?m)^letters = \[\]$", f"letters = {[*LETTERS]}", theirs)
    (intents / "lexicon" / f"{CODE}.toml").write_text(theirs, encoding="utf-8")
    (intents / "phrases" / CODE).mkdir()
    for file in [*(intents / "phrases").glob("*/*.txt")]:
        lines = [line for line in file.read_text(encoding="utf-8").splitlines() if line and line[0] != "#"][:5]
        file.write_text("\n".join(lines) + "\n", encoding="utf-8")
        if file.parent.name == "en":
            # Accents are no matter to the reader; a word more makes another phrase, for one may stand only once.
            said = "".join(f"{accented(line)} xox\n" for line in lines)
            (intents / "phrases" / CODE / file.name).write_text(said, encoding="utf-8")
    return root


def program(root: Path, *args: str) -> tuple[list[str], dict[str, str]]:
    """The command and the environment that run a copy."""
    return [sys.executable, "-m", "bot", *args], {
        **os.environ,
        "PYTHONPATH": str(root),
        "PYTHONDONTWRITEBYTECODE": "1",
    }


def _copy(root: Path) -> None:
    for package in ("bot", "intents", "demo_store"):
        shutil.copytree(ROOT / package, root / package, ignore=shutil.ignore_patterns("__pycache__"))


def _add_what_is_said(content: Path) -> int:
    """Write the files of what the helper says; how many."""
    written = 0
    for source in [*content.rglob("en.toml"), *content.rglob("*.en.toml")]:
        target = source.with_name(source.name.replace("en.toml", f"{CODE}.toml"))
        target.write_text(_translated(source.read_text(encoding="utf-8")), encoding="utf-8")
        written += 1
    formats = content / "formats.toml"
    text = formats.read_text(encoding="utf-8")
    sections = re.split(r"(?m)^(?=\[)", text)
    english = [section for section in sections if re.match(r"\[en(?:[.\]])", section)]
    assert english
    formats.write_text(text + "\n" + "".join(re.sub(r"^\[en", f"[{CODE}", s) for s in english), encoding="utf-8")
    for wording in (content / "wording").glob("*.toml"):
        said = wording.read_text(encoding="utf-8")
        wording.write_text(re.sub(r"(?m)^(\[language\]\n)", rf'\1{CODE} = "Pseudo"\n', said, count=1), encoding="utf-8")
    return written + 1


def _translated(toml: str) -> str:
    """A file's texts with accents; its keys, placeholders and names as they stand."""
    lines = []
    for line in toml.splitlines():
        if line.lstrip().startswith(("#", "[")) or AS_THEY_STAND.match(line):
            lines.append(line)
            continue
        # A quoted key, as in "guide.skim" = "Skim the oil", is no text.
        key, equals, value = line.partition(" = ")
        said = value if equals else line
        told = QUOTED.sub(lambda match: f'"{accented(match[1])}"', said)
        lines.append(f"{key}{equals}{told}" if equals else told)
    return "\n".join(lines) + "\n"
