"""The languages that the helper speaks: those for which there is a wording file.

English comes first: every other language is compared with it.
"""

from __future__ import annotations

from bot.content import places
from intents.types import Language

ENGLISH: Language = "en"


def found() -> tuple[Language, ...]:
    """The languages whose wording files travel with the program."""
    codes = sorted(path.stem for path in places.WORDING.glob("*.toml"))
    return (ENGLISH, *(code for code in codes if code != ENGLISH))


LANGUAGES = found()
OTHERS = LANGUAGES[1:]
"""All but English."""
