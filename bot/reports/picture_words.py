"""The words in a summary's picture; the drawing itself knows none."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from bot.core.messages import Words
from bot.core.records import Rules
from bot.core.scene import duty_words

STRIP_DAYS = 28
"""Days in the strip: four whole weeks, so that each weekday weighs the same."""

LABELS = (
    "picture.title",
    "picture.so_far",
    "picture.closed",
    "picture.no_rate",
    "picture.rate",
    "picture.range",
    "picture.fryer",
    "picture.on_time",
    "picture.late",
    "picture.missed",
    "picture.excused",
    "picture.open",
    "picture.not_due",
    "picture.last_days",
    "picture.no_figure",
)
"""Every label a picture may need, by its id in the wording files; none of them has a placeholder."""

DATE_LABEL = "picture.date"
"""The wording of a date in a picture, with the placeholder ``on``."""


@dataclass(frozen=True, slots=True)
class PictureWords:
    """Text by label id, duty id, fryer id (short: it heads a column) and date, in one language.

    Raises ``ValueError`` where a label is missing.
    """

    labels: Mapping[str, str]
    duties: Mapping[str, str]
    fryers: Mapping[str, str]
    dates: Mapping[date, str]

    def __post_init__(self) -> None:
        missing = [label for label in LABELS if label not in self.labels]
        if missing:
            raise ValueError(f"no words for {', '.join(missing)}")


def dates_needed(day: date) -> tuple[date, ...]:
    """The dates that the picture of ``day`` names: the day itself, then the same weekday of the weeks before."""
    return tuple(day - timedelta(days=back) for back in range(0, STRIP_DAYS, 7))


def picture_words(say: Callable[[Words], str], rules: Rules, day: date) -> PictureWords:
    """The words for the picture of ``day``, as ``say`` puts them in the reader's language."""
    return PictureWords(
        labels={label: say(Words(label)) for label in LABELS},
        duties={duty.id: say(duty_words(duty.id)) for duty in rules.duties},
        fryers={fryer: fryer for fryer in rules.fryers},
        dates={on: say(Words(DATE_LABEL, {"on": on})) for on in dates_needed(day)},
    )
