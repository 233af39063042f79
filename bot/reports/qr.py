"""Links as square codes (ISO/IEC 18004) that any phone's camera reads."""

from __future__ import annotations

import io

import segno

QUIET_ZONE = 4
"""Modules of white around the code: ISO/IEC 18004, 5.3.8."""

A_MODULE = 8
"""Pixels of one module in a picture: large enough to be read off another phone's screen (common practice)."""


def square(link: str) -> segno.QRCode:
    """The code of a link. A quarter of it may be covered by grease or a scratch (level Q)."""
    return segno.make_qr(link, error="q", boost_error=True)


def as_png(link: str) -> bytes:
    """A picture of the code."""
    out = io.BytesIO()
    square(link).save(out, kind="png", scale=A_MODULE, border=QUIET_ZONE)
    return out.getvalue()


def as_text(link: str) -> str:
    """The code in block letters, for a terminal."""
    out = io.StringIO()
    square(link).terminal(out=out, compact=True, border=QUIET_ZONE)
    return out.getvalue()
