"""What the words of a message state: fryers, times, amounts, duties, notes."""

from __future__ import annotations

import pytest

from intents.prepare import spelt_out
from intents.slots.duties import duties_of
from intents.slots.fryers import Fryers
from intents.slots.notes import note_in, note_text
from intents.slots.numbers import number_at
from intents.slots.read import Stated, read

KITCHEN = Fryers(
    {
        "1": ["fries fryer", "freidora de papas"],
        "2": ["falafel fryer", "freidora de falafel"],
        "3": ["doughnut fryer", "freidora de donas"],
    }
)


def stated(text: str) -> Stated:
    return read(spelt_out(text), KITCHEN)


def fryers(text: str) -> list[str | None]:
    return [named.id for named in stated(text).fryers]


@pytest.mark.parametrize(
    ("words", "value"),
    [
        ("20", 20), ("20.5", 20.5), ("twenty two", 22), ("twenty and a half", 20.5), ("three fifty", 350),
        ("one hundred and seventy four", 174), ("three hundred fifty", 350), ("twenty point five", 20.5),
        ("diecisiete", 17), ("treinta y cinco", 35), ("trescientos cincuenta", 350), ("ciento setenta y cuatro", 174),
        ("veinte y medio", 20.5), ("22 y medio", 22.5),
    ],
)  # fmt: skip
def test_a_number_is_read_in_digits_and_in_words(words: str, value: float) -> None:
    parts = words.split()
    number = number_at(parts, 0)
    assert number is not None
    assert (number.value, number.end) == (value, len(parts))


def test_two_numbers_side_by_side_stay_two() -> None:
    first = number_at(["one", "and", "three"], 0)
    assert first is not None
    assert (first.value, first.end) == (1, 1)


@pytest.mark.parametrize(
    ("text", "ids"),
    [
        ("fryer 2 is cold", ["2"]), ("vat two is cold", ["2"]), ("number three", ["3"]), ("#1 is done", ["1"]),
        ("the second fryer", ["2"]), ("the third one won't drain", ["3"]), ("la segunda freidora", ["2"]),
        ("fire two is cold", ["2"]), ("2 won't drain", ["2"]), ("pad done on 3", ["3"]),
        ("pads on 1 and 3", ["1", "3"]),
        ("pads on one and three", ["1", "3"]), ("on 1, 2 and 3", ["1", "2", "3"]),
        ("the falafel pot", ["2"]), ("the donut one", ["3"]), ("the fries vat", ["1"]), ("la de papas", ["1"]),
        ("freidora de las donas", ["3"]), ("la olla de falafel", ["2"]), ("la dos no calienta", ["2"]),
        ("freidora número tres", ["3"]), ("el pad de la uno", ["1"]),
    ],
)  # fmt: skip
def test_a_fryer_is_named_by_number_word_place_or_food(text: str, ids: list[str]) -> None:
    assert fryers(text) == ids


@pytest.mark.parametrize(
    "text",
    [
        "2 baskets of fries", "in 2 minutes", "table 3", "step 2", "3 pads left", "set it to 350",
        "2 people called in",
        "which one is it", "the fryer one", "one more time", "two of us", "la mesa 3", "3 canastas", "paso 2",
        "no one did it", "la primera vez",
    ],
)  # fmt: skip
def test_a_number_that_counts_something_is_no_fryer(text: str) -> None:
    assert fryers(text) == []


def test_a_fryer_the_kitchen_lacks_keeps_the_name_it_was_given() -> None:
    (named,) = stated("pad done on fryer 9").fryers
    assert (named.id, named.said) == (None, "9")


@pytest.mark.parametrize("text", ["on all three", "every fryer", "todas las freidoras"])
def test_all_fryers_at_once(text: str) -> None:
    assert stated(f"pads changed {text}").all_fryers is not None


