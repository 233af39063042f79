"""A fitted engine for phrase folders, kept in the user's cache folder under a digest of all that it was fitted on."""

from __future__ import annotations

import hashlib
import os
import tempfile
import zipfile
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from intents import spread
from intents.engine import Engine
from intents.lexicon import FOLDER, LANGUAGES, lexicon
from intents.model import Model
from intents.phrasebook import Phrase, read
from intents.prepare import spelt_out
from intents.repair import Repairer
from intents.slots.duties import ideas_of
from intents.slots.fryers import Fryers
from intents.slots.read import Stated, read as read_slots
from intents.vector import Sparse, Vectoriser

ANY_KITCHEN = Fryers({str(number): () for number in range(1, 10)})
"""Phrases name fryers by a placeholder or a digit; the names of a real kitchen come with its messages."""

_AFTER_THE_FIT = {
    "calibrate.py", "calibration.py", "emergencies.py", "emergencies.toml", "evaluate.py", "fill.py", "own.py",
    "stand_ins.toml", "types.py", "understander.py", "weighing.py",
}  # fmt: skip
"""Files that work on what a fit says and so don't change one."""
OWN_FIT = "own-"
"""How the name of a fit begins that was made with a kitchen's own phrases too."""


def load(folders: Sequence[Path], own: Sequence[Phrase] = ()) -> tuple[Engine, tuple[Phrase, ...]]:
    """An engine fitted on the phrases of ``folders`` and ``own``, and those phrases: from the cache, or fitted now."""
    phrases = (*read(folders).phrases, *own)
    file = cache_folder() / f"{OWN_FIT if own else ''}{_digest(phrases)}.npz"
    engine = _restored(file)
    if engine is None:
        engine = fit(spread.each(masked, [phrase.text for phrase in phrases]), [phrase.topic for phrase in phrases])
        _keep(file, engine)
    return engine, phrases


def drop_own_fits() -> None:
    """Let go of the fits that know a kitchen's own phrases, in which somebody may be named. Raises ``OSError``."""
    for file in cache_folder().glob(f"{OWN_FIT}*.npz"):
        file.unlink()


def fit(words: Sequence[Sequence[str]], labels: Sequence[str]) -> Engine:
    """An engine with the lexicons' ideas, sounds and words."""
    return Engine.fit(words, labels, ideas=_ideas, vocabulary=_vocabulary(), sounds=_sounds())


def stated(text: str) -> Stated:
    """What a phrase states in any kitchen."""
    return read_slots(spelt_out(text), ANY_KITCHEN)


def masked(text: str) -> list[str]:
    """The words of a phrase, with placeholders for what a message may fill in."""
    found = stated(text)
    return found.masked(found.words)


def _ideas(words: Sequence[str]) -> list[str]:
    return sorted(ideas_of(words))


def _vocabulary() -> set[str]:
    return {word for language in LANGUAGES for word in lexicon(language).known_words()}


def _sounds() -> list[tuple[str, str]]:
    return [rule for language in LANGUAGES for rule in lexicon(language).sounds]


def cache_folder() -> Path:
    """Where fits are kept: ``VATSIDE_CACHE``, or the user's cache folder."""
    named = os.environ.get("VATSIDE_CACHE")
    if named:
        return Path(named)
    base = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA")
    return (Path(base) if base else Path.home() / ".cache") / "vatside"


def _digest(phrases: Sequence[Phrase]) -> str:
    """Of the phrases, the lexicons and the code that fits: any change makes a new fit."""
    digest = hashlib.sha256()
    package = Path(__file__).parent
    for file in sorted([*FOLDER.glob("*.toml"), *package.glob("*.py"), *package.glob("slots/*.py")]):
        if file.name not in _AFTER_THE_FIT:
            digest.update(file.read_bytes())
    for phrase in phrases:
        digest.update(f"{phrase.topic}\t{phrase.language}\t{phrase.text}\n".encode("utf-8", "surrogatepass"))
    return digest.hexdigest()[:32]


def _restored(file: Path) -> Engine | None:
    try:
        with np.load(file, allow_pickle=False) as kept:
            grams = bytes(kept["grams"]).decode().split("\n")
            vectoriser = Vectoriser({gram: at for at, gram in enumerate(grams)}, kept["weights"], float(kept["unseen"]))
            rows = Sparse(kept["starts"], kept["columns"].astype(np.intp), kept["values"].astype(np.float32))
            model = Model(kept["head"].astype(np.float32), rows, kept["bounds"])
            labels = bytes(kept["labels"]).decode().split("\n")
            order = kept["order"]
            known = bytes(kept["known"]).decode().split("\n")
            counts = dict(zip(known, kept["counts"].tolist(), strict=True))
    except (OSError, KeyError, ValueError, zipfile.BadZipFile):
        return None
    repairer = Repairer(counts, frozenset(_vocabulary()), _sounds())
    return Engine(labels, order, vectoriser, model, repairer, _ideas)


def _keep(file: Path, engine: Engine) -> None:
    """Keep a fit for the next time. A folder that cannot be written only costs the next load its seconds."""
    model, vectoriser = engine.model, engine.vectoriser
    half = np.float16
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=file.parent, suffix=".part", delete=False) as part:
            np.savez(
                part,
                grams=np.frombuffer("\n".join(vectoriser.columns).encode(), np.uint8),
                weights=vectoriser.weights,
                unseen=np.float64(vectoriser.unseen),
                starts=model.rows.starts,
                columns=model.rows.columns.astype(np.int32),
                values=model.rows.values.astype(half),
                head=model.head.astype(half),
                bounds=model.bounds,
                labels=np.frombuffer("\n".join(engine.labels).encode(), np.uint8),
                order=engine.order,
                known=np.frombuffer("\n".join(engine.repairer.counts).encode(), np.uint8),
                counts=np.array(list(engine.repairer.counts.values()), np.int32),
            )
        Path(part.name).replace(file)
    except OSError:
        return
