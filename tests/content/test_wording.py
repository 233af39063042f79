"""Texts by id become lines for people; a text that is missing in one language stops the start."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import msgspec
import pytest
from hypothesis import given, strategies as st

from bot.content.duty_kinds import load_duty_kinds
from bot.content.formats import load_formats
from bot.content.kitchen_file import kitchen_of
from bot.content.toml_lines import parse_toml
from bot.content.wording import UnknownWordsError, Wording, load_wording
from bot.core.kitchen import Kitchen
from bot.core.messages import Button, Reply, Words
from intents.types import Language
from tests.content.contentkit import KITCHEN, findings_of, line_of

FORMATS = load_formats()
NEW_YORK = kitchen_of(parse_toml(KITCHEN, "k"), load_duty_kinds())
MADRID = msgspec.structs.replace(NEW_YORK, timezone="Europe/Madrid", service_contact="Taller, 555 0100")
NOW = datetime(2026, 9, 15, 22, 0, tzinfo=ZoneInfo("America/New_York"))

EN = """\
[a]
plain = "hello {name}. {what} is next. – {what}: {what}"
due = "it was due {at:when}."
until = "until {at:the}"
drops = { one = "{n} drop", other = "{n} drops" }
list = "ask {who}"
nest = "logged: {what}"
dash = "– {what}"
ask = "what? {what}"
none = "write {{no}} name"
length = "{length} or {length:long}"
"""
ES = """\
[a]
plain = "hola, {name}. {what} sigue. – {what}: {what}"
due = "tocaba {at:when}."
until = "hasta {at:the}"
drops = { one = "{n} tanda", other = "{n} tandas" }
list = "pregunta a {who}"
nest = "anotado: {what}"
dash = "– {what}"
ask = "¿qué? ¿{what}?"
none = "sin {{nada}}"
length = "{length} o {length:long}"
"""
GUIDE = {
    "en": {"guide.x/step.1": "Wait {cool_down}. Call {service_contact} or {emergency_number}."},
    "es": {"guide.x/step.1": "Espera {cool_down}. Llama a {service_contact} o al {emergency_number}."},
}


def loaded(folder: Path, en: str = EN, es: str = ES) -> Wording:
    (folder / "en.toml").write_text(en, encoding="utf-8")
    (folder / "es.toml").write_text(es, encoding="utf-8")
    return load_wording(folder, GUIDE, FORMATS)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def wording(tmp_path_factory: pytest.TempPathFactory) -> Wording:
    return loaded(tmp_path_factory.mktemp("wording"))


def say(wording: Wording, words_id: str, language: Language = "en", **params: Any) -> str:
    return wording.render(Words(words_id, params), language, NEW_YORK, NOW)


def test_a_line_and_each_sentence_in_it_begin_with_a_capital(wording: Wording) -> None:
    words = say(wording, "a.plain", name="Ben", what="pad change")
    assert words == "Hello Ben. Pad change is next. – pad change: pad change"


def test_a_capital_stands_behind_a_dash_and_an_opening_question_mark(wording: Wording) -> None:
    assert say(wording, "a.dash", what="óleo") == "– Óleo"
    assert say(wording, "a.ask", "es", what="ésta") == "¿Qué? ¿Ésta?"


def test_a_line_that_begins_with_a_figure_stays_as_it_is(wording: Wording) -> None:
    assert say(wording, "a.drops", n=2) == "2 drops"


def test_words_within_words_are_rendered_in_the_same_language(wording: Wording) -> None:
    inner = Words("a.drops", {"n": 1})
    assert say(wording, "a.nest", what=inner) == "Logged: 1 drop"
    assert say(wording, "a.nest", "es", what=inner) == "Anotado: 1 tanda"


@pytest.mark.parametrize(("n", "words"), [(0, "0 drops"), (1, "1 drop"), (1.0, "1 drop"), (1500, "1,500 drops")])
def test_the_plural_goes_by_n(wording: Wording, n: float, words: str) -> None:
    assert say(wording, "a.drops", n=n) == words


def test_instants_are_told_in_the_kitchens_zone_and_style(wording: Wording) -> None:
    at = (NOW - timedelta(minutes=30)).astimezone(UTC)
    words = Words("a.due", {"at": at})
    assert wording.render(words, "en", NEW_YORK, NOW) == "It was due at 9:30 pm."
    assert wording.render(words, "en", MADRID, NOW) == "It was due at 03:30."
    assert wording.render(words, "es", MADRID, NOW) == "Tocaba a las 03:30."


def test_yesterday_is_that_of_the_kitchen_not_of_the_server(wording: Wording) -> None:
    at = datetime(2026, 9, 15, 3, 30, tzinfo=UTC)
    assert wording.render(Words("a.until", {"at": at}), "en", NEW_YORK, NOW) == "Until yesterday 11:30 pm"
    # 22:00 in New York is 04:00 of the 16th in Madrid, so that the 15th is over there.
    assert wording.render(Words("a.until", {"at": at}), "en", MADRID, NOW) == "Until yesterday 05:30"


def test_an_abbreviation_at_the_end_of_a_sentence_has_one_full_stop(wording: Wording) -> None:
    assert say(wording, "a.due", "es", at=NOW) == "Tocaba a las 10:00 p. m."


def test_lists_of_anything_are_joined(wording: Wording) -> None:
    who = ("Ben", Words("a.drops", {"n": 3}), date(2026, 9, 15))
    assert say(wording, "a.list", who=who) == "Ask Ben, 3 drops and Tue 15 Sep"
    assert say(wording, "a.list", "es", who=["Ben", "Inés"]) == "Pregunta a Ben e Inés"


def test_lengths_are_told_shortly_or_in_full(wording: Wording) -> None:
    assert say(wording, "a.length", length=timedelta(minutes=90)) == "1 h 30 min or 1 hour 30 minutes"


def test_braces_may_be_doubled_to_stand_for_themselves(wording: Wording) -> None:
    assert say(wording, "a.none") == "Write {no} name"


def test_braces_in_what_people_wrote_are_left_alone(wording: Wording) -> None:
    assert say(wording, "a.nest", what="{name} {0}") == "Logged: {name} {0}"


def test_guides_are_filled_with_the_kitchens_own_figures(wording: Wording) -> None:
    step = Words("guide.x/step.1")
    assert wording.render(step, "en", MADRID, NOW) == "Wait 30 minutes. Call Taller, 555 0100 or 911."
    assert wording.render(step, "es", NEW_YORK, NOW) == "Espera 30 minutos. Llama a tu servicio técnico o al 911."


def test_a_reply_is_rendered_whole(wording: Wording) -> None:
    buttons = (Button(Words("a.drops", {"n": 1}), "x"), Button(Words("a.dash", {"what": "go"}), "y"))
    reply = Reply("ben", "reply", (Words("a.drops", {"n": 2}), Words("a.nest", {"what": "z"})), buttons)
    assert wording.render_reply(reply, "en", NEW_YORK, NOW) == ("2 drops\nLogged: z", ("1 drop", "– Go"))


@pytest.mark.parametrize(("words_id", "params"), [("a.nothing", {}), ("a.nest", {}), ("a.plain", {"name": "Ben"})])
def test_a_text_that_is_not_there_or_not_filled_is_an_error_of_the_program(
    wording: Wording, words_id: str, params: dict[str, Any]
) -> None:
    with pytest.raises(UnknownWordsError):
        say(wording, words_id, **params)


@pytest.mark.parametrize("value", [True, None, object(), {"a": 1}])
def test_what_can_not_be_put_into_words_is_refused(wording: Wording, value: object) -> None:
    with pytest.raises(TypeError):
        say(wording, "a.nest", what=value)


def test_a_time_without_a_zone_is_refused(wording: Wording) -> None:
    with pytest.raises(ValueError, match="without a zone"):
        say(wording, "a.due", at=datetime(2026, 9, 15))  # noqa: DTZ001 - that is the point


FAULTS = [
    ("en", 'nest = "logged: {what}"\n', "", None, 'the text "a.nest" is missing', "es.toml"),
    ("es", 'nest = "anotado: {what}"\n', "", None, 'the text "a.nest" is missing', "en.toml"),
    ("es", "anotado: {what}", "anotado: {que}", "anotado", "{que}, {what} stands in one language only", ""),
    ("es", "anotado: {what}", "anotado: {what", "anotado", "the braces don't match", "{name}"),
    ("en", "{at:the}", "{at:on}", "until", "{at:on} is no placeholder", "{name:when}"),
    ("en", "{who}", "{who.name}", "ask {who", "{who.name} is no placeholder", ""),
    ("en", "{who}", "{who!r}", "ask {who", "{who!r} is no placeholder", ""),
    (
        "es",
        '{ one = "{n} tanda", other = "{n} tandas" }',
        '"{n} tandas"',
        "tandas",
        "only one language has a plural",
        "",
    ),
    ("es", 'one = "{n} tanda", ', "", "tandas", "needs both forms", "one ="),
    ("en", 'list = "ask {who}"', "list = 5", "list", "must be a text", "in quotes"),
    ("en", 'list = "ask {who}"', 'list = ""', "list", "blank", "fill it in"),
]


@pytest.mark.parametrize(("file", "old", "new", "piece", "what", "todo"), FAULTS)
def test_a_fault_in_the_wording_stops_the_start(
    tmp_path: Path, file: str, old: str, new: str, piece: str | None, what: str, todo: str
) -> None:
    texts = {"en": EN, "es": ES}
    assert old in texts[file]
    texts[file] = texts[file].replace(old, new, 1)
    found = findings_of(loaded, tmp_path, texts["en"], texts["es"])
    where, line = str(tmp_path / f"{file}.toml"), line_of(texts[file], piece) if piece is not None else 1
    assert any(f.file == where and f.line == line and what in f.what and todo in f.todo for f in found), [
        str(f) for f in found
    ]


def test_a_missing_language_is_a_finding(tmp_path: Path) -> None:
    (tmp_path / "en.toml").write_text(EN, encoding="utf-8")
    (found,) = findings_of(load_wording, tmp_path, {}, FORMATS)
    assert found.file == str(tmp_path / "es.toml")


EARLIEST, LATEST = datetime(1990, 1, 1), datetime(2090, 1, 1)  # noqa: DTZ001 - the strategy adds the zones

values = st.recursive(
    st.text()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.datetimes(EARLIEST, LATEST, timezones=st.timezones())
    | st.dates()
    | st.timedeltas(timedelta(0), timedelta(days=9999)),
    lambda inner: st.lists(inner, max_size=4).map(tuple) | inner.map(lambda what: Words("a.nest", {"what": what})),
    max_leaves=6,
)


@given(values, st.sampled_from(["en", "es"]), st.sampled_from([NEW_YORK, MADRID]))
def test_whatever_may_fill_a_text_can_be_put_into_words(
    wording: Wording, what: Any, language: Language, kitchen: Kitchen
) -> None:
    words = wording.render(Words("a.nest", {"what": what}), language, kitchen, NOW)
    assert words.startswith("Logged: " if language == "en" else "Anotado: ")