@pytest.mark.parametrize(
    ("text", "clock", "vague"),
    [
        ("at 10pm", "22:00", False), ("at 9:15 am", "09:15", False), ("at 16:30", "16:30", False),
        ("half past nine", "21:30", True), ("quarter to 8 pm", "19:45", False), ("at noon", "12:00", False),
        ("midnight", "00:00", False), ("at 4", "16:00", True), ("at four thirty in the afternoon", "16:30", False),
        ("this morning at 8", "08:00", False), ("last night at 11", "23:00", False), ("9 o'clock", "21:00", True),
        ("a las 10 y media de la noche", "22:30", False), ("a las cuatro y media", "16:30", True),
        ("a las 4 de la tarde", "16:00", False), ("a las 9 de la mañana", "09:00", False),
        ("anoche a las 11", "23:00", False), ("a las 12 de la noche", "00:00", False),
        ("a las nueve menos cuarto de la noche", "20:45", False), ("al mediodía", "12:00", False),
    ],
)  # fmt: skip
def test_a_clock_time(text: str, clock: str, vague: bool) -> None:
    (found,) = stated(f"filtered {text}").clocks
    assert (found.text, found.vague) == (clock, vague)


@pytest.mark.parametrize(
    "text", ["at 350", "set to 350 degrees", "20 minutes", "5 batches", "fryer 1 tonight", "2 hours"]
)
def test_what_is_no_clock_time(text: str) -> None:
    assert stated(text).clocks == ()


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("remind me in 20", 20), ("snooze 15 mins", 15), ("in half an hour", 30), ("in an hour and a half", 90),
        ("in 2 hours", 120), ("in 1 hour and 20 minutes", 80), ("en media hora", 30), ("en hora y media", 90),
        ("recuérdame en 10", 10), ("en veinte minutos", 20), ("en un cuarto de hora", 15),
    ],
)  # fmt: skip
def test_a_length_of_time_in_minutes(text: str, minutes: int) -> None:
    (found,) = stated(text).lengths
    assert (found.minutes, found.ago) == (minutes, False)


@pytest.mark.parametrize("text", ["filtered 20 minutes ago", "hace 20 minutos"])
def test_a_length_that_counts_back(text: str) -> None:
    (found,) = stated(text).lengths
    assert (found.minutes, found.ago) == (20, True)


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("22%", 22, "percent"), ("twenty and a half percent", 20.5, "percent"), ("17 por ciento", 17, "percent"),
        ("375F", 375, "F"), ("one seventy four celsius", 174, "C"), ("177 grados centígrados", 177, "C"),
        ("348 degrees fahrenheit", 348, "F"), ("360 degrees", 360, None), ("quince tandas", 15, None),
        ("5 batches", 5, None),
    ],
)  # fmt: skip
def test_an_amount_has_the_unit_that_is_said(text: str, value: float, unit: str | None) -> None:
    (found,) = stated(text).amounts
    assert (found.value, found.unit) == (value, unit)


@pytest.mark.parametrize(
    ("text", "days"), [("done today", 0), ("did it last night", 1), ("lo hice ayer", 1), ("pad changed", None)]
)
def test_days_back(text: str, days: int | None) -> None:
    assert stated(text).days_ago == days


@pytest.mark.parametrize(
    ("text", "part"),
    [("the high limit", "high_limit"), ("límite alto", "high_limit"), ("the pump motor", "pump"), ("la bomba", "pump")],
)
def test_the_protective_device(text: str, part: str) -> None:
    assert stated(text).part == part


@pytest.mark.parametrize(
    ("text", "duty"),
    [
        ("changed the pad", "pad_change"), ("cambié el papel", "pad_change"),
        ("filtered between rushes", "midshift_filter"), ("filtrado rápido", "midshift_filter"),
        ("closing filter done", "closing_filter"), ("filtrado de cierre", "closing_filter"),
        ("swapped the jug", "reservoir_swap"), ("cambié el bidón", "reservoir_swap"),
        ("new o-rings on", "seal_replacement"), ("puse empaques nuevos", "seal_replacement"),
        ("boil out finished", "boil_out"), ("hervimos la olla", "boil_out"),
        ("changed the oil", "oil_change"), ("tiramos el aceite viejo", "oil_change"),
        ("tested the oil", "oil_test"), ("prueba de aceite hecha", "oil_test"),
        ("washed the hood filters", "hood_filters"), ("lavé la campana", "hood_filters"),
        ("thermometer checked in ice", "thermometer_check"), ("calibré el termómetro en hielo", "thermometer_check"),
        ("fire check done", "fire_check"), ("revisé el extintor", "fire_check"),
    ],
)  # fmt: skip
def test_a_duty_is_known_by_its_words(text: str, duty: str) -> None:
    assert duties_of(spelt_out(text)) == (duty,)


