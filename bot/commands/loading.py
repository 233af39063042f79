"""What most commands need: the content, a kitchen, its store's folder, a helper."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from platformdirs import user_data_path

from bot.app import Helper
from bot.content.catalogue import Content, load_content
from bot.content.kitchen_file import read_kitchen
from bot.content.own_guides import own_guides
from bot.content.own_phrases import duty_words, own_phrases
from bot.content.places import demo_folder
from bot.content.watching import Watched
from bot.core import roster
from bot.core.kitchen import Kitchen
from bot.core.state import FOLD_VERSION, State
from bot.learning import Learning
from bot.store import Records, read_only
from intents.own import read_own
from intents.understander import Understander


def kitchen_of(file: Path | None) -> Kitchen:
    """The kitchen of a file, or the demo's. Raises ``ContentError``."""
    return read_kitchen(file if file is not None else demo_folder() / "kitchen.toml")


def kitchen_now(kitchen: Kitchen, state: State) -> Kitchen:
    """The kitchen with the people that its records say it has now."""
    return roster.as_of(kitchen, state.membership)


def store_of(folder: Path | None, kitchen: Kitchen) -> Path:
    """The folder of a kitchen's records: the one given, or its own below the user's data folder."""
    return folder if folder is not None else user_data_path("vatside", appauthor=False) / slug(kitchen.name)


def records_of(folder: Path) -> Records[State]:
    """The records in a folder, for reading only. Raises ``StoreError``."""
    return read_only(folder, State, fold_version=FOLD_VERSION)


def slug(name: str) -> str:
    """A kitchen's name as a folder's."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-") or "kitchen"


def understander_of(kitchen: Kitchen, kitchen_file: Path | None = None) -> Understander:
    """The understanding of a kitchen's crew: the built-in phrases and its own, its fryers' names and own duties."""
    return Understander.load(
        fryers={fryer.id: fryer.names for fryer in kitchen.fryers},
        own=read_own(own_phrases(kitchen_file)).phrases,
        duties=duty_words(kitchen),
    )


def opener(
    kitchen: Kitchen, folder: Path, kitchen_file: Path | None = None, *, watch: bool = False
) -> Callable[[datetime], Helper]:
    """Opens this kitchen's helper at a given time; content and understanding are loaded once.

    The guides and phrases beside ``kitchen_file`` are read too. With ``watch`` whatever is edited is read again while
    it runs, and what is taught is written there.
    """
    content: Content = load_content(own_guides(kitchen_file))
    understander = understander_of(kitchen, kitchen_file)
    watched = Watched(kitchen_file) if watch else None

    def open_at(now: datetime) -> Helper:
        learning = Learning(understander, own_phrases(kitchen_file), writes=watch)
        return Helper.open(kitchen, content, understander, folder, now, watched=watched, learning=learning)

    return open_at
