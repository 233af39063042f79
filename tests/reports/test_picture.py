"""The picture of a kitchen day: it fits a phone, shows what the figures say, and nothing in it is cut off."""

from __future__ import annotations

import io
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from itertools import combinations
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings, strategies as st
from PIL import Image

from bot.content.catalogue import load_content
from bot.core import records as r
from bot.core.calendar import calendar
from bot.core.compliance import judge_day
from bot.core.messages import Words
from bot.core.statistics import whole_percent
from bot.reports import canvas as canvas_module
from bot.reports.canvas import WIDTH, Canvas
from bot.reports.grid import marks
from bot.reports.lettering import ELLIPSIS, fit, font
from bot.reports.palette import MARKS, Mark
from bot.reports.picture import summary_picture
from bot.reports.picture_words import LABELS, PictureWords, dates_needed, picture_words as words_by
from bot.reports.strip import last_days
from bot.reports.summary import DayNotLoggedError
from intents.types import Language
from tests.reports.reportkit import DAY, DUTIES, Log, daily, month_of_work, picture_words, rules


@dataclass(frozen=True)
class Drawn:
    """One thing that was drawn, with the box of its ink."""

    what: str
    box: tuple[float, float, float, float]


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> list[Drawn]:
    """Everything drawn from now on: text by its words, symbols by their mark."""
    found: list[Drawn] = []
    text, mark, upward = Canvas.text, Canvas.mark, Canvas.upward

    def watched_text(
        self: Canvas, words: str, x: float, middle: float, size: int, colour: Any = (0, 0, 0),
        align: Any = "left", bold: bool = False,
    ) -> float:  # fmt: skip
        anchor = {"left": "ls", "centre": "ms", "right": "rs"}[align]
        x0, y0, x1, y1 = font(size, bold).getbbox(words, anchor=anchor)
        baseline = middle + canvas_module.CAP_HEIGHT * size / 2
        found.append(Drawn(words, (x + x0, baseline + y0, x + x1, baseline + y1)))
        return text(self, words, x, middle, size, colour, align, bold)

    def watched_mark(self: Canvas, kind: Mark, x: float, y: float, size: int) -> None:
        found.append(Drawn(kind, (x - size / 2, y - size / 2, x + size / 2, y + size / 2)))
        mark(self, kind, x, y, size)

    def watched_upward(self: Canvas, block: Any, x: float, bottom: float, *more: Any) -> None:
        half = block.size / 2
        found.append(Drawn(" ".join(block.lines), (x - half, bottom - block.width, x + half, bottom)))
        upward(self, block, x, bottom, *more)

    monkeypatch.setattr(Canvas, "text", watched_text)
    monkeypatch.setattr(Canvas, "mark", watched_mark)
    monkeypatch.setattr(Canvas, "upward", watched_upward)
    return found


def picture(log: Log, words: PictureWords, as_of: datetime | None = None, day: date = DAY) -> Image.Image:
    end = calendar(log.rules).day_end(day)
    image = Image.open(io.BytesIO(summary_picture(log.state, day, as_of or end, words)))
    assert image.format == "PNG"
    return image


def overlap(one: Drawn, other: Drawn) -> bool:
    a, b = one.box, other.box
    return min(a[2], b[2]) - max(a[0], b[0]) > 1 and min(a[3], b[3]) - max(a[1], b[1]) > 1


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("fryers", range(1, 9))
@pytest.mark.parametrize("duties", [1, 7, 15])
def test_nothing_is_cut_off_and_nothing_overlaps(language: str, fryers: int, duties: int, drawn: list[Drawn]) -> None:
    ids = tuple(str(n) for n in range(1, fryers + 1))
    kitchen = rules(ids, count=duties)
    image = picture(month_of_work(kitchen, days=6), picture_words(language, ids))
    assert image.width == WIDTH == 1080
    for one in drawn:
        assert one.box[0] >= 0 and one.box[2] <= image.width, one
        assert one.box[1] >= 0 and one.box[3] <= image.height, one
        assert not one.what.endswith(ELLIPSIS), one
    assert [(a, b) for a, b in combinations(drawn, 2) if overlap(a, b)] == []