def test_several_duties_in_one_message() -> None:
    assert duties_of(spelt_out("pad and closing filter done")) == ("pad_change", "closing_filter")


@pytest.mark.parametrize(
    ("text", "note"),
    [
        ("leave a note: basket handle on 1 is loose", "basket handle on 1 is loose"),
        ("Note for the morning crew - we're low on Pads", "we're low on Pads"),
        ("deja una nota para el turno de la mañana: falta pan", "falta pan"),
    ],
)
def test_a_note_keeps_the_words_as_they_were_written(text: str, note: str) -> None:
    words = spelt_out(text)
    found = note_in(words)
    assert found is not None
    assert note_text(text, len(words) - found.start) == note


@pytest.mark.parametrize("text", ["leave a note", "who left the note", "pad changed"])
def test_no_note_without_its_text(text: str) -> None:
    assert note_in(spelt_out(text)) is None


@pytest.mark.parametrize(
    ("text", "day"),
    [("how was tuesday", 1), ("como estuvo el viernes", 4), ("monday and sunday", None), ("today", None)],
)
def test_the_day_of_the_week(text: str, day: int | None) -> None:
    assert stated(text).weekday == day


@pytest.mark.parametrize(
    ("text", "period"),
    [
        ("how is this week going", "this_week"), ("la semana pasada", "last_week"),
        ("numbers for last month", "last_month"), ("este mes", "this_month"), ("how was it", None),
    ],
)  # fmt: skip
def test_a_week_or_month(text: str, period: str | None) -> None:
    assert stated(text).period == period


@pytest.mark.parametrize(
    ("text", "after"),
    [("remind me after the rush", True), ("cuando baje la gente me avisas", True), ("remind me in 20", False)],
)
def test_the_end_of_the_rush_is_a_time(text: str, after: bool) -> None:
    assert stated(text).after_rush is after


@pytest.mark.parametrize("text", ["pads done on 9", "hice el pad de la 9", "filtered the fryer 9"])
def test_a_fryer_that_is_not_there_is_named_without_its_noun(text: str) -> None:
    assert [(one.id, one.said) for one in stated(text).fryers] == [(None, "9")]


@pytest.mark.parametrize("text", ["put 9 pads on the order", "it takes 9 minutes", "page 9", "step 9"])
def test_other_numbers_are_no_fryers(text: str) -> None:
    assert stated(text).fryers == ()


@pytest.mark.parametrize("text", ["ya se le hizo boil out a la 3", "le cambié el pad a la 3"])
def test_spanish_fryers_are_singular_and_hours_plural(text: str) -> None:
    found = stated(text)
    assert (found.clocks, [one.id for one in found.fryers]) == ((), ["3"])


@pytest.mark.parametrize(
    ("text", "clock"), [("a las 3", "15:00"), ("a la una", "13:00"), ("a la 1 de la tarde", "13:00")]
)
def test_one_oclock_is_singular(text: str, clock: str) -> None:
    assert [one.text for one in stated(text).clocks] == [clock]


@pytest.mark.parametrize(("text", "value"), [("counted 12 pads on the shelf", 12), ("quedan 3 bidones", 3)])
def test_a_count_of_supplies_is_an_amount(text: str, value: float) -> None:
    assert [(one.value, one.kind) for one in stated(text).amounts] == [(value, "stock")]


@pytest.mark.parametrize(
    ("text", "guide"),
    [
        ("who is trained on the boil-out", "guide.boil_out"), ("quiz me on skimming", "guide.skim"),
        ("examen del filtrado de cierre", "guide.filter_closing"),
        ("sign Rosa off on the o-rings", "guide.seal_replacement"),
        ("quiz me", None),
    ],
)  # fmt: skip
def test_the_guide_that_the_words_point_to(text: str, guide: str | None) -> None:
    assert stated(text).guide == guide
