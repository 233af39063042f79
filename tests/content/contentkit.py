"""Files for the readers of content: a small valid kitchen and guide, and ways to spoil them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from bot.content.findings import ContentError, Finding

KITCHEN = """\
name = "Corner Kitchen"
timezone = "America/New_York"
opens = "10:00"
closes = "22:00"

[oil_limit]
polar_percent = 24

[[fryers]]
id = "1"
names = ["fries fryer"]
power = "electric"
oil_litres = 18
seals = { colour = "black", size = "25 x 3 mm", count = 3 }

[[fryers]]
id = "2"
names = ["falafel fryer"]
power = "gas"

[[people]]
id = "ben"
name = "Ben"
role = "cook"
telegram = 11

[[people]]
id = "rosa"
name = "Rosa"
role = "manager"
language = "es"
telegram = 12

[[duties]]
id = "pad_change"
every = "day"
at = "21:30"
fryers = "all"

[[duties]]
id = "hood_filters"
every = "week"
on = "sunday"
at = "21:00"

[[duties]]
id = "boil_out"
every = "300 drops"
fryers = ["2"]

[supplies]
filter_pads = { on_hand = 40, reorder_at = 15 }
seals_black = { on_hand = 3, reorder_at = 3 }
"""

ABOUT = """\
topic = "guide.skim"
kind = "walk"
hot_oil = true
risk = "high"
by_power = false

[sources]
"2 minutes" = "common practice"
"350 °F, 177 °C" = "common practice"
"""

ENGLISH = """\
title = "Skim the oil"
purpose = "Clean oil lasts."
takes = "About 2 minutes."
not_when = ["Food is in the oil."]
gear = ["Gloves", "Skimmer"]
cautions = ["The oil is hot, near 350 °F (177 °C)."]

[[steps]]
say = "Put your gloves on."
see = "Your skin is covered."

[[steps]]
say = "Dip the skimmer in the oil."
if_not = "Get a dry skimmer."

[[steps]]
say = "Lift the crumbs out."

[[steps]]
say = "Drop them in the bin."
"""

SPANISH = """\
title = "Saca las migas"
purpose = "Aceite limpio dura más."
takes = "Unos 2 minutos."
not_when = ["Hay comida en el aceite."]
gear = ["Guantes", "Colador"]
cautions = ["El aceite arde, cerca de 350 °F (177 °C)."]

[[steps]]
say = "Ponte los guantes."
see = "No se ve piel."

[[steps]]
say = "Mete el colador en el aceite."
if_not = "Toma uno seco."

[[steps]]
say = "Saca las migas."

[[steps]]
say = "Tira todo en el bote."
"""


def line_of(text: str, piece: str) -> int:
    """The line on which a piece of text stands."""
    return text[: text.index(piece)].count("\n") + 1


def findings_of(read: Callable[..., Any], *args: Any) -> tuple[Finding, ...]:
    """What a reader finds wrong; fails where it finds nothing."""
    with pytest.raises(ContentError) as caught:
        read(*args)
    return caught.value.findings


def write_guide(
    folder: Path, name: str = "skim", about: str = ABOUT, english: str = ENGLISH, spanish: str = SPANISH
) -> Path:
    """A guide's folder below ``folder``."""
    place = folder / name
    place.mkdir(parents=True)
    for file, content in (("about", about), ("en", english), ("es", spanish)):
        (place / f"{file}.toml").write_text(content, encoding="utf-8")
    return place
