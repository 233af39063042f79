"""One fryer at a glance, as its sticker opens it: how it stands, and what to do next."""

from __future__ import annotations

from datetime import timedelta
from math import ceil

from bot.core import cooldown, records as r, slot_items
from bot.core.actions import action
from bot.core.messages import Button, Outcome, Words
from bot.core.scene import Scene, Speaker, duty_words, fryer_words
from bot.core.schedule import Occurrence
from bot.core.skills import asking, waits
from intents.types import Slots

MOST_BUTTONS = 8

HOW = ("guide.pad_change", "guide.filter_midshift", "guide.filter_closing", "guide.skim", "guide.drain",
       "guide.oil_test", "guide.start_up", "guide.shut_down")  # fmt: skip
"""What is asked at a fryer most (our own choice), as far as there are guides for it."""


def show(scene: Scene, who: Speaker, fryer: str) -> Outcome:
    """The card of one fryer: service, waits, what is due, the oil; buttons for all that one may want there."""
    found = scene.kitchen.fryer(fryer)
    if found is None:
        return asking.unknown_fryer(scene, who, fryer)
    named = Words("card.named", {"fryer": fryer_words(found), "name": found.names[0]}) if found.names else None
    lines = [named or fryer_words(found)]
    if scene.state.out_of_service(fryer, scene.now):
        lines.append(Words("card.down"))
    lines += _waits(scene, fryer)
    lines += _due(scene, fryer)
    lines.append(_oil(scene, fryer))
    buttons = (
        Button(Words("button.card_ask"), action("card", "ask", fryer)),
        Button(Words("button.card_problem"), action("card", "problem", fryer)),
        Button(Words("button.card_done"), action("card", "done", fryer)),
        Button(Words("button.card_wait"), action("card", "wait", fryer)),
    )
    return scene.answer(who, *lines, buttons=buttons, changes=(r.FryerMentioned(who.person.id, fryer),))


def tapped(scene: Scene, who: Speaker, what: str, fryer: str) -> Outcome | None:
    """Go on from the card; None for what is on no card."""
    mentioned = Outcome((r.FryerMentioned(who.person.id, fryer),))
    match what:
        case "ask":
            topics = [t for t in HOW if t in scene.library.guides]
            return mentioned + _topics(scene, who, Words("card.ask", {"fryer": fryer_words(fryer)}), topics, fryer)
        case "problem":
            question = Words("card.problem", {"fryer": fryer_words(fryer)})
            return mentioned + _topics(scene, who, question, list(scene.library.faults), fryer)
        case "done":
            return mentioned + _which_duty(scene, who, fryer)
        case "wait":
            return mentioned + waits.start(scene, who, Slots(fryer=fryer))
        case _:
            return None


def _topics(scene: Scene, who: Speaker, question: Words, topics: list[str], fryer: str) -> Outcome:
    buttons = tuple(Button(Words(f"topic.{topic}"), action("topic", topic, fryer)) for topic in topics)
    return asking.ask(scene, who, (question,), buttons)


def _which_duty(scene: Scene, who: Speaker, fryer: str) -> Outcome:
    """The duties of this fryer to choose from, those that are open first."""
    open_now = [o.slot.duty.id for o in _open(scene, fryer)]
    others = [duty.id for duty in scene.rules.duties if fryer in (duty.fryers or ())]
    duties = list(dict.fromkeys([*open_now, *others]))[:MOST_BUTTONS]
    buttons = tuple(Button(duty_words(duty), action("done", duty, fryer)) for duty in duties)
    return asking.ask(scene, who, (Words("card.done" if duties else "done.which_none"),), buttons)


def _waits(scene: Scene, fryer: str) -> list[Words]:
    running = [w for w in scene.state.waits.values() if w.fryer == fryer and w.ended is None]
    lines = []
    for wait in running:
        # Rounded up: a wait that has 20 seconds left is not over.
        minutes = max(1, ceil((wait.ends_at - scene.now) / timedelta(minutes=1)))
        params = {"left": timedelta(minutes=minutes), "until": wait.ends_at}
        lines.append(Words("wait.left", {**cooldown.params(wait.part, fryer), **params}))
    return [*lines, Words("wait.do_not_reset")] if lines else []


def _due(scene: Scene, fryer: str) -> list[Words]:
    wanted = _open(scene, fryer)
    if not wanted:
        return [Words("card.nothing_due")]
    return [Words("due.line", {"what": duty_words(o.slot.duty.id), "due": o.due_at}) for o in wanted]


def _oil(scene: Scene, fryer: str) -> Words:
    for entry in reversed(scene.state.log):
        match entry.change:
            case r.ReadingTaken(what="oil_test", fryer=tested, value=value) if tested == fryer and not entry.undone:
                limit = scene.kitchen.polar_limit_percent
                known = Words("oil.limit", {"limit": limit}) if limit is not None else Words("oil.no_limit")
                return Words("card.oil", {"value": value, "at": entry.at, "limit": known})
    return Words("card.no_oil_test")


def _open(scene: Scene, fryer: str) -> list[Occurrence]:
    return [o for o in slot_items.open_occurrences(scene) if o.slot.fryer == fryer]
