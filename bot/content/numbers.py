"""Numbers in texts for people: each has a source, a unit as it should be, and its °C right beside its °F."""

from __future__ import annotations

import re
from collections.abc import Iterable

from bot.content.fields import Fault

BIGGEST_DIFFERENCE = 20
"""°F; a figure up to this is a tolerance ("within 2 °F"), for nothing at a fryer is that cold."""

ROUNDING = 1.0
"""°C by which a stated conversion may miss the exact one."""

_NUMBER = re.compile(r"\d+(?:[.,]\d+)*")
_PLACEHOLDER = re.compile(r"\{[^}]*\}")
# Of a range both ends stand before the unit, with a short word of any language between ("325 to 375 °F").
_FAHRENHEIT = re.compile(r"(?:(\d{2,}(?:\.\d+)?) [^\W\d]{1,4} )?(\d+(?:\.\d+)?) °F")
_CELSIUS_BESIDE = re.compile(r" \((?:(\d+(?:\.\d+)?) [^\W\d]{1,4} )?(\d+(?:\.\d+)?) °C\)")
_CELSIUS = re.compile(r"(\d+(?:\.\d+)?) °C")
_BAD_UNIT = re.compile(
    r"\d ?(?:degrees?|grados?|deg)\b|\d ?[FC]\b|\d°|° ?[fc]\b|°(?![FC])|\d(?:min|h|s|cm|mm|ft|in|L|l)\b|\d%"
)


def numbers_in(text: str) -> list[str]:
    """The numbers of a text in order, as written; placeholders left out."""
    return _NUMBER.findall(_PLACEHOLDER.sub("", text))


def unsourced(text: str, sources: Iterable[str]) -> list[str]:
    """The numbers of a text that no source names."""
    named = {number for source in sources for number in numbers_in(source)}
    return [number for number in dict.fromkeys(numbers_in(text)) if number not in named]


def check_units(text: str) -> None:
    """Raises ``Fault`` where a figure stands without a proper unit, or a °F without the right °C."""
    bad = _BAD_UNIT.search(text)
    if bad is not None:
        todo = 'write "350 °F (177 °C)", "30 min", "25 %"'
        raise Fault(f'"{bad[0]}" is not how a figure and its unit are written', todo)
    for found in _FAHRENHEIT.finditer(text):
        _check_conversion(text, found)


def _check_conversion(text: str, found: re.Match[str]) -> None:
    low, high = found[1], found[2]
    if low is None and float(high) <= BIGGEST_DIFFERENCE:
        if not any(abs(float(c) - float(high) * 5 / 9) <= ROUNDING for c in _CELSIUS.findall(text)):
            raise Fault(f"{found[0]} stands without its °C", f"add ({float(high) * 5 / 9:.0f} °C)")
        return
    exact = [_celsius(value) for value in (low, high) if value is not None]
    beside = _CELSIUS_BESIDE.match(text, found.end())
    said = [float(value) for value in (beside[1], beside[2]) if value is not None] if beside is not None else []
    right = f"({' to '.join(f'{value:.0f}' for value in exact)} °C)"
    if len(said) != len(exact):
        raise Fault(f"{found[0]} stands without its °C", f"write {right} right after it")
    if any(abs(a - b) > ROUNDING for a, b in zip(said, exact, strict=True)):
        raise Fault(f"{found[0]} is not {beside[0].strip() if beside else ''}", f"write {right}")


def _celsius(fahrenheit: str) -> float:
    return (float(fahrenheit) - 32) * 5 / 9
