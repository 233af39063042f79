"""Which kitchen somebody of several speaks with in private: the one they name or answer, else the last one.

Nothing is guessed: as long as none was named, the helper asks with a button for each and keeps the message until one
is tapped; only an emergency is taken at once. What a person last spoke with is remembered in that kitchen's records.
"""

from __future__ import annotations

import re
import unicodedata
from collections import OrderedDict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from telegram import InlineKeyboardMarkup

from bot.channels.telegram import wire
from bot.channels.telegram.addresses import AddressBook, Place, tag_of
from bot.channels.telegram.around import Around
from bot.channels.telegram.logs import went_wrong
from bot.channels.telegram.out import layout
from bot.core.messages import CREW
from bot.core.records import OutButton
from bot.store import StoreError
from bot.store.forgetting import SPOKE_LAST
from intents.types import Language

COMMAND = "/kitchen"
"""What the command says that asks which kitchen is meant."""

MOST_KEPT = 10
"""Messages of one person that wait for a kitchen."""
REMEMBERED = 500
"""People whose messages wait at once."""

Waiting = wire.Words | wire.Spoken | wire.Arrival


@dataclass(frozen=True, slots=True)
class Question:
    """What is to be asked: the text's id in the wording files, its parameters, and the kitchens to choose from."""

    user: int
    words: str
    at: Place
    places: tuple[Place, ...]

    def text(self) -> str:
        """The question, in the language of whom it goes to."""
        helper = self.at.helper
        return helper.text(self.words, language_of(self.at), {"kitchen": helper.kitchen.name})

    def keyboard(self) -> InlineKeyboardMarkup | None:
        """A button for each kitchen."""
        rows = [layout([OutButton(p.helper.kitchen.name, wire.CHOOSE)], tag_of(p.helper)) for p in self.places]
        return InlineKeyboardMarkup([row for made in rows if made is not None for row in made.inline_keyboard])


class Kitchens:
    """Where each private message goes."""

    def __init__(self, book: AddressBook) -> None:
        self._book = book
        self._last: dict[int, Place] = {}
        self._waiting: OrderedDict[int, list[tuple[Waiting, Around]]] = OrderedDict()

    def sort(self, event: wire.Event, around: Around, now: datetime) -> tuple[wire.Event, Question | None]:
        """The event in its kitchen, and what is to be asked besides; ``Nothing`` where it waits for the answer."""
        user = around.user
        kinds = wire.Words | wire.Spoken | wire.Tap | wire.Arrival
        if user is None or not isinstance(event, kinds) or event.place.chat == CREW:
            return event, None
        places = self._book.private_places(user)
        wants_to_choose = isinstance(event, wire.Words) and event.text == COMMAND
        if len(places) < 2:
            if wants_to_choose:
                return wire.Nothing(), Question(user, "kitchens.only", event.place, ())
            return event, None
        last = self._known(user, places)
        if wants_to_choose:
            words = "kitchens.which" if last is None else "kitchens.which_now"
            return wire.Nothing(), Question(user, words, last or places[0], places)
        if isinstance(event, wire.Tap):
            self._speaks(user, event.place, last, now)
            return event, None
        return self._place(user, event, around, places, last, now)

    def chosen(self, user: int, place: Place, now: datetime) -> tuple[tuple[Waiting, Around], ...]:
        """Somebody chose a kitchen; gives what they said before, to be taken there now."""
        self._speaks(user, place, self._known(user, self._book.private_places(user)), now)
        return tuple((replace(event, place=place), around) for event, around in self._waiting.pop(user, ()))

    def _place(
        self,
        user: int,
        event: Waiting,
        around: Around,
        places: Sequence[Place],
        last: Place | None,
        now: datetime,
    ) -> tuple[wire.Event, Question | None]:
        text = said_in(event)
        meant = [p for p in places if names(text, p.helper.kitchen.name)]
        if len(meant) != 1:
            meant = [p for p in places if tag_of(p.helper) == around.tag] or [p for p in places if p == last]
        urgent = bool(text) and places[0].helper.is_urgent(places[0].sender, text)
        if not meant and not urgent:
            self._keep(user, event, around)
            return wire.Nothing(), Question(user, "kitchens.which", places[0], tuple(places))
        place = meant[0] if meant else places[0]
        if meant:
            self._speaks(user, place, last, now)
        event = replace(event, place=place)
        if isinstance(event, wire.Words) and names(text, place.helper.kitchen.name):
            rest = without(text, place.helper.kitchen.name)
            if not rest:
                return wire.KitchenChosen(place, ""), None
            event = replace(event, text=rest)
        if not urgent:
            return event, None
        # Whoever calls for help doesn't think of which kitchen was last; a tap raises it in the right one as well.
        self._keep(user, event, around)
        return event, Question(user, "kitchens.urgent", place, tuple(p for p in places if p != place))

    def _known(self, user: int, places: Iterable[Place]) -> Place | None:
        here = list(places)
        last = self._last.get(user)
        if last in here:
            return last
        times = [(at, n) for n, p in enumerate(here) if (at := p.helper.remembered(_key(p))) is not None]
        return here[max(times)[1]] if times else None

    def _speaks(self, user: int, place: Place, last: Place | None, now: datetime) -> None:
        self._last[user] = place
        if place == last:
            return
        try:
            place.helper.remember(_key(place), now)
        except StoreError as error:  # it is known until the next start, and asked for then
            went_wrong("choice_unsaved", error)

    def _keep(self, user: int, event: Waiting, around: Around) -> None:
        kept = self._waiting.setdefault(user, [])
        self._waiting.move_to_end(user)
        if len(kept) == MOST_KEPT:
            del kept[0]
        kept.append((event, around))
        if len(self._waiting) > REMEMBERED:
            self._waiting.popitem(last=False)


def said_in(event: wire.Event) -> str:
    """The words of a message or a voice note; empty for anything else."""
    match event:
        case wire.Words(text=text):
            return text
        case wire.Spoken(heard=heard):
            return heard.text
        case _:
            return ""


def language_of(place: Place) -> Language:
    """The language in which somebody is written to by the door itself."""
    person = place.helper.kitchen.person(place.sender)
    return person.language if person is not None else place.helper.kitchen.language


def names(text: str, kitchen: str) -> bool:
    """Whether a text names a kitchen, whole; case and accents don't matter."""
    return bool(kitchen.strip()) and _pattern(kitchen).search(_plain(text)) is not None


def without(text: str, kitchen: str) -> str:
    """The text without the kitchen's name and the marks around it."""
    plain = _plain(text)
    if len(plain) != len(text):
        return text if _pattern(kitchen).sub("", plain).strip(" ,.:;-") else ""
    match = _pattern(kitchen).search(plain)
    if match is None:
        return text
    return f"{text[: match.start()].rstrip(' ,:;-')} {text[match.end() :].lstrip(' ,.:;-')}".strip()


def _pattern(kitchen: str) -> re.Pattern[str]:
    return re.compile(rf"(?<!\w){re.escape(_plain(kitchen).strip())}(?!\w)")


def _plain(text: str) -> str:
    folded = unicodedata.normalize("NFD", unicodedata.normalize("NFC", text).lower())
    return "".join(c for c in folded if not unicodedata.combining(c))


def _key(place: Place) -> str:
    return f"{SPOKE_LAST}{place.sender}|"