@pytest.mark.parametrize("language", ["en", "es"])
def test_the_words_of_the_wording_files_all_fit(language: Language, drawn: list[Drawn]) -> None:
    """In a kitchen that schedules every duty there is, with the widest counts of a day."""
    content = load_content()
    fryers = tuple(str(n) for n in range(1, 9))
    duties = [daily(duty, "15:00", fryers if kind.per_fryer else None) for duty, kind in content.library.duties.items()]
    log = Log(rules(fryers, duties), calendar(rules()).day_start(DAY))
    end = calendar(log.rules).day_end(DAY)

    def say(words: Words) -> str:
        return content.wording.render(words, language, log.kitchen, end)

    for as_of in (end, calendar(log.rules).instant(DAY, time(16))):
        picture(log, words_by(say, log.rules, DAY), as_of)
    assert [one.what for one in drawn if one.what.endswith(ELLIPSIS)] == []
    assert "missed" in [one.what for one in drawn]


@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(st.text("ABCdefgMW-_19", min_size=1, max_size=12), min_size=1, max_size=8, unique=True),
    st.text(min_size=1, max_size=90).filter(str.strip),
    st.text("lorem ipsumñÁ", min_size=1, max_size=80).filter(str.strip),
)
def test_names_of_any_length_stay_inside_and_clear_of_each_other(
    drawn: list[Drawn], fryers: list[str], kitchen_name: str, duty: str
) -> None:
    drawn.clear()
    kitchen = rules(tuple(fryers), count=3, name=kitchen_name)
    words = picture_words("es", fryers)
    words = PictureWords(words.labels, {**words.duties, "midshift_filter": duty}, words.fryers, words.dates)
    image = picture(month_of_work(kitchen, days=2), words)
    for one in drawn:
        assert one.box[0] >= -2 and one.box[2] <= image.width + 2, one
    clear = [one for one in drawn if one.what in MARKS or one.what in fryers]
    assert [(a, b) for a, b in combinations(clear, 2) if overlap(a, b)] == []


def test_a_full_hundred_percent_leaves_room_for_the_figures_beside_it(drawn: list[Drawn]) -> None:
    kitchen = rules(count=3)
    picture(month_of_work(kitchen, days=6, share_on_time=1.0), picture_words("en", ("1", "2", "3")))
    assert "100" in [one.what for one in drawn]
    assert [(a, b) for a, b in combinations(drawn, 2) if overlap(a, b)] == []


def test_the_grid_shows_the_verdict_of_each_duty_on_each_fryer() -> None:
    kitchen = rules(
        duties=(
            daily("pad_change", "15:00", ("1", "2", "3")),
            daily("oil_test", "21:00", ("1",)),
            daily("fire_check", "16:00", None),
        )
    )
    days = calendar(kitchen)
    log = Log(kitchen, days.instant(DAY, time(10)))
    log.add(days.instant(DAY, time(14)), r.OutageBegan(log.entry(), "3", "maya"))
    log.done("pad_change", "1", days.instant(DAY, time(15, 30)))
    log.done("pad_change", "2", days.instant(DAY, time(15, 31)))
    report = judge_day(log.state, DAY, days.instant(DAY, time(17)))
    assert report is not None
    assert {row.duty: dict(row.marks) for row in marks(report, kitchen)} == {
        "pad_change": {"1": "on_time", "2": "late", "3": "excused"},
        "oil_test": {"1": "not_due"},
        "fire_check": {None: "open"},
    }


def test_the_tally_counts_what_stands_in_the_grid(drawn: list[Drawn]) -> None:
    kitchen = rules(count=4)
    log = month_of_work(kitchen, seed=7, share_on_time=0.5)
    picture(log, picture_words("es", ("1", "2", "3")))
    total = judge_day(log.state, DAY, calendar(kitchen).day_end(DAY)).total  # type: ignore[union-attr]
    for mark in ("on_time", "late", "missed"):
        # One of each stands in the legend, the others in the grid.
        assert sum(one.what == mark for one in drawn) == 1 + getattr(total, mark)


def test_while_the_day_runs_the_figure_is_called_so_far(drawn: list[Drawn]) -> None:
    kitchen = rules(count=3)
    log = month_of_work(kitchen, until=time(18))
    picture(log, picture_words("en", ("1", "2", "3")), as_of=calendar(kitchen).instant(DAY, time(18)))
    said = [one.what for one in drawn]
    assert "so far" in said
    assert "done on time" not in said


