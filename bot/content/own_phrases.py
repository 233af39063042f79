"""A kitchen's own phrases: ``phrases/<language>/<topic>.txt`` beside its kitchen file, one phrase a line."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

from bot.content.findings import Finding
from bot.core.kitchen import Kitchen
from intents.normalise import is_word, tokens
from intents.own import LONGEST, Objection, read_own
from intents.phrasebook import Phrase
from intents.understander import Understander

FOLDER = "phrases"


def own_phrases(kitchen_file: Path | None) -> Path | None:
    """Where a kitchen's own phrases lie, whether there are any or not; None for a kitchen without a file."""
    return kitchen_file.parent / FOLDER if kitchen_file is not None else None


def duty_words(kitchen: Kitchen) -> dict[str, tuple[str, ...]]:
    """How people call each duty of the kitchen's own invention: its titles and words, by its id."""
    return {duty.id: (*(said for _, said in duty.title), *duty.words) for duty in kitchen.duties if duty.title}


def place_of(folder: Path, language: str, topic: str) -> Path:
    """The file of a topic's phrases in a language."""
    return folder / language / f"{topic}.txt"


def with_line(written: bytes, text: str) -> bytes:
    """A phrase file with one more line; as it is, where the phrase stands in it already."""
    if any(_same(line, text) for line in written.splitlines()):
        return written
    end = b"" if not written or written.endswith((b"\n", b"\r")) else b"\n"
    return written + end + text.encode() + b"\n"


def without_line(written: bytes, text: str) -> bytes:
    """A phrase file without that phrase."""
    return b"".join(line for line in written.splitlines(keepends=True) if not _same(line, text))


def without_names(written: bytes, names: Iterable[str]) -> bytes:
    """A phrase file without the phrases that name somebody."""
    theirs = [name for name in (tokens(name) for name in names) if name]

    def names_them(line: bytes) -> bool:
        words = tokens(line.decode("utf-8", "replace"))
        return any(words[at : at + len(name)] == name for name in theirs for at in range(len(words)))

    return b"".join(line for line in written.splitlines(keepends=True) if not names_them(line))


def same_words(one: str, other: str) -> bool:
    """Whether two phrases are one, however each is spelt: capitals, accents and marks make no other phrase."""
    return _words(one) == _words(other)


def _words(text: str) -> list[str]:
    return [word for word in tokens(text) if is_word(word) or word[0] == "{"]


def _same(line: bytes, text: str) -> bool:
    try:
        said = line.decode("utf-8-sig").strip()
    except UnicodeDecodeError:
        return False
    return bool(said) and not said.startswith("#") and same_words(said, text)


def faults_in(folder: Path | None) -> Iterator[Finding]:
    """What is wrong with the phrase files as files; such lines are left out of what is understood."""
    for fault in read_own(folder).faults:
        what, _, todo = fault.what.rpartition("; ")
        yield Finding(str(fault.file), max(1, fault.line), what, todo)
    if folder is None or not folder.is_dir():
        return
    for file in sorted(folder.rglob("*.txt")):
        if not file.read_bytes().strip():
            yield Finding(str(file), 1, "the file is empty", "write a phrase, or delete the file")


def objections(phrases: Iterable[Phrase], understander: Understander) -> Iterator[Finding]:
    """The phrases that must not be learnt, and those that pull their topic and another together."""
    for phrase in phrases:
        objection = understander.objection(phrase.text, phrase.topic)
        if objection is not None:
            yield Finding(str(phrase.file), phrase.line, *in_words(phrase.text, objection))
            continue
        other = understander.too_near(phrase)
        if other is not None:
            what = f'"{phrase.text}" pulls {phrase.topic} and {other.topic} together: "{other.text}" at {other.where}'
            yield Finding(str(phrase.file), phrase.line, what, "say one of them differently")


def in_words(text: str, objection: Objection) -> tuple[str, str]:
    """What speaks against a phrase, and what to do, for somebody at a terminal."""
    match objection.why:
        case "emergency":
            return f'"{text}" sounds an alarm ({objection.topic}) and must go on doing so', "take it out"
        case "near_emergency":
            return f'"{text}" is too near to how people call for help ({objection.topic})', "take it out"
        case "taken":
            where = objection.phrase.where if objection.phrase is not None else "another place"
            return f'"{text}" means {objection.topic} at {where}', "keep it in one topic"
        case "long":
            return f"the phrase is longer than {LONGEST} characters", "say it shorter"
        case "empty":
            return f'there is no word in "{text}"', "write at least one"
        case "placeholder":
            return f'"{text}" has braces that are no placeholder', "take them out"
        case _:
            return f'"{text}" is for a topic that does not exist', "choose one of topics.toml"


def phrases_check(folder: Path | None, understander: Understander) -> list[Finding]:
    """Every fault of a kitchen's own phrases."""
    return [*faults_in(folder), *objections(read_own(folder).phrases, understander)]
