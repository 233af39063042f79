"""The oil: readings, temperatures, basket drops, and how long it may last."""

from __future__ import annotations

from datetime import timedelta

from bot.core import records as r, reservoir, schedule
from bot.core.actions import action
from bot.core.forecast import FEWEST, WATCH_PERCENT, OilLife, cost_a_day, oil_life
from bot.core.messages import Button, Outcome, Words
from bot.core.scene import Scene, Speaker, fryer_words
from bot.core.schedule import Slot
from bot.core.skills import asking, reminders, service, supplies
from bot.core.times import stamp
from intents.types import Slots

CUT_OUT_F = 475.0
"""A high limit cuts the heat at 475 °F (246 °C), 1 in below the surface: NYC Fire Code 609.4.1.1.2."""

HOTTER_THAN_FRYING_F = 400.0
"""Nothing is fried in oil this hot (204 °C); common practice: kitchens fry at 325 to 375 °F."""

SURELY_F = 300.0
"""From here on a temperature without a unit is in °F: oil at 300 °C would be close to burning by itself."""

MOST_DROPS = 500
"""More drops than this in one message is a slip of the thumb."""


def log_test(scene: Scene, who: Speaker, slots: Slots) -> Outcome:
    """Log an oil test and say what it means against the kitchen's limit."""
    if slots.amount is None:
        return scene.answer(who, Words("oil.which_value"))
    if slots.unknown_fryer is not None:
        return asking.unknown_fryer(scene, who, slots.unknown_fryer)
    if not 0 <= slots.amount <= 100:
        return scene.answer(who, Words("oil.no_percent", {"value": slots.amount}))
    value = slots.amount
    fryer = _fryer(scene, who, slots)
    if fryer is None:
        return asking.which_fryer(scene, who, lambda f: action("read", "oil_test", f, f"{value:g}", "percent"))
    return take_reading(scene, who, "oil_test", fryer, value, "percent")


def log_temperature(scene: Scene, who: Speaker, slots: Slots) -> Outcome:
    """Log a temperature; ask for the unit where the message has none."""
    if slots.amount is None:
        return scene.answer(who, Words("oil.which_temperature"))
    if slots.unknown_fryer is not None:
        return asking.unknown_fryer(scene, who, slots.unknown_fryer)
    value = slots.amount
    unit = slots.unit if slots.unit in ("F", "C") else None
    fryer = _fryer(scene, who, slots)
    if fryer is None:
        return asking.which_fryer(scene, who, lambda f: action("read", "temperature", f, f"{value:g}", unit))
    return take_reading(scene, who, "temperature", fryer, value, unit)


def take_reading(scene: Scene, who: Speaker, what: str, fryer: str, value: float, unit: str | None) -> Outcome:
    """Log one reading. A test also does the day's oil-test duty, where that is open."""
    if what == "oil_test":
        return _take_test(scene, who, fryer, value)
    if unit not in ("F", "C") and SURELY_F <= value <= 1000:
        unit = "F"
    if unit not in ("F", "C"):
        buttons = tuple(
            Button(Words(f"unit.{u}"), action("read", "temperature", fryer, f"{value:g}", u)) for u in ("F", "C")
        )
        return asking.ask(scene, who, (Words("oil.which_unit", {"value": value}),), buttons)
    fahrenheit = value if unit == "F" else value * 9 / 5 + 32
    if not -60 <= fahrenheit <= 1000:
        return scene.answer(who, Words("oil.no_temperature", {"value": value, "unit": Words(f"unit.{unit}")}))
    taken = r.ReadingTaken(scene.next_entry, "temperature", fryer, value, "F" if unit == "F" else "C", who.person.id)
    lines = [Words("oil.temperature_logged", {"fryer": fryer_words(fryer), "value": value, "unit": _unit(unit)})]
    if fahrenheit >= CUT_OUT_F:
        lines.insert(0, Words("oil.above_cut_out"))
        lines += service.call_lines(scene, fryer)
    buttons = (_undo(taken.entry),)
    if HOTTER_THAN_FRYING_F <= fahrenheit < CUT_OUT_F:
        lines.insert(0, Words("oil.above_frying"))
        buttons = (Button(Words("topic.fault.too_hot"), action("topic", "fault.too_hot", fryer)), *buttons)
    return scene.answer(who, *lines, buttons=buttons, changes=(taken,))


def log_drops(scene: Scene, who: Speaker, slots: Slots) -> Outcome:
    """Count basket drops on a fryer."""
    if slots.unknown_fryer is not None:
        return asking.unknown_fryer(scene, who, slots.unknown_fryer)
    amount = int(slots.amount) if slots.amount is not None else 1
    if not 1 <= amount <= MOST_DROPS or (slots.amount is not None and amount != slots.amount):
        return scene.answer(who, Words("drops.odd", {"n": slots.amount or 0}))
    fryer = _fryer(scene, who, slots)
    if fryer is None:
        return asking.which_fryer(scene, who, lambda f: action("drops", f, amount))
    return count_drops(scene, who, fryer, amount)


def count_drops(scene: Scene, who: Speaker, fryer: str, amount: int) -> Outcome:
    """Log drops; what they make due comes up by itself (``schedule.pending``)."""
    counted = r.DropsCounted(scene.next_entry, fryer, amount, who.person.id)
    line = Words("drops.logged", {"fryer": fryer_words(fryer), "n": amount})
    return scene.answer(who, line, buttons=(_undo(counted.entry),), changes=(counted,))


