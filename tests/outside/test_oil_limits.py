"""Discard limits against the texts they come from: statutes, ministries' circulars, laboratories' reports."""

from __future__ import annotations

from operator import ge, le, lt
from pathlib import Path

import pytest

from bot.content.findings import ContentError
from bot.content.kitchen_file import read_kitchen
from bot.content.limits import Limit, load_limits
from tests.content.contentkit import KITCHEN

CONFIRMED = [
    # place, unit, value, a reading still allowed, one no longer, force, where it was read
    ("france", "polar_percent", 25, 25.0, 25.1, "law"),  # decree of 1908-03-11 art. 3-3, industrie-hoteliere.com
    ("germany", "polar_percent", 24, 24.0, 24.1, "practice"),  # Lower Saxony report for 2021, behrs.de news 1883
    ("germany", "polymer_percent", 12, 12.0, 12.1, "practice"),  # the same report
    ("germany", "acid_value", 2, 2.0, 2.1, "practice"),  # the same report
    ("belgium", "polar_percent", 25, 25.0, 25.1, "law"),  # royal decree of 1988-01-22, favv.be 2015-05-06
    ("switzerland", "polar_percent", 27, 27.0, 27.1, "law"),  # SR 817.022.17 art. 9(4), droit-bilingue.ch
    ("portugal", "polar_percent", 25, 25.0, 25.1, "law"),  # Portaria 1135/95, dre.tretas.org
    ("italy", "polar_percent", 25, 25.0, 25.1, "guideline"),  # circular no. 1 of 1991-01-11, mixerplanet.com
    ("south_africa", "polar_percent", 25, 25.0, 25.1, "law"),  # R1316 of 1996-08-16, ufs.ac.za
    ("south_africa", "polymer_percent", 16, 16.0, 16.1, "law"),  # R1316 of 1996-08-16, ufs.ac.za
    ("india", "polar_percent", 25, 25.0, 25.1, "law"),  # amendments 2017 and 2020, foodsmart.fssai.gov.in
    ("china", "carbonyl_meq", 50, 50.0, 50.1, "law"),  # GB 7102.1-1994, mydoc123.com
    ("japan", "acid_value", 2.5, 2.5, 2.6, "guideline"),  # guideline of 1979, pref.hiroshima.lg.jp
    ("japan", "carbonyl_meq", 50, 50.0, 50.1, "guideline"),  # the same guideline
    ("japan", "smoke_point_c", 170, 170.0, 169.9, "guideline"),  # the same guideline
]
RESTATED = [
    ("spain", "polar_percent", 25, 24.9, 25.0, "law"),  # order of 1989-01-26, BOE-A-1989-2265; figure in a list
    ("netherlands", "polymer_percent", 16, 16.0, 16.1, "law"),  # missethoreca.nl 2001-03
]


@pytest.mark.parametrize(("place", "unit", "value", "allowed", "over", "force"), CONFIRMED + RESTATED)
def test_each_limit_that_was_read_is_as_its_text_has_it(
    place: str, unit: str, value: float, allowed: float, over: float, force: str
) -> None:
    limit = discard(place, unit)
    assert (limit.value, limit.force) == (value, force)
    within = {"<": lt, "<=": le, ">=": ge}[limit.allowed]
    assert within(allowed, limit.value) and not within(over, limit.value)
    assert limit.status == ("confirmed" if (place, unit, value, allowed, over, force) in CONFIRMED else "restated")


def test_what_nobody_read_is_marked_as_from_memory() -> None:
    read = {(place, unit) for place, unit, *_ in CONFIRMED + RESTATED}
    rest = [x for x in load_limits() if (x.place, x.unit) not in read and x.meaning == "discard"]
    assert rest and {x.status for x in rest} == {"memory"}


def test_fresh_oil_and_the_level_to_watch_are_no_discard_limits() -> None:
    """India: unused oil at most 15 %; France: over 20 % calls for a closer look (a trade paper, 1999-09-09)."""
    assert {(x.place, x.meaning, x.value) for x in load_limits() if x.meaning != "discard"} == {
        ("india", "unused", 15),
        ("france", "watch", 20),
    }


@pytest.mark.parametrize(
    ("said", "limit"),
    [
        ('place = "france"', 25),
        ('place = "South Africa"', 25),
        ('place = "france"\npolar_percent = 22', 22),
        ('place = "germany"\npolar_percent = 27', 24),
        ('place = "japan"\npolar_percent = 25', 25),
        ('place = "chile"\npolar_percent = 27', 25),
        ("polar_percent = 27", 27),
    ],
)
def test_a_kitchen_goes_by_its_place_or_its_own_figure_whichever_is_stricter(
    said: str, limit: float, tmp_path: Path
) -> None:
    assert read_kitchen(written(tmp_path, said)).polar_limit_percent == limit


@pytest.mark.parametrize(
    ("said", "fault", "todo"),
    [
        ('place = "frence"', 'unknown place "frence"', 'did you mean "france"?'),
        ('place = "atlantis"', 'unknown place "atlantis"', "known places: austria"),
        ('place = "france"\npolar_percent = 27', "27 % is looser than the law of france (25 %)", "write 25 or less"),
        ('place = "japan"', '"japan" has no limit in percent of polar compounds', "write polar_percent"),
        ('place = "united_states"', '"united_states" has no limit in percent', "write polar_percent"),
        ('place = "austria"', '"austria" has one that nobody has looked up', "write polar_percent"),
        ('place = "france"\npolar_percent = 240', "240 is out of range", "from 0 to 100"),
    ],
)
def test_a_limit_that_cannot_hold_is_a_finding_with_what_to_do(
    said: str, fault: str, todo: str, tmp_path: Path
) -> None:
    with pytest.raises(ContentError) as caught:
        read_kitchen(written(tmp_path, said))
    (found,) = caught.value.findings
    assert fault in found.what and todo in found.todo


def test_a_faulty_limits_file_is_reported_line_by_line(tmp_path: Path) -> None:
    file = tmp_path / "limits.toml"
    entry = 'unit = "smoke_point_c"\nallowed = "<="\nmeaning = "discard"\nforce = "lore"\nsource = "x"\n'
    file.write_text(f'[[limits]]\nplace = "france"\nvalue = 170\n{entry}status = "memory"\n', encoding="utf-8")
    with pytest.raises(ContentError) as caught:
        load_limits(file)
    assert [(found.line, found.what) for found in caught.value.findings] == [
        (5, '"<=" is the wrong way round'),
        (7, 'unknown force "lore"'),
    ]


def discard(place: str, unit: str) -> Limit:
    (found,) = [x for x in load_limits() if (x.place, x.unit, x.meaning) == (place, unit, "discard")]
    return found


def written(folder: Path, oil_limit: str) -> Path:
    file = folder / "kitchen.toml"
    file.write_text(KITCHEN.replace("polar_percent = 24", oil_limit), encoding="utf-8")
    return file
