"""What is said aloud has no figure, unit, clock time or abbreviation left that only the eye can read."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, strategies as st

from bot.content.catalogue import Content
from bot.content.languages import LANGUAGES
from bot.content.wording import Wording
from bot.core.kitchen import Kitchen
from bot.core.messages import Words
from bot.voice import for_the_ear as ear
from bot.voice.for_the_ear import for_the_ear, in_words
from bot.voice.speaking import LONGEST_NOTE, notes, seconds
from intents.prepare import spelt_out
from intents.slots.numbers import number_at
from intents.types import Language
from tests.core.stage import local


@pytest.mark.parametrize(
    ("language", "written", "said"),
    [
        ("en", "350 °F", "three hundred fifty degrees Fahrenheit."),
        ("es", "350 °F", "trescientos cincuenta grados Fahrenheit."),
        ("en", "Keep it at 100 °F (38 °C) or less.", "Keep it at one hundred degrees Fahrenheit or less."),
        ("en", "30 to 40 °F (-1 to 4 °C)", "thirty to forty degrees Fahrenheit (minus one to four degrees Celsius)."),
        ("en", "300 to 375 °F (149 to 191 °C)", "three hundred to three hundred seventy-five degrees Fahrenheit."),
        ("es", "a las 9:30 p. m.", "a las nueve treinta de la noche."),
        ("es", "a la 1:00 p. m.", "a la una de la tarde."),
        ("es", "hasta las 0:15", "hasta las cero quince."),
        ("en", "at 9:30 pm", "at nine thirty p m."),
        ("en", "at 9:05 am", "at nine oh five a m."),
        ("en", "at 21:00, at 21:45", "at twenty-one hundred, at twenty-one forty-five."),
        ("en", "30 min", "thirty minutes."),
        ("en", "1 min and 1 h", "one minute and one hour."),
        ("es", "1 min, 21 min, 1 h, 31 h", "un minuto, veintiún minutos, una hora, treinta y una horas."),
        ("es", "freidora 1 y freidora 21", "freidora uno y freidora veintiuno."),
        ("en", "18.5 %", "eighteen point five percent."),
        ("es", "18.5 %", "dieciocho punto cinco por ciento."),
        ("en", "-5 °C", "minus five degrees Celsius."),
        ("en", "Call 911.", "Call nine one one."),
        ("es", "Llama al 112.", "Llama al uno uno dos."),
        ("en", "Night desk, 555 0142", "Night desk, five five five, zero one four two."),
        ("en", "2–3 times", "two to three times."),
        ("en", "16 in (406 mm)", "sixteen inches."),
        ("en", "Step 2 of 5: Lift it in.", "Step two of five: Lift it in."),
        ("en", "– pad change\n– skim", "pad change. skim."),
        ("en", "on Tue 15 Sep", "on Tuesday fifteen September."),
        ("es", "el mié 3 mar", "el miércoles tres de marzo."),
        ("en", "Good 👍 done ✅", "Good done."),
        ("en", "model LK-40", "model LK-40."),
        ("en", "1 °C if it shows °C", "one degree Celsius if it shows degrees Celsius."),
        ("en", "", ""),
    ],
)  # fmt: skip
def test_what_is_written_for_the_eye_is_said_for_the_ear(language: Language, written: str, said: str) -> None:
    assert for_the_ear(written, language) == said


@pytest.mark.parametrize(
    ("language", "before", "after"), [("en", "the fryer had", "please"), ("es", "la freidora tiene", "por favor")]
)
def test_every_number_below_a_thousand_is_read_back_as_itself(language: Language, before: str, after: str) -> None:
    # What is read in Spanish is "once" as "11" and then in digits: "ciento once" is two numbers there.
    for number in (n for n in range(1000) if language == "en" or n % 100 != 11 or n == 11):
        words = spelt_out(f"{before} {in_words(number, language).replace('-', ' ')} {after}")
        found = number_at(words, 3)
        assert found is not None
        assert (found.value, words[found.end]) == (number, after.split()[0]), (number, words)


@pytest.mark.parametrize(
    ("language", "number", "said"),
    [
        ("en", 1000, "one thousand"),
        ("en", 21_500, "twenty-one thousand five hundred"),
        ("es", 1000, "mil"),
        ("es", 2015, "dos mil quince"),
    ],
)
def test_thousands_are_said_in_words(language: Language, number: int, said: str) -> None:
    assert in_words(number, language) == said


@pytest.mark.parametrize("number", [-1, 1_000_000])
def test_numbers_that_nobody_says_in_words_are_refused(number: int) -> None:
    with pytest.raises(ValueError, match=str(number)):
        in_words(number, "en")


@given(st.text(max_size=300), st.sampled_from(sorted(ear.LANGUAGES)))
def test_any_text_can_be_said_and_is_one_line(text: str, language: Language) -> None:
    said = for_the_ear(text, language)
    assert "\n" not in said
    assert said == said.strip()


@given(st.integers(0, 23), st.integers(0, 59), st.sampled_from(sorted(ear.LANGUAGES)))
def test_no_clock_time_keeps_a_figure(hour: int, minute: int, language: Language) -> None:
    assert not re.search(r"\d", for_the_ear(f"({hour}:{minute:02})", language))


def steps(content: Content, kitchen: Kitchen, language: Language) -> list[list[str]]:
    """The lines of every step of every walk, as they are shown. (Guides that are facts are not led step by step.)"""
    wording: Wording = content.wording
    now = local("2026-09-15 21:30")
    found = []
    for topic, guide in content.library.guides.items():
        for n, shape in enumerate(guide.steps if guide.kind == "walk" else (), 1):
            common = {"fryer": Words("fryer.plain", {"id": "2"})}
            text = Words(f"{topic}/step.{n}", common)
            lines = [Words("walk.step", {"n": n, "of": len(guide.steps), "text": text})]
            if shape.see:
                lines.append(Words("walk.see", {"text": Words(f"{topic}/step.{n}.see", common)}))
            if shape.if_not:
                lines.append(Words("walk.if_not", {"text": Words(f"{topic}/step.{n}.if_not", common)}))
            found.append([wording.render(line, language, kitchen, now) for line in lines])
    return found


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_step_is_said_in_notes_under_ten_seconds_and_nothing_is_left_out(
    language: Language, content: Content, demo_kitchen: Kitchen
) -> None:
    for lines in steps(content, demo_kitchen, language):
        packed = notes(lines, language)
        assert all(seconds(note, language) <= LONGEST_NOTE for note in packed), lines
        assert " ".join(packed) == " ".join(for_the_ear(line, language) for line in lines)
        assert not re.search(r"\d|[°%–]", " ".join(packed)), packed
