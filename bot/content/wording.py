"""Texts by id in every language, and their rendering: the only place where a reply becomes words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from bot.content.fields import Fault, text
from bot.content.findings import ContentError, Finding, collected
from bot.content.formats import TIME_MANNERS, Formats, Speech, Style, number
from bot.content.languages import LANGUAGES, OTHERS
from bot.content.templates import Slot, Template, template
from bot.content.toml_lines import Document, KeyPath, read_toml
from bot.core.kitchen import Kitchen
from bot.core.messages import Reply, Words
from intents.types import Language

DUTY = "duty."
"""How the ids of duties' names begin."""
PLURAL = frozenset({"one", "other"})


class UnknownWordsError(LookupError):
    """The program asked for a text that isn't there, or left a placeholder of it unfilled."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One text; ``one`` is its singular where it has one, chosen where the parameter ``n`` is 1."""

    other: Template
    one: Template | None = None

    @property
    def names(self) -> frozenset[str]:
        """The names of all its placeholders."""
        return self.other.names | (self.one.names if self.one is not None else frozenset())


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a text is to be read, and by whom."""

    speech: Speech
    style: Style
    zone: ZoneInfo
    today: date
    language: Language
    kitchen: Kitchen


class Wording:
    """Every text there is. Built by ``load_wording``; both languages have the same ids and placeholders."""

    def __init__(self, entries: Mapping[Language, Mapping[str, Entry]], formats: Formats) -> None:
        self._entries = entries
        self._formats = formats
        self._last: tuple[datetime, _Place] | None = None

    @property
    def ids(self) -> frozenset[str]:
        """The ids of all texts."""
        return frozenset(self._entries["en"])

    def placeholders(self, words_id: str) -> frozenset[str]:
        """The names that a text leaves to be filled. Raises ``UnknownWordsError``."""
        return self._entry(words_id, "en").names

    def is_plural(self, words_id: str) -> bool:
        """Whether a text has a singular and a plural. Raises ``UnknownWordsError``."""
        return self._entry(words_id, "en").one is not None

    def render(self, words: Words, language: Language, kitchen: Kitchen, now: datetime) -> str:
        """A line of text in a language, as of ``now``, with the kitchen's clock and numbers.

        Raises ``UnknownWordsError`` for an id that isn't there or a placeholder that isn't filled, ``TypeError``
        for a parameter that can't be put into words, ``ValueError`` for a time without a zone.
        """
        return _capitalised(self._words(words, self._place(language, kitchen, now)))

    def render_reply(
        self, reply: Reply, language: Language, kitchen: Kitchen, now: datetime
    ) -> tuple[str, tuple[str, ...]]:
        """A reply's text, a line for each of its lines, and the labels of its buttons. Raises as ``render``."""
        lines = [self.render(words, language, kitchen, now) for words in reply.lines]
        labels = tuple(self.render(button.label, language, kitchen, now) for button in reply.buttons)
        return "\n".join(lines), labels

    def _place(self, language: Language, kitchen: Kitchen, now: datetime) -> _Place:
        """Where it is read. Nearly always where the line before was read."""
        if self._last is not None:
            then, place = self._last
            if (then is now or then == now) and place.language == language and place.kitchen is kitchen:
                return place
        zone = ZoneInfo(kitchen.timezone)
        speech, style = self._formats.speech[language], self._formats.style(kitchen.timezone)
        place = _Place(speech, style, zone, now.astimezone(zone).date(), language, kitchen)
        self._last = now, place
        return place

    def _entry(self, words_id: str, language: Language) -> Entry:
        try:
            return self._entries[language][words_id]
        except KeyError:
            raise UnknownWordsError(f'no text "{words_id}" in "{language}"') from None

    def _words(self, words: Words, place: _Place) -> str:
        if words.id.startswith(DUTY) and words.id not in self._entries[place.language]:
            return _own_duty(words.id.removeprefix(DUTY), place)
        entry = self._entry(words.id, place.language)
        chosen = entry.one if entry.one is not None and words.params.get("n") == 1 else entry.other
        if len(chosen.parts) == 1 and isinstance(chosen.parts[0], str):
            return chosen.parts[0]
        out = ""
        for part in chosen.parts:
            if isinstance(part, str):
                # An abbreviation's full stop ("p. m.") is the sentence's too.
                out += part[1:] if part.startswith(".") and not part.startswith("..") and out.endswith(".") else part
            else:
                value = self._slot(part, words, place)
                out += _capitalised(value) if part.starts_sentence else value
        return out

    def _slot(self, slot: Slot, words: Words, place: _Place) -> str:
        if slot.name in words.params:
            return self._value(words.params[slot.name], slot.manner, place)
        match slot.name:
            case "cool_down":
                # In full words: guides are read aloud.
                return self._value(place.kitchen.cool_down, slot.manner or "long", place)
            case "emergency_number":
                return place.kitchen.emergency_number
            case "service_contact":
                return place.kitchen.service_contact or place.speech.no_service_contact
            case _:
                raise UnknownWordsError(f'the text "{words.id}" lacks its {{{slot.name}}}')

    def _value(self, value: Any, manner: str, place: _Place) -> str:
        match value:
            case str():
                return value
            case Words():
                return self._words(value, place)
            case bool() | None:
                raise TypeError(f"{value!r} can't be put into words")
            case int() | float():
                return number(value, place.style)
            case datetime():
                if value.tzinfo is None:
                    raise ValueError(f"a time without a zone: {value}")
                how = manner if manner in TIME_MANNERS else "plain"
                return place.speech.moment(value.astimezone(place.zone), place.today, place.style, how)
            case date():
                return place.speech.day(value, place.today)
            case timedelta():
                return place.speech.length(value, long=manner == "long")
            case tuple() | list():
                joining = place.speech.any_of if manner == "or" else place.speech.all_of
                return joining.put([self._value(item, manner, place) for item in value])
            case _:
                raise TypeError(f"a {type(value).__name__} can't be put into words")


