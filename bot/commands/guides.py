"""``vatside guides``: a new guide to work on, a guide as the crew sees it, and the faults of all guides."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path

from bot.app import clock
from bot.channels.errors import UsageError
from bot.commands.loading import kitchen_of
from bot.content.catalogue import Content, drawn_pictures, load_content
from bot.content.findings import ContentError, instead
from bot.content.own_guides import FOLDER, new_guide, overrides, own_guides
from bot.core.kitchen import Kitchen
from bot.core.scene import Scene, Speaker
from bot.core.skills import guides
from bot.core.state import State
from intents.topics import topics
from intents.types import Language

PREFIX = "guide."


def run(args: argparse.Namespace) -> int:
    """Do what was asked of the guides."""
    match args.what:
        case "new":
            return _new(args.kitchen, args.name)
        case "show":
            return _show(args.kitchen, args.name, args.language)
        case _:
            return _check(args.kitchen)


def _new(kitchen_file: Path | None, name: str) -> int:
    if kitchen_file is None:
        raise UsageError("--kitchen", None, "no kitchen file is named", "name yours: the guide goes beside it")
    kitchen_of(kitchen_file)
    name = _known(name)
    try:
        place = new_guide(kitchen_file.parent / FOLDER, name)
    except FileExistsError:
        already = kitchen_file.parent / FOLDER / name
        raise UsageError("NAME", None, f"there is a guide in {already} already", "edit that one") from None
    except OSError as error:
        raise UsageError("--kitchen", None, f"can't write beside it ({error.strerror})", "check the folder") from None
    sys.stdout.write(f"{place}\nEdit the files in it, then: vatside guides check --kitchen {kitchen_file}\n")
    return 0


def _show(kitchen_file: Path | None, name: str, language: Language | None) -> int:
    kitchen = kitchen_of(kitchen_file)
    name = _known(name)
    content = load_content(own_guides(kitchen_file))
    if f"{PREFIX}{name}" not in content.library.guides:
        raise UsageError("NAME", None, f"there is no guide {name!r}", "make it: vatside guides new")
    sys.stdout.write("\n".join(_pages(content, kitchen, f"{PREFIX}{name}", language or kitchen.language)) + "\n")
    return 0


def _pages(content: Content, kitchen: Kitchen, topic: str, language: Language) -> Iterator[str]:
    """Each message of the guide; for both kinds of fryer where they are led differently."""
    now = clock()
    scene = Scene(kitchen, content.library, State(), now)
    who = Speaker(kitchen.people[0], kitchen.people[0].id)
    guide = content.library.guides[topic]
    fryers = {fryer.power: fryer.id for fryer in reversed(kitchen.fryers)} if guide.by_power else {None: None}
    for fryer in fryers.values():
        for reply in guides.pages(scene, who, guide, fryer):
            text, labels = content.wording.render_reply(reply, language, kitchen, now)
            buttons = "  ".join(f"[{label}]" for label in labels)
            pictures = "".join(f"\n({file.name}.png)" for file in reply.files)
            yield f"{text}{pictures}\n{buttons}\n" if buttons else f"{text}{pictures}\n"


def _check(kitchen_file: Path | None) -> int:
    own = own_guides(kitchen_file)
    for override in overrides(own):
        sys.stdout.write(f"{override}\n")
    try:
        load_content(own, drawn_pictures())
    except ContentError as error:
        for finding in error.findings:
            sys.stdout.write(f"{finding}\n")
        return 1
    sys.stdout.write("No faults found.\n")
    return 0


def _known(name: str) -> str:
    plain = name.removeprefix(PREFIX)
    names = [topic.removeprefix(PREFIX) for topic in topics() if topic.startswith(PREFIX)]
    if plain not in names:
        todo = instead(plain, names, f"choose from {', '.join(sorted(names))}")
        raise UsageError("NAME", None, f"{name!r} is no guide's name", todo)
    return plain
