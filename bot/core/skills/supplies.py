"""Supplies: what is left, what to order and by when, the count on the shelf, and the reservoir."""

from __future__ import annotations

from bot.core import records as r
from bot.core.actions import action
from bot.core.messages import CREW, Button, Outcome, Reply, Words
from bot.core.reservoir import FEWEST_GAPS, Reservoir, reservoir
from bot.core.scene import Scene, Speaker, fryer_words
from bot.core.skills import asking
from bot.core.stock import SEALS, Stock, seals_of, stocks
from intents.types import Slots

JUGS = "oil_jugs"

COLOURS = frozenset({"black", "blue", "brown", "clear", "gray", "green", "grey", "orange", "red", "white", "yellow"})
"""Those of seals that there are words for."""

MOST = 100_000
"""A larger count is a slip of the thumb."""


def left(scene: Scene, who: Speaker, slots: Slots) -> Outcome:
    """What should be left of each supply (of one, where one is named), how long it lasts, and what to order.

    Where the message names a supply and a number, it may be a count: that is asked.
    """
    if not scene.kitchen.supplies:
        return scene.answer(who, Words("supplies.none"))
    named = _named(scene, slots.item)
    if named and slots.amount is not None:
        return _offer_count(scene, who, named, slots.amount)
    found = [stock for stock in stocks(scene) if not named or stock.item in named]
    lines = [stock_line(stock) for stock in found]
    lines += [fit for stock in found if slots.item == "seals" for fit in _fits(scene, stock.item)]
    if not named or JUGS in named:
        lines.append(reservoir_line(scene))
    buttons = (Button(Words("button.order_list"), action("order")),)
    return scene.answer(who, *lines, Words("supplies.by_log"), buttons=buttons)


def order_list(scene: Scene, who: Speaker) -> Outcome:
    """What to order now, in one message that can be passed on as it is."""
    due = [stock for stock in stocks(scene) if stock.due]
    if not due:
        return scene.answer(who, Words("supplies.nothing_to_order"))
    lines = [Words("supplies.order_head", {"kitchen": scene.kitchen.name, "on": scene.today})]
    for stock in due:
        lines.append(Words("supplies.order_line", {"item": item_words(stock.item), "n": stock.enough}))
        lines += _fits(scene, stock.item)
    return scene.answer(who, *lines)


def take_count(scene: Scene, who: Speaker, item: str, count: int) -> Outcome | None:
    """Set the stock of one supply to what was counted; None for what no kitchen has or counts."""
    if item not in scene.kitchen.supplies or not 0 <= count <= MOST:
        return None
    counted = r.StockCounted(scene.next_entry, item, count, who.person.id)
    line = Words("supplies.counted", {"item": item_words(item), "n": count})
    undo = Button(Words("button.undo"), action("undo", counted.entry, counted.entry))
    return scene.answer(who, line, buttons=(undo,), changes=(counted,))


def stock_line(stock: Stock) -> Words:
    """What is left of one supply, in a line."""
    params: dict[str, object] = {"item": item_words(stock.item), "n": stock.left}
    if stock.until is None or stock.order_by is None:
        return Words("supplies.low" if stock.due else "supplies.fine", params)
    params["until"] = stock.until
    if stock.due:
        return Words("supplies.low_until", params)
    return Words("supplies.fine_until", {**params, "by": stock.order_by})


def low(scene: Scene) -> list[Stock]:
    """The supplies that it is time to order."""
    return [stock for stock in stocks(scene) if stock.due]


def reservoir_line(scene: Scene) -> Words:
    """When the reservoir will be empty, in a line."""
    found = reservoir(scene)
    if not isinstance(found, Reservoir):
        return Words("supplies.reservoir_unknown", {"n": FEWEST_GAPS + 1})
    if found.likely <= scene.now:
        return Words("supplies.reservoir_over")
    days = scene.days
    params = {"day": days.day_of(found.likely), "early": days.day_of(found.early), "late": days.day_of(found.late)}
    return Words("supplies.reservoir", params)


def jug_lines(scene: Scene) -> tuple[Words, ...]:
    """The lines of the evening's reminder that a full jug should stand ready."""
    stock = next((stock for stock in stocks(scene) if stock.item == JUGS), None)
    return (Words("reminder.jug"), *((stock_line(stock),) if stock is not None else ()))


def jug_reminder(scene: Scene) -> Reply:
    """The evening's reminder, to the crew."""
    return Reply(CREW, "reminder", jug_lines(scene))


def item_words(name: str) -> Words:
    """A supply as people call it."""
    if name.startswith(SEALS):
        colour = name.removeprefix(SEALS)
        # A kitchen file may call a colour what it likes; the common names are said in the reader's language.
        return Words("supply.seals", {"colour": Words(f"colour.{colour}") if colour in COLOURS else colour})
    return Words(f"supply.{name}")


def _named(scene: Scene, item: str | None) -> list[str]:
    """The kitchen's supplies that a named one may be: seals come in colours."""
    if item is None:
        return []
    return [name for name in scene.kitchen.supplies if name == item or (item == "seals" and name.startswith(SEALS))]


def _offer_count(scene: Scene, who: Speaker, named: list[str], amount: float) -> Outcome:
    if amount != int(amount) or not 0 <= amount <= MOST:
        return scene.answer(who, Words("supplies.odd", {"n": amount}))
    count = int(amount)
    if len(named) > 1:
        buttons = tuple(Button(item_words(name), action("stock", name, count)) for name in named)
        return asking.ask(scene, who, (Words("supplies.which_count", {"n": count}),), buttons)
    question = Words("supplies.count", {"item": item_words(named[0]), "n": count})
    yes = Button(Words("button.counted"), action("stock", named[0], count))
    return asking.yes_no(scene, who, (question,), yes, Button(Words("button.not_now"), action("no")))


def _fits(scene: Scene, item: str) -> list[Words]:
    """Which seals of that colour fit which fryers: sizes are not interchangeable."""
    return [
        Words(
            "supplies.seal_fits",
            {"size": seals.size, "n": seals.count, "fryers": tuple(fryer_words(fryer) for fryer in fryers)},
        )
        for seals, fryers in seals_of(scene, item).items()
    ]
