"""Photos that were kept with a record, one file each in a folder of their own."""

from __future__ import annotations

import re
from pathlib import Path

from bot.store.errors import StoreError, explain
from bot.store.files import Files, make_folders, replace_file

EVIDENCE_FOLDER = "evidence"
LARGEST = 10 << 20
"""Bytes. A photo that Telegram hands to a bot is far smaller (Bot API: photos of at most 10 MB can be sent)."""

MOST_EACH = 10
"""Photos of one record."""

_KINDS = (
    # The first bytes of a file of that kind: ITU-T T.81 (JPEG); W3C PNG Specification, section 5.2; RFC 9649 (WebP).
    (re.compile(rb"\xff\xd8\xff"), "jpg"),
    (re.compile(rb"\x89PNG\r\n\x1a\n"), "png"),
    (re.compile(rb"RIFF....WEBP", re.DOTALL), "webp"),
)
_NAME = re.compile(r"[0-9]{1,12}-[0-9]{1,4}\.(jpg|png|webp)")


def kind_of(photo: bytes) -> str | None:
    """The kind of a photo as the ending of its name, or None for anything that isn't kept."""
    if len(photo) > LARGEST:
        return None
    return next((ending for pattern, ending in _KINDS if pattern.match(photo)), None)


def keep_photo(folder: Path, entry: int, photo: bytes, files: Files) -> str:
    """Keep a photo with the log entry of that number, safe on the disk; the name of its file.

    Raises ``StoreError``, and ``ValueError`` for bytes that are no photo or too many.
    """
    ending = kind_of(photo)
    if ending is None:
        raise ValueError("no photo, or too large")
    place = folder / EVIDENCE_FOLDER
    number = 1
    while any((place / f"{entry}-{number}.{kind}").exists() for _, kind in _KINDS):
        number += 1
    if number > MOST_EACH:
        raise ValueError("too many photos of one record")
    path = place / f"{entry}-{number}.{ending}"
    try:
        make_folders(files, place)
        replace_file(files, path, [photo])
    except OSError as error:
        raise explain(error, path) from error
    return path.name


def names_of(folder: Path) -> list[str]:
    """The names of all photos in a store. Raises ``OSError``."""
    place = folder / EVIDENCE_FOLDER
    if not place.is_dir():
        return []
    return sorted(path.name for path in place.iterdir() if _NAME.fullmatch(path.name))


def photo(folder: Path, name: str) -> bytes:
    """One photo. Raises ``StoreError`` for a name that no photo can have, or where it can't be read."""
    path = folder / EVIDENCE_FOLDER / name
    if not _NAME.fullmatch(name):
        raise StoreError(f"{path}: no photo can have that name; take the name from the export")
    try:
        return path.read_bytes()
    except OSError as error:
        raise explain(error, path) from error
