"""What a tapped button does. Whatever a tap carries is checked again: it may be old, or forged."""

from __future__ import annotations

from datetime import date, timedelta

from bot.core import cooldown, slash, topics
from bot.core.actions import Action, action, parse
from bot.core.messages import Button, Objection, Outcome, Words
from bot.core.scene import Scene, Speaker
from bot.core.skills import (
    aftermath,
    duties,
    duty_times,
    emergencies,
    faults,
    guides,
    hearing,
    learning,
    moving,
    oil,
    service,
    speaking,
    summaries,
    supplies,
    talk,
    training,
    undoing,
    waits,
)
from bot.core.skills.duties import Deed
from bot.core.times import unstamp
from intents.types import Part, Slots, Understood


def act(
    scene: Scene, who: Speaker, written: str, secret: str | None = None, objection: Objection | None = None
) -> Outcome:
    """Do what a button says, as things stand now; a button that makes no sense any more is told so.

    ``secret`` is for a link that may have to be made, ``objection`` for a phrase that may be taught.
    """
    done = parse(written)
    try:
        outcome = (
            _act(scene, who, done)
            or slash.act(scene, who, done.verb, done.args, secret)
            or learning.act(scene, who, done.verb, done.args, topics.known(scene), objection)
        )
    except (ValueError, OverflowError):
        outcome = None
    if outcome is not None:
        return outcome
    now = Button(Words("topic.ask.due"), action("topic", "ask.due", None))
    return scene.answer(who, Words("tap.stale"), buttons=(now,))


def _act(scene: Scene, who: Speaker, done: Action) -> Outcome | None:
    match done.verb, done.args:
        case "done", (str() as duty, fryer) if _known(scene, duty, fryer):
            return _done(scene, who, duty, fryer)
        case "did", (str() as duty, fryer, str() as at) if _known(scene, duty, fryer):
            when = unstamp(at)
            return duties.confirm(scene, who, [Deed(duty, fryer, min(when, scene.now))])
        case "didall", (str() as duty, str() as at) if _known(scene, duty, None):
            return duties.done_on_all(scene, who, duty, unstamp(at))
        case "alldue", (str() as at, str() as asked_at):
            return duties.all_due_done(scene, who, unstamp(at), unstamp(asked_at))
        case "later", (str() as duty, fryer) if _known(scene, duty, fryer):
            return _later(scene, who, duty, fryer)
        case "rush", (str() as duty, fryer) if _known(scene, duty, fryer):
            return duties.snooze_past_rush(scene, who, Slots(duty=duty, fryer=fryer))
        case "fewer", (("on" | "off") as wanted,):
            return duties.fewer(scene, who, wanted == "on")
        case "move", (str() as duty,):
            return moving.times(scene, who, duty)
        case "moveto", (str() as duty, str() as clock):
            return moving.move(scene, who, duty, clock)
        case "last", (str() as duty, fryer) if _known(scene, duty, fryer):
            return duty_times.last_done(scene, who, Slots(duty=duty, fryer=fryer))
        case "undo", (str() as first, str() as last) if 0 <= int(last) - int(first) < 50:
            return undoing.undo_entries(scene, who, int(first), int(last))
        case "walk", (str() as topic, fryer) if _fryer_ok(scene, fryer):
            return _topic(scene, who, topic, fryer) if topic in scene.library.guides else None
        case "go", (str() as topic, fryer, str() as place) if _fryer_ok(scene, fryer):
            return guides.go(scene, who, topic, fryer, int(place), edit=True)
        case "stop", ():
            return guides.stop(scene, who)
        case ("wait" | "reset" | "unwait" | "clicked") as verb, (str() as part, fryer, *rest) if (
            part in cooldown.PARTS and _fryer_ok(scene, fryer)
        ):
            return _wait(scene, who, verb, part, fryer, rest)
        case "read", (str() as what, str() as fryer, str() as value, unit) if _fryer_ok(scene, fryer):
            return oil.take_reading(scene, who, what, fryer, float(value), unit)
        case "drops", (str() as fryer, str() as amount) if _fryer_ok(scene, fryer):
            if not 1 <= int(amount) <= oil.MOST_DROPS:
                return None
            return oil.count_drops(scene, who, fryer, int(amount))
        case "down", (str() as fryer,) if _fryer_ok(scene, fryer):
            return service.take_down(scene, who, fryer)
        case "up", (str() as fryer,) if _fryer_ok(scene, fryer):
            return service.bring_up(scene, who, fryer)
        case "more", (str() as on,):
            return summaries.more(scene, who, date.fromisoformat(on))
        case "sum", (("week" | "month") as period,):
            return summaries.of_period(scene, who, period)
        case "order", ():
            return supplies.order_list(scene, who)
        case "stock", (str() as item, str() as count):
            return supplies.take_count(scene, who, item, int(count))
        case "lang", (str() as code,) if code in scene.library.languages:
            return talk.choose_language(scene, who, code)
        case "calm", (("fire" | "burn" | "gas") as what, str() as stamp):
            return emergencies.calm(scene, who, what, int(stamp))
        case "after", (("fire" | "burn" | "gas") as what, str() as stamp, ("over" | "not_over") as now):
            return aftermath.answer(scene, who, what, int(stamp), now == "over")
        case "voice", ("off",):
            return speaking.text_only(scene, who)
        case "heard", (str() as number,):
            return hearing.right(scene, who, int(number), topics.answer)
        case "topic", (str() as topic, fryer) if _fryer_ok(scene, fryer):
            return _topic(scene, who, topic, fryer)
        case "topic", (str() as topic, fryer, str() as lesson) if _fryer_ok(scene, fryer):
            outcome = _topic(scene, who, topic, fryer)
            return outcome and Outcome(learning.meant(scene, who, lesson, topic)) + outcome
        case "fault", args:
            return faults.tapped(scene, who, args)
        case "quiz", (str() as topic, given):
            return training.quiz(scene, who, topic, given or "")
        case "sign", (str() as topic, str() as person):
            return training.sign(scene, who, topic, person)
        case "unsign", (str() as topic, str() as person):
            return training.unsign(scene, who, topic, person)
        case "trained", (str() as topic,):
            return training.trained(scene, who, topic)
        case "train", (str() as page,) if int(page) >= 0:
            return training.panel(scene, who, int(page))
        case "none", lesson:
            changes = learning.meant(scene, who, lesson[0] if lesson else None, None)
            return scene.answer(who, Words("ask.dont_know"), service.whom_to_ask(scene), changes=changes)
        case "no", ():
            return scene.answer(who, Words("talk.left_it"))
        case _:
            return None


