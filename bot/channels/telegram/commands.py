"""The commands of the chat's menu: short names for things that can be said in words anyway."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from importlib.resources import files

import msgspec
from msgspec import Struct

from bot.core.kitchen import Role
from intents.types import Language

GREETING = "start"
"""The command that every chat with a bot begins with; a mention of the bot and nothing else means the same."""

_WRITTEN = re.compile(r"/([A-Za-z0-9_]{1,32})(?:@([A-Za-z0-9_]+))?(?:\s+(.*))?", re.DOTALL)


class Command(Struct, frozen=True, forbid_unknown_fields=True):
    """One command: the words it stands for in each language, and those it stands for with nothing after it."""

    name: str
    words: dict[Language, str]
    bare: dict[Language, str] | None = None
    hidden: bool = False
    drops_rest: bool = False
    roles: list[Role] | None = None
    """Whose menu it stands in; None: everybody's."""
    also: list[str] | None = None
    """Words that a message may begin with instead, in any language."""
    means: dict[str, list[str]] | None = None
    """What follows the command, as it is put in any language."""

    def begun(self, text: str) -> str | None:
        """What follows in a message that begins as ``also`` says; None for any other message."""
        first, _, rest = text.strip().partition(" ")
        return rest.strip() if self.also is not None and first.casefold().strip(".,:!?¡¿") in self.also else None

    def meant(self, rest: str) -> str:
        """What follows the command, in the one way that is understood."""
        words = set(rest.casefold().replace(",", " ").split())
        return next((meant for meant, ways in (self.means or {}).items() if words & set(ways)), rest)

    def said(self, rest: str, language: Language) -> str:
        """What somebody says who sends this command followed by ``rest``."""
        words = self.bare or self.words if self.drops_rest or not rest else self.words
        # Whatever language is read besides, English is understood.
        said = words.get(language, words["en"])
        return said if self.drops_rest or not rest else f"{said} {rest}"


class Written(Struct, frozen=True):
    """A command as it was written: its name, the bot it was meant for (if named), and what follows."""

    name: str
    bot: str | None
    rest: str


class _File(Struct, forbid_unknown_fields=True):
    commands: list[Command]


def load_commands() -> Mapping[str, Command]:
    """The commands by name, in the menu's order. Raises ``msgspec.ValidationError`` for a faulty file."""
    text = files("bot.channels.telegram").joinpath("commands.toml").read_text(encoding="utf-8")
    return {command.name: command for command in msgspec.convert(tomllib.loads(text), _File).commands}


def read_command(text: str) -> Written | None:
    """The command that a message is, or None where it is plain words."""
    match = _WRITTEN.fullmatch(text.strip())
    if match is None:
        return None
    name, bot, rest = match.groups()
    return Written(name.lower(), bot.lower() if bot else None, (rest or "").strip())
