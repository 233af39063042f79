"""The figures that a crew reads, against published ones: each expected value with the standard it comes from.

The texts are those of the guides, emergencies and replies as they are rendered for the demo kitchen, in both languages.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime

import pytest

from bot.content.catalogue import Content
from bot.content.templates import GIVEN
from bot.core import cool_oil
from bot.core.kitchen import Kitchen
from bot.core.messages import Words
from bot.core.skills import emergencies
from intents.types import Language

NOW = datetime(2026, 9, 18, 16, 0, tzinfo=UTC)
LANGUAGES: tuple[Language, ...] = ("en", "es")

both = pytest.mark.parametrize("language", LANGUAGES)


def fahrenheit(celsius: float) -> float:
    return celsius * 9 / 5 + 32


class Shown:
    """What is shown of one text or of all texts below a name."""

    def __init__(self, content: Content, kitchen: Kitchen) -> None:
        self._wording = content.wording
        self._kitchen = kitchen

    def lines(self, name: str, language: Language) -> list[str]:
        found = [i for i in sorted(self._wording.ids) if i == name or i.startswith(f"{name}/")]
        assert found, name
        return [self._line(i, language) for i in found]

    def all_of(self, name: str, language: Language) -> str:
        return "\n".join(self.lines(name, language))

    def _line(self, words_id: str, language: Language) -> str:
        own = self._wording.placeholders(words_id) - GIVEN
        params = dict.fromkeys(own, "…")
        return self._wording.render(Words(words_id, params), language, self._kitchen, NOW)


@pytest.fixture(scope="module")
def shown(content: Content, demo_kitchen: Kitchen) -> Shown:
    return Shown(content, demo_kitchen)


@both
def test_the_cut_out_must_act_at_475_f(shown: Shown, language: Language) -> None:
    """NYC Fire Code 609.4.1.1.2, the figures of NFPA 96: a separate high limit cuts the heat at 475 °F (246 °C)."""
    for name in ("guide.oil_temps", "oil.above_cut_out"):
        assert "475 °F (246 °C)" in shown.all_of(name, language)


@both
def test_under_16_oil_work_stops_above_100_f(shown: Shown, language: Language) -> None:
    """US DOL Fact Sheet 58 (July 2010): filter, move, dispose of oil and clean only at 100 °F (37.8 °C) or less."""
    for name in ("guide.young_workers", "young.may"):
        assert "100 °F (38 °C)" in shown.all_of(name, language)
    assert "US DOL" in shown.all_of("young.may", language), "the reader is told whose rule it is"
    assert cool_oil.COOL_F == 100


@both
def test_under_16_fries_only_where_baskets_lift_by_themselves(shown: Shown, language: Language) -> None:
    """29 CFR 570.33(h) and 570.34(c), as cited by the US DOL's restaurant self-assessment; no pressure fryers."""
    text = shown.all_of("guide.young_workers", language)
    assert {"en": "raise the baskets by themselves", "es": "la canasta baja y sube sola"}[language] in text
    assert {"en": "pressure fryers", "es": "presión"}[language] in text


# Food Code 2022 wording as adopted by states; °C as printed there.
COOKING = [
    ("165 °F (74 °C)", "WAC 246-215-03400(1)(c) = Food Code 3-401.11(A)(3): poultry, stuffed food, instant"),
    ("155 °F (68 °C)", "WAC 246-215-03400 = 3-401.11(A)(2): ground meat and fish; 155 °F for 17 s"),
    ("145 °F (63 °C)", "Minn. R. 4626.0340 A(1) = 3-401.11(A)(1): whole fish, pork, beef, eggs to order; 15 s"),
    ("135 °F (57 °C)", "COMAR 10.15.03.10 chart 1: plant food for hot holding; WAC 246-215-03525: hot holding"),
    ("41 °F (5 °C)", "WAC 246-215-03525 = 3-501.16: cold holding"),
    ("70 °F (21 °C)", "WAC 246-215-03515(2) = 3-501.14: first stage of cooling"),
]


@both
@pytest.mark.parametrize(("figure", "source"), COOKING)
def test_food_temperatures_are_those_of_the_food_code(
    shown: Shown, language: Language, figure: str, source: str
) -> None:
    assert figure in shown.all_of("guide.food_temps", language), source


@both
def test_food_is_held_at_heat_as_long_as_the_food_code_says(shown: Shown, language: Language) -> None:
    """WAC 246-215-03400: 155 °F for 17 s; Minn. R. 4626.0340: 145 °F for 15 s. Older codes said 15 s for 155 °F."""
    lines = shown.lines("guide.food_temps", language)
    assert any("155 °F" in line and re.search(r"\b17\b", line) for line in lines)
    assert any("145 °F" in line and re.search(r"\b15\b", line) for line in lines)


@both
def test_cooling_goes_in_two_stages_of_two_and_six_hours(shown: Shown, language: Language) -> None:
    """WAC 246-215-03515(2) = Food Code 3-501.14: 135 to 70 °F within 2 h, to 41 °F within 6 h in all."""
    lines = shown.lines("guide.food_temps", language)
    assert any("70 °F" in line and re.search(r"\b2\b", line) for line in lines)
    assert any("41 °F" in line and re.search(r"\b6\b", line) for line in lines)


@both
def test_poultry_is_said_alike_wherever_it_is_said(shown: Shown, language: Language) -> None:
    """WAC 246-215-03400(1)(c) = Food Code 3-401.11(A)(3)."""
    assert "165 °F (74 °C)" in shown.all_of("fault.food_quality", language)