def forecast(scene: Scene, who: Speaker, slots: Slots) -> Outcome:
    """How long the oil lasts, vat by vat, with advice; where the reservoir is asked about, that."""
    if slots.unknown_fryer is not None:
        return asking.unknown_fryer(scene, who, slots.unknown_fryer)
    if slots.item == supplies.JUGS or slots.duty == reservoir.SWAP:
        return scene.answer(who, supplies.reservoir_line(scene))
    fryers = [slots.fryer] if slots.fryer is not None else [f.id for f in scene.kitchen.fryers]
    lines = [line for fryer in fryers for line in _life_lines(scene, fryer)]
    return scene.answer(who, *lines)


def reach_words(scene: Scene, fryer: str, life: OilLife) -> Words | None:
    """The day on which the limit is reached, in a line; None where no day can be named."""
    reach = life.reach
    if reach is None:
        return None
    params: dict[str, object] = {
        "fryer": fryer_words(fryer),
        "limit": life.limit,
        "day": scene.days.day_of(reach.likely),
        "early": scene.days.day_of(reach.early),
    }
    if reach.late is None:
        return Words("oil.reach_open", params)
    return Words("oil.reach", {**params, "late": scene.days.day_of(reach.late)})


def _life_lines(scene: Scene, fryer: str) -> list[Words]:
    life = oil_life(scene, fryer)
    params: dict[str, object] = {"fryer": fryer_words(fryer)}
    if not life.fill.readings:
        return [Words("oil.no_reading", params)]
    last = life.fill.readings[-1]
    lines = [Words("oil.last_reading", {**params, "value": last.percent, "at": last.at, "limit": _limit(scene)})]
    reach = reach_words(scene, fryer, life)
    if reach is not None:
        lines.append(reach)
    elif life.why_not == "too_few":
        lines.append(Words("oil.too_few", {**params, "n": FEWEST, "have": len(life.fill.readings)}))
    elif life.why_not == "no_growth":
        lines.append(Words("oil.no_growth", params))
    else:
        lines.append(Words("oil.no_limit_day", params))
    lines.append(Words(f"oil.{life.advice}"))
    cost = cost_a_day(scene, fryer, life)
    if cost is not None:
        lines.append(Words("oil.cost", {"cost": round(cost, 2)}))
    return lines


def _take_test(scene: Scene, who: Speaker, fryer: str, value: float) -> Outcome:
    taken = r.ReadingTaken(scene.next_entry, "oil_test", fryer, value, "percent", who.person.id)
    changes: list[r.Change] = [taken]
    done_now: dict[Slot, r.Confirmed] = {}
    slot = schedule.slot(scene.rules, "oil_test", fryer)
    occurrence = schedule.open_occurrence(scene.state, slot, scene.now) if slot is not None else None
    if slot is not None and occurrence is not None:
        status = schedule.status_of(occurrence, scene.now)
        confirmed = r.Confirmed(taken.entry + 1, "oil_test", fryer, scene.now, occurrence.due_at, status, who.person.id)
        changes.append(confirmed)
        done_now[slot] = confirmed
    params = {"fryer": fryer_words(fryer), "value": value, "limit": _limit(scene)}
    limit = scene.kitchen.polar_limit_percent
    life = oil_life(scene, fryer, just_taken=value)
    buttons = [Button(Words("button.undo"), action("undo", taken.entry, taken.entry + len(done_now)))]
    alerts = Outcome()
    if limit is not None and value >= limit:
        lines = [Words("oil.over_limit", params)]
        buttons.insert(0, Button(Words("button.discard_guide"), action("walk", "guide.oil_discard", fryer)))
        alerts = service.alert_leads(scene, who, Words("alert.oil_over_limit", params))
    elif value >= WATCH_PERCENT:
        lines = [Words("oil.watch" if life.advice != "change_tonight" else "oil.fine", params)]
    else:
        lines = [Words("oil.fine", params)]
    if limit is None or value < limit:
        lines += _outlook(scene, fryer, life)
        if life.advice == "change_tonight":
            buttons.insert(0, Button(Words("button.discard_guide"), action("walk", "guide.oil_discard", fryer)))
    if life.fill.fell_from is not None and len(life.fill.readings) == 1:
        lines.append(Words("oil.fell", {"before": life.fill.fell_from.percent}))
        # A minute before the test, so that the test is of the new oil.
        changed = stamp(scene.now - timedelta(minutes=1))
        buttons.append(Button(Words("button.oil_changed"), action("did", "oil_change", fryer, changed)))
    outcome = scene.answer(who, *lines, buttons=tuple(buttons), changes=tuple(changes))
    return outcome + alerts + Outcome(replies=reminders.after_confirming(scene, done_now))


def _fryer(scene: Scene, who: Speaker, slots: Slots) -> str | None:
    if slots.fryer is not None:
        return slots.fryer
    if len(scene.kitchen.fryers) == 1:
        return scene.kitchen.fryers[0].id
    return asking.mentioned_fryer(scene, who)


def _outlook(scene: Scene, fryer: str, life: OilLife) -> list[Words]:
    """What a test that was just logged adds to the trend: nothing, while no day can be named."""
    reach = reach_words(scene, fryer, life)
    if reach is None:
        return []
    if life.advice == "test_tomorrow" and life.fill.readings[-1].percent >= WATCH_PERCENT:
        # The line above says so already.
        return [reach]
    return [reach, Words(f"oil.{life.advice}")]


def _limit(scene: Scene) -> Words:
    limit = scene.kitchen.polar_limit_percent
    return Words("oil.limit", {"limit": limit}) if limit is not None else Words("oil.no_limit")


def _unit(unit: str) -> Words:
    return Words(f"unit.{unit}")


def _undo(entry: int) -> Button:
    return Button(Words("button.undo"), action("undo", entry, entry))
