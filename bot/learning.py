"""A kitchen's own phrases at work: from the history into the phrase files, from the files into the understanding.

What was taught in chat acts from the moment it is in the history, written into a file or not. The files lie beside
the kitchen file and may be edited by hand; what was edited is read again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from bot.content.own_phrases import faults_in, objections, place_of, same_words, with_line, without_line
from bot.content.watching import LOOK_EVERY, Seen, look
from bot.core.actions import parse
from bot.core.lessons import Filing, Lessons, PhrasesFiled
from bot.core.messages import Objection, Outcome
from bot.core.scene import Scene
from bot.core.skills import editing, learning
from bot.store.files import Files, make_folders, replace_file
from intents.own import read_own
from intents.phrasebook import Phrase
from intents.understander import Understander

HISTORY = Path("history")
"""Stands for the file of a phrase that has none yet."""


@dataclass(frozen=True, slots=True)
class News:
    """What became of the phrase files since the last look."""

    faults: Sequence[str] | None = None
    """What is wrong with what was edited; None where nothing was."""
    filed: int | None = None
    """The last filing that the files hold now, where something was written."""
    trouble: str | None = None
    """Why nothing could be written."""

    def outcome(self, scene: Scene) -> Outcome:
        """What is to be remembered and said of it."""
        outcome = editing.faulty(scene, self.faults) if self.faults else Outcome()
        if self.filed is not None:
            outcome += Outcome((PhrasesFiled(self.filed),))
        return outcome + learning.not_filed(scene, self.trouble) if self.trouble is not None else outcome


class Learning:
    """The own phrases of one kitchen. Without a ``folder`` those of its history act, and nothing is written."""

    def __init__(
        self,
        understander: Understander,
        folder: Path | None = None,
        *,
        writes: bool = False,
        files: Files | None = None,
    ) -> None:
        self._understander = understander
        self._folder = folder
        self._writes = writes and folder is not None
        self._files = files or Files()
        self._phrases: Sequence[Phrase] = read_own(folder).phrases
        self._seen = self._look()
        self._looked: datetime | None = None
        self._ground: tuple[int, int] | None = None
        self._edition = 0

    def understander(self, lessons: Lessons) -> Understander:
        """The understanding with every phrase in force."""
        ground = (self._edition, lessons.filings)
        # What it was loaded with is in force already, as long as nothing was edited or taught since.
        begun = self._ground is not None or self._edition > 0 or lessons.unfiled
        if ground != self._ground and begun:
            self._understander = self._understander.with_own(_in_force(self._phrases, lessons.unfiled))
        self._ground = ground
        return self._understander

    def objection(self, lessons: Lessons, action: str) -> Objection | None:
        """What speaks against the phrase that a tap with that action would teach."""
        done = parse(action)
        if done.verb != "learn" or len(done.args) != 2 or not (done.args[0] or "").isdecimal():
            return None
        lesson = lessons.by_number.get(int(done.args[0] or 0))
        if lesson is None or lesson.decided is not None:
            return None
        found = self.understander(lessons).objection(lesson.text, done.args[1] or "")
        return Objection(found.why, found.topic) if found is not None else None

    def news(self, lessons: Lessons, now: datetime) -> News | None:
        """Write what the files lack, and take in what was edited in them; None where there is neither."""
        faults = self.edited(now)
        try:
            filed = self.file(lessons)
        except OSError as error:
            return News(faults, trouble=error.strerror or str(error))
        return News(faults, filed) if faults is not None or filed is not None else None

    def edited(self, now: datetime) -> list[str] | None:
        """Take in what was edited by hand since the last look: what is wrong with it; None where nothing changed."""
        if self._folder is None or (self._looked is not None and self._looked <= now < self._looked + LOOK_EVERY):
            return None
        self._looked = now
        seen = self._look()
        if seen == self._seen:
            return None
        self._seen = seen
        self._reread()
        return [str(fault) for fault in (*faults_in(self._folder), *objections(self._phrases, self._understander))]

    def file(self, lessons: Lessons) -> int | None:
        """Write what the files lack: the last filing they hold now; None where there was nothing to write.

        Raises ``OSError``: what was written until then may be written again.
        """
        if not self._writes or self._folder is None or not lessons.unfiled:
            return None
        for filing in lessons.unfiled:
            self._write(place_of(self._folder, filing.language, filing.topic), filing)
        self._seen = self._look()
        self._reread()
        return lessons.unfiled[-1].number

    def _write(self, path: Path, filing: Filing) -> None:
        before = path.read_bytes() if path.exists() else b""
        after = (with_line if filing.gain else without_line)(before, filing.text)
        if after == before:
            return
        make_folders(self._files, path.parent)
        mode = path.stat().st_mode & 0o777 if path.exists() else None
        replace_file(self._files, path, [after])
        if mode is not None:
            self._files.restrict(path, mode)

    def _reread(self) -> None:
        self._phrases = read_own(self._folder).phrases
        self._edition += 1

    def _look(self) -> Seen:
        return look([self._folder] if self._folder is not None else [], "*.txt")


def _in_force(filed: Sequence[Phrase], unfiled: Sequence[Filing]) -> list[Phrase]:
    phrases = list(filed)
    for filing in unfiled:
        place = (filing.topic, filing.language)
        phrases = [
            phrase
            for phrase in phrases
            if (phrase.topic, phrase.language) != place or not same_words(phrase.text, filing.text)
        ]
        if filing.gain:
            phrases.append(Phrase(filing.text, filing.topic, filing.language, HISTORY, filing.number))
    return phrases