def load_wording(folder: Path, extra: Mapping[Language, Mapping[str, str]], formats: Formats) -> Wording:
    """The texts of ``folder`` (``en.toml``, ``es.toml``), with those of guides and the like in ``extra``.

    Raises ``ContentError`` with every fault: a text in one language only, or with other placeholders there.
    """
    findings: list[Finding] = []
    documents: dict[Language, Document] = {}
    entries: dict[Language, dict[str, Entry]] = {language: {} for language in LANGUAGES}
    places: dict[Language, dict[str, KeyPath]] = {language: {} for language in LANGUAGES}
    for language in LANGUAGES:
        with collected(findings):
            documents[language] = read_toml(folder / f"{language}.toml")
    for language, document in documents.items():
        for words_id, path, value in _flattened(document.data, ()):
            places[language][words_id] = path
            entry = _read(document, path, value, findings)
            if entry is not None:
                entries[language][words_id] = entry
    if len(documents) == len(LANGUAGES):
        findings.extend(_differences(documents, entries, places))
    for language, texts in extra.items():
        entries[language].update({words_id: Entry(template(said)) for words_id, said in texts.items()})
    if findings:
        raise ContentError(findings)
    return Wording(entries, formats)


def _flattened(data: Mapping[str, Any], path: KeyPath) -> Iterator[tuple[str, KeyPath, Any]]:
    for key, value in data.items():
        here = (*path, key)
        if isinstance(value, Mapping) and not (value and set(value) <= PLURAL):
            yield from _flattened(value, here)
        else:
            yield ".".join(map(str, here)), here, value


def _read(document: Document, path: KeyPath, value: Any, findings: list[Finding]) -> Entry | None:
    try:
        if not isinstance(value, Mapping):
            return Entry(template(text(value)))
        if set(value) != PLURAL:
            raise Fault("a text with a plural needs both forms", 'write { one = "...", other = "..." }')
        return Entry(template(text(value["other"])), template(text(value["one"])))
    except Fault as fault:
        findings.append(Finding(document.file, document.line(*path), fault.what, fault.todo))
        return None


def _differences(
    documents: Mapping[Language, Document],
    entries: Mapping[Language, Mapping[str, Entry]],
    places: Mapping[Language, Mapping[str, KeyPath]],
) -> Iterator[Finding]:
    every_id = sorted({words_id for known in places.values() for words_id in known})
    for words_id in every_id:
        for language in LANGUAGES:
            if words_id not in places[language]:
                elsewhere = next(other for other in LANGUAGES if words_id in places[other])
                yield Finding(
                    documents[language].file,
                    documents[language].line(*places[elsewhere][words_id]),
                    f'the text "{words_id}" is missing',
                    f"write it, as in {documents[elsewhere].file}",
                )
        english = entries["en"].get(words_id)
        for language in OTHERS:
            other = entries[language].get(words_id)
            if english is None or other is None:
                continue
            at = documents[language].file, documents[language].line(*places[language][words_id])
            if english.names != other.names:
                odd = ", ".join(f"{{{name}}}" for name in sorted(english.names ^ other.names))
                yield Finding(*at, f"{odd} stands in one language only", "use the same placeholders as in English")
            if (english.one is None) != (other.one is None):
                yield Finding(*at, "only one language has a plural here", "write one and other in both")


def _own_duty(duty_id: str, place: _Place) -> str:
    """What the kitchen calls a duty of its own; its id, for one that has left the kitchen file since."""
    duty = place.kitchen.duty(duty_id)
    return (duty.called(place.language) if duty is not None else None) or duty_id.replace("_", " ")


def _capitalised(line: str) -> str:
    if line[:1].isupper():
        return line
    for place, sign in enumerate(line):
        if sign.isalpha():
            return line[:place] + sign.upper() + line[place + 1 :]
        if sign.isalnum():
            return line
    return line