def _done(scene: Scene, who: Speaker, duty: str, fryer: str | None) -> Outcome:
    if fryer is None and duties.needs_fryer(scene, duty):
        return duties.done(scene, who, Understood("", "log.done", 1.0, scene.language_of(who.person), Slots(duty=duty)))
    return duties.confirm(scene, who, [Deed(duty, fryer, scene.now)], only_if_open=True)


def _later(scene: Scene, who: Speaker, duty: str, fryer: str | None) -> Outcome:
    minutes = int(duties.LATER / timedelta(minutes=1))
    return duties.snooze(scene, who, Slots(duty=duty, fryer=fryer, minutes=minutes))


def _wait(
    scene: Scene, who: Speaker, verb: str, part: Part, fryer: str | None, rest: list[str | None]
) -> Outcome | None:
    match verb, rest:
        case "wait", []:
            return waits.start_wait(scene, who, part, fryer)
        case "reset", []:
            return waits.reset_wanted(scene, who, part, Slots(fryer=fryer))
        case "unwait", [] if fryer is not None:
            return waits.cancel_wait(scene, who, part, fryer)
        case "clicked", [("yes" | "no") as worked] if fryer is not None:
            return waits.outcome_of_reset(scene, who, part, fryer, worked == "yes")
        case _:
            return None


def _topic(scene: Scene, who: Speaker, topic: str, fryer: str | None) -> Outcome | None:
    understood = Understood("", topic, 1.0, scene.language_of(who.person), Slots(fryer=fryer))
    if topic.startswith("emergency."):
        return None
    return topics.answer(scene, who, topic, understood)


def _known(scene: Scene, duty: str, fryer: str | None) -> bool:
    named = duty in scene.library.duties or scene.kitchen.duty(duty) is not None
    return named and _fryer_ok(scene, fryer)


def _fryer_ok(scene: Scene, fryer: str | None) -> bool:
    return fryer is None or scene.kitchen.fryer(fryer) is not None