@both
def test_a_probe_is_checked_in_ice_and_may_be_off_by_two_f_or_one_c(shown: Shown, language: Language) -> None:
    """Ice point 32 °F (0 °C); Cal. HSC 114159(c), the figures of Food Code 4-203.11: ±2 °F, or ±1 °C."""
    text = shown.all_of("guide.thermometer_check", language)
    assert "32 °F (0 °C)" in text
    assert "2 °F" in text
    assert "1 °C" in text


@both
def test_a_burn_is_cooled_for_20_minutes_with_running_water_and_no_ice(shown: Shown, language: Language) -> None:
    """ANZCOR guideline 9.1.3: cool running water for 20 minutes, at once; no ice."""
    lines = shown.lines("emergency.burn", language)
    assert any(re.search(r"\b20\b", line) and {"en": "water", "es": "agua"}[language] in line for line in lines)
    assert any({"en": "No ice", "es": "hielo"}[language] in line for line in lines)


@both
def test_the_hood_system_is_pulled_before_a_class_k_extinguisher_is_used(
    content: Content, shown: Shown, language: Language
) -> None:
    """Class K placard (NFPA 10 and NFPA 96, restated in a trade FAQ): the hood system first, then the extinguisher."""
    count = content.library.emergencies["fire"].lines
    lines = [shown.lines(f"emergency.fire/line.{n}", language)[0] for n in range(1, count + 1)]
    pull = next(n for n, line in enumerate(lines) if {"en": "hood", "es": "campana"}[language] in line)
    extinguisher = next(n for n, line in enumerate(lines) if {"en": "class K", "es": "clase K"}[language] in line)
    assert pull < extinguisher


@both
def test_no_text_on_fire_ever_says_to_use_water(shown: Shown, language: Language) -> None:
    """OSHA's poster on fryers: water on burning oil turns to steam at once and throws it."""
    (line,) = [
        line for line in shown.lines("emergency.fire", language) if re.search(r"water|agua", line, re.IGNORECASE)
    ]
    assert re.search(r"NEVER|NUNCA", line)


@both
def test_a_class_k_extinguisher_hangs_within_30_feet(shown: Shown, language: Language) -> None:
    """NFPA 10, restated: at most 30 ft (9.15 m) of travel; the text rounds down, to the safe side."""
    text = shown.all_of("guide.fire_readiness", language)
    assert {"en": "class K", "es": "clase K"}[language] in text
    feet, metres = re.search(r"(\d+) (?:ft|pies) \((\d+) m\)", text).groups()  # type: ignore[union-attr]
    assert int(feet) == 30
    assert int(metres) * 3.2808 <= 30


@both
def test_gas_means_out_first_no_switch_and_the_call_from_outside(shown: Shown, language: Language) -> None:
    """Pennsylvania Public Utility Commission, gas emergencies: leave, use no switch or phone inside, call from afar."""
    lines = [shown.lines(f"emergency.gas/line.{n}", language)[0] for n in range(1, 5)]
    assert re.search({"en": "out", "es": "afuera|fuera|salgan"}[language], lines[0], re.IGNORECASE)
    assert re.search({"en": "switch", "es": "interruptor|apagador|switch"}[language], lines[1], re.IGNORECASE)
    assert "911" in lines[3]


@both
def test_no_setpoint_is_ever_named_at_or_above_the_cut_out(shown: Shown, language: Language) -> None:
    """475 °F: NYC Fire Code 609.4.1.1.2. 374 and 401 °F are a test's figures; all others are lower still."""
    figures = [
        float(f)
        for name in ("guide.oil_temps", "guide.oil_care", "guide.start_up")
        for f in re.findall(r"(\d+) °F", shown.all_of(name, language))
    ]
    assert figures
    assert all(figure <= 475 for figure in figures)
    assert sorted(figures)[-1] == 475
    assert all(figure < 475 for figure in figures if figure != 475)


def test_every_pair_of_fahrenheit_and_celsius_is_the_same_heat(content: Content, shown: Shown) -> None:
    """NIST SP 811, B.8: t/°F = 1.8 t/°C + 32; printed Celsius values are whole degrees, half a degree off at most.

    The Food Code prints 74 °C for 165 °F (73.9) and 57 °C for 135 °F (57.2), within the same half degree.
    """
    seen = 0
    for language in LANGUAGES:
        for topic in content.library.guides:
            for f, c in re.findall(r"(-?\d+) °F \((-?\d+) °C\)", shown.all_of(topic, language)):
                assert abs(float(f) - fahrenheit(float(c))) <= 0.95, (topic, f, c)
                seen += 1
    assert seen > 30


def test_a_discard_limit_is_said_as_the_kitchen_file_has_it_and_lies_in_the_published_span(
    content: Content, demo_kitchen: Kitchen
) -> None:
    """Polar compounds: 24 % (German state laboratories) to 27 % (Swiss ordinance SR 817.022.17 art. 9)."""
    assert demo_kitchen.polar_limit_percent is not None
    assert 24 <= demo_kitchen.polar_limit_percent <= 27
    for language, said in (("en", "24 %"), ("es", "24 %")):
        line = Words("oil.limit", {"limit": demo_kitchen.polar_limit_percent})
        assert said in content.wording.render(line, language, demo_kitchen, NOW).replace("\u00a0", " ")  # type: ignore[arg-type]


def test_routine_is_held_for_a_quarter_of_an_hour() -> None:
    """Common practice; no source."""
    assert emergencies.HOLD.total_seconds() == 15 * 60


def test_a_wait_is_never_shorter_than_half_an_hour(demo_kitchen: Kitchen) -> None:
    """Common practice; the maker's manual may ask for more."""
    assert demo_kitchen.cool_down.total_seconds() >= 30 * 60
