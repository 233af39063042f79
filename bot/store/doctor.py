"""A look over a store that is not in use: what is wrong with it is put right where that loses nothing."""

from __future__ import annotations

import stat
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from bot.core import records as r
from bot.core.state import State
from bot.store.archive import drop_snapshot
from bot.store.errors import StoreError, explain
from bot.store.evidence import EVIDENCE_FOLDER, names_of
from bot.store.files import FILE_MODE, FOLDER_MODE, Files
from bot.store.folding import fold
from bot.store.forgetting import unfinished
from bot.store.history import HISTORY_NAME
from bot.store.lines import LineFormat
from bot.store.repair import Recovery
from bot.store.snapshot import SNAPSHOT_NAME
from bot.store.store import Store


@dataclass(frozen=True, slots=True)
class Fault:
    """Something that was wrong, and what was done about it or is to be done."""

    what: str
    done: str

    def __str__(self) -> str:
        return f"{self.what}; {self.done}"


@dataclass(frozen=True, slots=True)
class Report:
    """How many turns the store holds now, and everything that was wrong with it."""

    turns: int
    faults: tuple[Fault, ...]


def look_over(folder: Path, fold_version: int = 1, files: Files | None = None) -> Report:
    """Check a store and repair it. Raises ``StoreBusy`` while it is in use, and ``StoreError``."""
    files = files or Files()
    if not (folder / HISTORY_NAME).exists():
        raise StoreError(f"{folder}: there are no records; check the name of the records folder")
    try:
        faults = list(_left_over(folder, files))
        with Store.open(folder, State, fold_version=fold_version, files=files) as store:
            if store.recovery is not None:
                faults += _recovered(store.recovery)
            turns = list(_numbers(store))
            faults += _gaps(turns, set_aside=store.recovery is not None and store.recovery.set_aside > 0)
            faults += _saved_state(folder, store, fold_version, files)
            faults += _photos(folder, store)
            store.save_snapshot()
        faults += _rights(folder, files)
        person = unfinished(folder)
    except OSError as error:
        raise explain(error, folder) from error
    if person is not None:
        what = f"{folder}: forgetting '{person}' was cut short"
        faults.append(Fault(what, f"run 'vatside forget {person}' again"))
    return Report(len(turns), tuple(faults))


def _left_over(folder: Path, files: Files) -> Iterator[Fault]:
    for path in sorted([*folder.glob("*.tmp"), *(folder / EVIDENCE_FOLDER).glob("*.tmp")]):
        files.remove(path)
        yield Fault(f"{path}: left over from a write that was cut short", "removed; it was never part of the records")


def _recovered(recovery: Recovery) -> Iterator[Fault]:
    names = ", ".join(path.name for path in recovery.files)
    if recovery.set_aside:
        yield Fault(
            f"{HISTORY_NAME}: {recovery.set_aside} damaged lines",
            f"{recovery.kept} good turns kept; the file as it was is in {names}; compare with a backup",
        )
    if recovery.torn:
        yield Fault(f"{HISTORY_NAME}: the last line was cut short", f"set aside in {names}; it was not acknowledged")
    if recovery.snapshot_problem is not None:
        yield Fault(f"{SNAPSHOT_NAME}: {recovery.snapshot_problem}", f"set aside ({names}); made anew from the history")


def _numbers(store: Store[State]) -> Iterator[int]:
    return (turn.seq for turn in store.turns())


def _gaps(numbers: list[int], set_aside: bool) -> Iterator[Fault]:
    expected = 1
    for number in numbers:
        if number != expected:
            missing = f"turn {expected} is" if number == expected + 1 else f"turns {expected} to {number - 1} are"
            why = "they stood on damaged lines" if set_aside else "they were lost earlier"
            yield Fault(f"{HISTORY_NAME}: {missing} not there", f"{why}; look in a backup and in files set aside")
        expected = number + 1


def _saved_state(folder: Path, store: Store[State], fold_version: int, files: Files) -> Iterator[Fault]:
    """Whether the state is what the turns add up to, all of them folded anew."""
    whole = State()
    for turn in store.turns():
        whole.apply(turn)
    if whole != store.state:
        drop_snapshot(folder, files)
        store.state = fold(folder, State, files, LineFormat(), fold_version).state
        yield Fault(
            f"{SNAPSHOT_NAME}: the saved state is not what the history adds up to", "made anew from the history"
        )


def _photos(folder: Path, store: Store[State]) -> Iterator[Fault]:
    there = set(names_of(folder))
    named = {c.file for turn in store.turns() for c in turn.changes if isinstance(c, r.EvidenceKept)}
    for name in sorted(named - there):
        yield Fault(f"{EVIDENCE_FOLDER}/{name}: the photo is not there", "look in a backup")
    for name in sorted(there - named):
        yield Fault(f"{EVIDENCE_FOLDER}/{name}: no record names this photo", "left where it is")


def _rights(folder: Path, files: Files) -> Iterator[Fault]:
    """Records are for this user alone."""
    inside = [path for path in folder.rglob("*") if path.is_file() or path.is_dir()]
    for path in (folder, *inside):
        wanted = FOLDER_MODE if path.is_dir() else FILE_MODE
        mode = stat.S_IMODE(path.stat().st_mode)
        if mode & ~wanted:
            files.restrict(path, mode & wanted)
            yield Fault(f"{path}: other users could read or change it", f"rights set to {mode & wanted:o}")
