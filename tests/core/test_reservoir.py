"""When the reservoir will be empty, and the evening's reminder."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from bot.core import records as r
from bot.core.kitchen import Supply
from bot.core.library import DutyKind, Library
from bot.core.messages import CREW
from bot.core.open_days import elapsed
from bot.core.reservoir import Reservoir, reservoir
from tests.core.stage import LIBRARY, Stage, ids, kinds, kitchen, local, params

SHELF = Library(
    LIBRARY.guides,
    {
        **LIBRARY.duties,
        "reservoir_swap": DutyKind("reservoir_swap", per_fryer=False, uses="oil_jugs"),
        "pad_change": DutyKind("pad_change", uses="filter_pads"),
    },
    LIBRARY.emergencies,
    languages=LIBRARY.languages,
)


def stage(**changes: object) -> Stage:
    changes.setdefault(
        "supplies", {"filter_pads": Supply(40, 15), "oil_jugs": Supply(6, 3), "seals_black": Supply(9, 6)}
    )
    return Stage(kitchen(**changes), local("2026-09-01 09:00"), SHELF)


def swap(s: Stage, *days: str, hour: str = "16:00") -> None:
    for day in days:
        s.until(local(f"2026-{day} {hour}"))
        s.say("ben", "log.done", duty="reservoir_swap")


def test_the_time_between_swaps_tells_when_the_next_is_due() -> None:
    s = stage()
    swap(s, "09-01", "09-03", "09-05", "09-08")
    found = reservoir(s.scene)
    assert isinstance(found, Reservoir)
    assert abs(found.likely - local("2026-09-10 16:00")) < timedelta(hours=1)
    assert found.early < found.likely < found.late


def test_a_few_swaps_are_too_few_to_name_a_day() -> None:
    s = stage()
    swap(s, "09-01", "09-03", "09-05")
    assert reservoir(s.scene) == "too_few"
    assert "supplies.reservoir_unknown" in ids(s.say("ben", "ask.forecast", item="oil_jugs"))


def test_busy_weekends_shorten_the_time_to_empty() -> None:
    """A jug lasts two days in the week, or a Sunday or a Tuesday alone: after some weeks that is known."""
    s = stage()
    week = [("01", "22:00"), ("03", "22:00"), ("05", "22:00"), ("06", "22:00")]
    for n in range(4):
        for day, hour in week:
            on = date(2026, 9, int(day)) + timedelta(days=7 * n)
            swap(s, f"{on:%m-%d}", hour=hour)
    swap(s, "09-29", hour="22:00")
    swap(s, "10-01", hour="22:00")
    thursday = reservoir(s.scene)
    swap(s, "10-03", hour="22:00")
    saturday = reservoir(s.scene)
    assert isinstance(thursday, Reservoir) and isinstance(saturday, Reservoir)
    lasts = [elapsed(s.scene.days, found.swapped_at, found.likely) for found in (thursday, saturday)]
    assert lasts == pytest.approx([2.0, 1.0], abs=0.1)


def test_the_crew_is_reminded_the_evening_before_and_only_once() -> None:
    s = stage()
    swap(s, "09-01", "09-03", "09-05", "09-08")
    found = reservoir(s.scene)
    assert isinstance(found, Reservoir) and found.remind_at is not None
    assert found.remind_at.astimezone(s.scene.days.zone).hour == 21
    replies = [reply for reply in s.until(local("2026-09-10 15:00")) if "reminder.jug" in ids([reply])]
    assert kinds(replies) == [("reminder", CREW)]
    assert ids(replies) == ["reminder.jug", "supplies.low_until"]


def test_a_swap_in_time_puts_the_reminder_off() -> None:
    s = stage()
    swap(s, "09-01", "09-03", "09-05", "09-08")
    before = reservoir(s.scene)
    assert isinstance(before, Reservoir) and before.remind_at is not None
    s.until(before.remind_at - timedelta(minutes=5))
    s.say("ben", "log.done", duty="reservoir_swap")
    assert "reminder.jug" not in ids(s.until(before.remind_at + timedelta(minutes=5)))


def test_a_reminder_that_was_missed_is_in_the_catch_up() -> None:
    s = stage()
    swap(s, "09-01", "09-03", "09-05", "09-08")
    replies = s.off_until(local("2026-09-10 11:00"))
    assert "reminder.jug" in ids([reply for reply in replies if reply.kind == "catch_up"], CREW)


# --- what is on the shelf ---


def test_the_log_uses_up_what_the_kitchen_file_counted() -> None:
    s = stage()
    s.say("ben", "log.done", duty="pad_change", fryer="1")
    s.say("ben", "log.done", duty="seal_replacement", fryer="1")
    replies = s.say("omar", "ask.supplies")
    assert [line.params["n"] for line in replies[0].lines[:3]] == [39, 6, 6]


def test_a_count_is_offered_taken_on_a_yes_and_counted_on_from_there() -> None:
    s = stage()
    s.say("ben", "log.done", duty="pad_change", fryer="1")
    asked = s.say("omar", "ask.supplies", item="filter_pads", amount=12.0)
    assert ids(asked) == ["supplies.count"] and s.logged(r.StockCounted) == []
    s.say("omar", "talk.yes")
    assert s.logged(r.StockCounted) == [r.StockCounted(2, "filter_pads", 12, "omar")]
    s.now += timedelta(hours=1)
    s.say("ben", "log.done", duty="pad_change", fryer="2")
    assert left(s, "filter_pads") == 11


def test_what_was_done_before_the_count_is_in_it_however_late_it_was_logged() -> None:
    s = stage()
    s.now = local("2026-09-01 12:00")
    s.tap("omar", "stock:filter_pads:12")
    s.now += timedelta(hours=1)
    s.say("ben", "log.done", duty="pad_change", fryer="1", clock="11:30")
    assert left(s, "filter_pads") == 12


def test_a_count_and_a_confirmation_can_be_taken_back() -> None:
    s = stage()
    s.tap("omar", "stock:filter_pads:12")
    s.now += timedelta(minutes=1)
    s.say("ben", "log.done", duty="pad_change", fryer="1")
    s.press("ben", "button.undo")
    assert left(s, "filter_pads") == 12
    s.press("omar", "button.undo")
    assert left(s, "filter_pads") == 40


def test_seals_of_several_colours_are_counted_by_colour() -> None:
    s = stage(supplies={"seals_black": Supply(9, 6), "seals_brown": Supply(3, 3)})
    asked = s.say("omar", "ask.supplies", item="seals", amount=6.0)
    assert [b.action for b in asked[0].buttons] == ["stock:seals_black:6", "stock:seals_brown:6"]


def test_impossible_counts_are_refused() -> None:
    s = stage()
    assert ids(s.say("omar", "ask.supplies", item="filter_pads", amount=2.5)) == ["supplies.odd"]
    for forged in ("stock:gold:3", "stock:filter_pads:-1", "stock:filter_pads:x", "stock:filter_pads:9999999"):
        assert ids(s.tap("omar", forged)) == ["tap.stale"]


def test_an_order_is_due_its_lead_time_before_the_shelf_is_empty() -> None:
    s = stage(supplies={"oil_jugs": Supply(20, 3, 5)})
    swap(s, "09-01", "09-02", "09-03", "09-04", "09-05", "09-06", "09-08", "09-09", "09-10")
    replies = s.say("omar", "ask.supplies")
    line = params(replies, "supplies.fine_until")
    assert line["n"] == 11
    assert line["until"] - line["by"] == timedelta(days=5)
    # Nine in nine and a bit days: eleven last about eleven more.
    assert date(2026, 9, 20) <= line["until"] <= date(2026, 9, 23)


def test_the_order_list_is_one_message_with_the_seals_sizes_and_fryers() -> None:
    s = stage(supplies={"seals_black": Supply(3, 6), "filter_pads": Supply(400, 15)})
    replies = s.tap("omar", "order")
    assert len(replies) == 1
    assert ids(replies) == ["supplies.order_head", "supplies.order_line", "supplies.seal_fits"]
    assert params(replies, "supplies.seal_fits")["size"] == "25 x 3 mm"
    assert params(replies, "supplies.order_line")["n"] % 3 == 0
    assert ids(stage(supplies={"filter_pads": Supply(400, 15)}).tap("omar", "order")) == ["supplies.nothing_to_order"]


def left(s: Stage, item: str) -> int:
    replies = s.say("omar", "ask.supplies", item=item)
    count: int = replies[0].lines[0].params["n"]
    return count
