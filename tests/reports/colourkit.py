"""How colours look to people: contrast, difference, and colour blindness simulated."""

from __future__ import annotations

from math import dist

from bot.reports.palette import Colour

DICHROMACY = {
    "protanopia": (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    "deuteranopia": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
    "tritanopia": (
        (1.255528, -0.076749, -0.178779),
        (-0.078411, 0.930809, 0.147602),
        (0.004733, 0.691367, 0.303900),
    ),
}
"""Severity 1.0, for linear RGB: G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, IEEE Trans. Visualization and
Computer Graphics 15 (2009) 1291-1298, doi 10.1109/TVCG.2009.113 (matrices of its supplement, read in public code).
"""

Linear = tuple[float, float, float]


def linear(colour: Colour) -> Linear:
    """sRGB to linear light, 0 to 1 (IEC 61966-2-1)."""
    red, green, blue = (v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in (c / 255 for c in colour))
    return red, green, blue


def luminance(colour: Colour) -> float:
    """Relative luminance (WCAG 2.1)."""
    red, green, blue = linear(colour)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: Colour, other: Colour) -> float:
    """Contrast ratio, 1 to 21 (WCAG 2.1)."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def seen_with(kind: str, colour: Colour) -> Linear:
    """A colour in linear light as somebody with that colour blindness sees it."""
    light = linear(colour)
    red, green, blue = (
        min(1.0, max(0.0, sum(weight * part for weight, part in zip(row, light, strict=True))))
        for row in DICHROMACY[kind]
    )
    return red, green, blue


def difference(one: Linear, other: Linear) -> float:
    """CIE 1976 colour difference under D65; about 2.3 is just noticeable."""
    return dist(_lab(one), _lab(other))


def _lab(light: Linear) -> Linear:
    to_xyz = (
        (0.4124564, 0.3575761, 0.1804375, 0.95047),
        (0.2126729, 0.7151522, 0.0721750, 1.0),
        (0.0193339, 0.1191920, 0.9503041, 1.08883),
    )
    x, y, z = (_root((a * light[0] + b * light[1] + c * light[2]) / white) for a, b, c, white in to_xyz)
    return 116 * y - 16, 500 * (x - y), 200 * (y - z)


def _root(share: float) -> float:
    return share ** (1 / 3) if share > 216 / 24389 else (24389 / 27 * share + 16) / 116
