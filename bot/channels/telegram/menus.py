"""The menus of commands: one for everybody in each language, and for some people one of their own.

A menu of their own has whoever may do more than everybody, and whoever chose a language; the phone's own language
decides for the rest. (Public Bot API documentation: setMyCommands, deleteMyCommands, BotCommandScopeChat.)
"""

from __future__ import annotations

import asyncio
from collections.abc import Iterable, Mapping

from telegram import Bot, BotCommand, BotCommandScopeChat
from telegram.error import BadRequest, Forbidden

from bot.channels.port import Helper
from bot.channels.telegram.addresses import AddressBook, same
from bot.channels.telegram.commands import Command
from bot.channels.telegram.line import Line
from bot.channels.telegram.logs import happened
from bot.content.languages import ENGLISH, OTHERS
from bot.core.kitchen import Kitchen, Person, Role
from intents.types import Language

LANGUAGES: Mapping[str, Language] = {"": ENGLISH} | {code: code for code in OTHERS}
"""Everybody's menus: Telegram's codes, "" for everybody else, and ours."""

Wanted = tuple[tuple[str, str], ...]
"""Names and descriptions of commands; empty for a person who needs no menu of their own."""


class Menus:
    """Keeps the menus true. What is set is remembered; a start sets all anew, for they may have changed meanwhile."""

    def __init__(self, bot: Bot, line: Line, book: AddressBook, commands: Mapping[str, Command]) -> None:
        self._bot = bot
        self._line = line
        self._book = book
        self._commands = commands
        self._set: dict[int, Wanted] = {}
        self._read: tuple[Kitchen, ...] = ()
        self._busy = asyncio.Lock()

    async def open(self) -> None:
        """Set everybody's menus, then those of single people."""
        for code, language in LANGUAGES.items():
            menu = _menu(self._wanted(self._book.helpers[0], None, language))
            await self._line.call(
                lambda menu=menu, code=code: self._bot.set_my_commands(menu, language_code=code)  # type: ignore[misc]
            )
        await self.sync()

    async def sync(self) -> None:
        """Set the menus of those for whom another one is right by now."""
        async with self._busy:
            wanted = self.wanted()
            for user in [*wanted, *(user for user in self._set if user not in wanted)]:
                menu = wanted.get(user, ())
                if self._set.get(user, ()) == menu:
                    continue
                await self._give(user, menu)
                self._set[user] = menu

    @property
    def stale(self) -> bool:
        """Whether people have come, gone or changed since this was last asked."""
        kitchens = self._book.kitchens
        changed = not same(kitchens, self._read)
        self._read = kitchens
        return changed

    def wanted(self) -> dict[int, Wanted]:
        """Who is to have a menu of their own, by their number, and what stands in it."""
        found: dict[int, Wanted] = {}
        roles: dict[int, list[Role]] = {}
        for helper in self._book.helpers:
            for person in helper.kitchen.people:
                if person.telegram is not None:
                    roles.setdefault(person.telegram, []).append(person.role)
                    if self._is_own(helper, person):
                        language = helper.language_of(person.id)
                        found[person.telegram] = self._wanted(helper, roles[person.telegram], language)
        return found

    def _is_own(self, helper: Helper, person: Person) -> bool:
        more = any(c.roles is not None and person.role in c.roles and not c.hidden for c in self._commands.values())
        return more or helper.language_of(person.id) != person.language

    def _wanted(self, helper: Helper, roles: Iterable[Role] | None, language: Language) -> Wanted:
        theirs = set(roles or ())
        return tuple(
            (command.name, helper.text(f"command.{command.name}", language))
            for command in self._commands.values()
            if not command.hidden and (command.roles is None or theirs & set(command.roles))
        )

    async def _give(self, user: int, wanted: Wanted) -> None:
        scope = BotCommandScopeChat(user)
        try:
            if wanted:
                await self._line.call(lambda: self._bot.set_my_commands(_menu(wanted), scope=scope))
            else:
                await self._line.call(lambda: self._bot.delete_my_commands(scope=scope))
        except (BadRequest, Forbidden) as error:  # a chat that was never begun, or is blocked: they miss a menu
            happened("menu_not_set", error=type(error).__name__)


def _menu(wanted: Wanted) -> list[BotCommand]:
    return [BotCommand(name, description) for name, description in wanted]