def test_a_closed_day_says_so_and_shows_no_rate(drawn: list[Drawn]) -> None:
    kitchen = rules(count=3)
    monday = DAY - timedelta(days=1)
    picture(month_of_work(kitchen), picture_words("en", ("1", "2", "3"), monday), day=monday)
    assert "Closed today" in [one.what for one in drawn]
    assert "done on time" not in [one.what for one in drawn]


def test_a_kitchen_without_duties_still_gets_a_picture() -> None:
    kitchen = rules(duties=())
    log = Log(kitchen, calendar(kitchen).instant(DAY, time(10)))
    assert picture(log, picture_words("es", ("1", "2", "3"))).width == WIDTH


def test_a_day_before_the_log_has_no_picture() -> None:
    kitchen = rules()
    log = Log(kitchen, calendar(kitchen).instant(DAY, time(10)))
    long_ago = DAY - timedelta(days=9)
    with pytest.raises(DayNotLoggedError):
        summary_picture(log.state, long_ago, calendar(kitchen).day_end(DAY), picture_words("en", ("1",), long_ago))


def test_the_same_day_gives_the_same_picture() -> None:
    log = month_of_work(rules())
    words = picture_words("es", ("1", "2", "3"))
    end = calendar(log.rules).day_end(DAY)
    assert summary_picture(log.state, DAY, end, words) == summary_picture(log.state, DAY, end, words)


def test_the_strip_has_four_weeks_that_end_with_the_day() -> None:
    kitchen = rules(count=3)
    log = month_of_work(kitchen, days=10)
    figures = last_days(log.state, DAY, calendar(kitchen).day_end(DAY))
    assert [f.day for f in figures] == [DAY - timedelta(days=back) for back in range(27, -1, -1)]
    assert [f.logged for f in figures] == [False] * 17 + [True] * 11
    assert all(f.judged == 0 for f in figures if f.day.weekday() == 0)
    report = judge_day(log.state, DAY, calendar(kitchen).day_end(DAY))
    assert report is not None
    assert (figures[-1].on_time, figures[-1].judged) == (report.total.on_time, report.total.judged)


def test_words_come_from_whoever_says_them_with_the_dates_the_picture_names() -> None:
    words = words_by(lambda words: f"<{words.id} {words.params.get('on', '')}>", rules(count=2), DAY)
    assert words.labels["picture.title"] == "<picture.title >"
    assert set(words.duties) == {"pad_change", "midshift_filter"}
    assert words.dates[DAY] == "<picture.date 2026-09-15>"
    assert set(words.dates) == set(dates_needed(DAY))


def test_a_missing_label_is_refused_at_once() -> None:
    with pytest.raises(ValueError, match=r"picture\.late"):
        PictureWords({label: "x" for label in LABELS if label != "picture.late"}, {}, {}, {})


def test_the_words_ask_the_wording_for_nothing_but_known_ids() -> None:
    asked: list[str] = []

    def say(words: Words) -> str:
        asked.append(words.id)
        return words.id

    words_by(say, rules(count=2), DAY)
    assert set(asked) == {*LABELS, "picture.date", *(f"duty.{duty}" for duty in DUTIES[:2])}


@pytest.mark.parametrize("bold", [False, True])
def test_the_font_has_every_letter_of_both_languages(bold: bool) -> None:
    letters = font(40, bold)
    none = bytes(letters.getmask("\uffff"))
    text = "abcdefghijklmnopqrstuvwxyzáéíóúüñ"
    for letter in text + text.upper() + "0123456789%°¿?¡!.,:;-–—/()'\"…":
        assert bytes(letters.getmask(letter)) != none, letter


def test_text_shrinks_before_it_breaks_off() -> None:
    roomy, tight = fit("Filter pad", 400, 40, 20), fit("Filter pad", 130, 40, 20)
    assert (roomy.lines, roomy.size) == (("Filter pad",), 40)
    assert tight.lines == ("Filter pad",)
    assert 20 <= tight.size < 40


@given(st.text(max_size=60), st.integers(40, 400), st.integers(1, 3))
def test_fitted_text_is_never_wider_or_longer_than_it_may_be(text: str, width: int, lines: int) -> None:
    block = fit(text, width, 40, 24, lines)
    assert len(block.lines) <= lines
    assert block.width <= width


@pytest.mark.parametrize(("share", "shown"), [(0, 0), (0.001, 1), (0.5, 50), (0.996, 99), (1, 100)])
def test_a_hundred_percent_means_all_and_zero_means_none(share: float, shown: int) -> None:
    assert whole_percent(share) == shown
