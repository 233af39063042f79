"""A model is loaded only if it is what was pinned, and put together whole."""

from __future__ import annotations

import sys
from hashlib import sha256
from pathlib import Path

import pytest

from bot.voice import models
from bot.voice.models import EarMissingError, Packaged, model_folder
from bot.voice.recogniser import Recogniser

PARTS = (b"first half, ", b"second half")


@pytest.fixture
def packages(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Two packages that hold the halves of a model, and nothing else that could be listened with."""
    root = tmp_path / "packages"
    for name, part in zip(("half_one", "half_two"), PARTS, strict=True):
        (root / name).mkdir(parents=True)
        (root / name / "__init__.py").touch()
        (root / name / "model.bin").write_bytes(part)
    monkeypatch.syspath_prepend(str(root))
    halves = ("half_one", "model.bin"), ("half_two", "model.bin")
    base = Packaged({"model.bin": (halves, sha256(b"".join(PARTS)).hexdigest())})
    tiny = Packaged({"model.bin": ((("half_none", "model.bin"),), "0" * 64)})
    monkeypatch.setattr(models, "PACKAGED", {"base": base, "tiny.en": tiny})
    yield root
    for name in ("half_one", "half_two"):
        sys.modules.pop(name, None)


def test_a_model_in_two_packages_is_put_together_in_the_cache(packages: Path, tmp_path: Path) -> None:
    folder = model_folder("base", cache=tmp_path / "cache")
    assert (folder / "model.bin").read_bytes() == b"".join(PARTS)
    assert [path.name for path in (tmp_path / "cache").iterdir()] == ["base"]


def test_a_model_that_is_not_the_pinned_one_is_not_loaded(packages: Path, tmp_path: Path) -> None:
    (packages / "half_two" / "model.bin").write_bytes(b"tampered with")
    with pytest.raises(EarMissingError, match="not the one that was checked"):
        model_folder("base", cache=tmp_path / "cache")
    assert list((tmp_path / "cache").iterdir()) == []


def test_what_is_damaged_in_the_cache_is_put_together_again(packages: Path, tmp_path: Path) -> None:
    folder = model_folder("base", cache=tmp_path / "cache")
    (folder / "model.bin").write_bytes(b"torn")
    assert (model_folder("base", cache=tmp_path / "cache") / "model.bin").read_bytes() == b"".join(PARTS)


def test_the_cache_serves_after_the_packages_are_gone(
    packages: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = model_folder("base", cache=tmp_path / "cache")
    monkeypatch.setattr(models, "_package", lambda name: None)
    assert model_folder("base", cache=tmp_path / "cache") == folder


def test_without_a_name_the_best_that_is_here_is_taken(packages: Path, tmp_path: Path) -> None:
    assert model_folder(None, cache=tmp_path, memory=2**40).name == "base"
    assert model_folder(None, cache=tmp_path, memory=2**30).name == "base"


def test_the_machines_memory_decides_between_models(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    tried: list[str] = []

    def there(name: str, cache: Path) -> Path:
        tried.append(name)
        return cache / name

    monkeypatch.setattr(models, "_there", lambda packaged: True)
    monkeypatch.setattr(models, "_from_packages", there)
    model_folder(None, cache=tmp_path, memory=8 * 2**30)
    model_folder(None, cache=tmp_path, memory=2**30)
    assert tried == ["base", "tiny.en"]


def test_a_name_whose_packages_are_missing_says_what_to_install(packages: Path, tmp_path: Path) -> None:
    with pytest.raises(EarMissingError, match="pip install half-none"):
        model_folder("tiny.en", cache=tmp_path)


def test_an_unknown_name_is_not_looked_for_on_the_network(packages: Path, tmp_path: Path) -> None:
    with pytest.raises(EarMissingError, match="not on this machine"):
        model_folder("no-such-model", cache=tmp_path)


def test_a_folder_without_a_model_says_what_is_missing(tmp_path: Path) -> None:
    with pytest.raises(EarMissingError, match=r"config\.json, model\.bin, tokenizer\.json missing"):
        model_folder(str(tmp_path))


def test_the_packaged_model_is_what_was_pinned(tmp_path: Path) -> None:
    folder = model_folder("tiny.en", cache=tmp_path)
    assert (folder / "model.bin").is_file()
    assert list(tmp_path.iterdir()) == []


def test_without_the_extra_it_says_what_to_install(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "faster_whisper", None)
    with pytest.raises(EarMissingError, match=r"nothing to listen with; pip install 'vatside\[voice\]'"):
        Recogniser(tmp_path)


def test_a_damaged_model_is_said_to_be_one(tmp_path: Path) -> None:
    for name in models.NEEDED:
        (tmp_path / name).write_text("{}")
    with pytest.raises(EarMissingError, match="can't be loaded"):
        Recogniser(model_folder(str(tmp_path)))
