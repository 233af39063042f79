"""What is wrong with a fryer: cautions, then one check after another, the best one first, to a fix or to service.

Nothing is kept between two answers. A button carries the fault, the fryer and the marks of the causes asked about
so far, the latest last; the order of the rest follows from the log as it is when the answer comes.

Nobody under 16 is given a check or a fix that isn't marked safe for them; they get a lead instead.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from bot.core import records as r
from bot.core.actions import action
from bot.core.diagnosis import MARK_LENGTH, PREFIX, RESETS, Cause, FaultShape, order
from bot.core.evidence import evidence
from bot.core.messages import Button, Outcome, Words
from bot.core.scene import Scene, Speaker, fryer_words
from bot.core.skills import asking, guides, service, waits
from intents.types import Slots


@dataclass(frozen=True, slots=True)
class _Case:
    """One fault on one fryer, with the causes asked about so far, in the order in which they were."""

    shape: FaultShape
    fryer: str
    asked: tuple[Cause, ...] = ()

    @property
    def title(self) -> Words:
        return self.words("title")

    def words(self, part: str) -> Words:
        return Words(f"{self.shape.topic}/{part}", {"fryer": fryer_words(self.fryer)})

    def act(self, said: str) -> str:
        """The action of an answer to the latest check."""
        trail = "".join(cause.mark for cause in self.asked)
        return action("fault", self.shape.topic.removeprefix(PREFIX), self.fryer, trail or None, said)


def asked(scene: Scene, who: Speaker, topic: str, slots: Slots) -> Outcome:
    """Something is wrong: say what comes first, then ask the first check; ask which fryer where that is open."""
    shape = scene.library.faults.get(topic)
    if shape is None:
        return scene.answer(who, Words("fault.missing", {"fault": Words(f"topic.{topic}")}), service.whom_to_ask(scene))
    if slots.unknown_fryer is not None:
        return asking.unknown_fryer(scene, who, slots.unknown_fryer)
    fryer = slots.fryer or _only_fryer(scene) or asking.mentioned_fryer(scene, who)
    if fryer is None:
        return _which_fryer(scene, who, shape)
    case = _Case(shape, fryer)
    lines = [_stop(who)] if shape.stop else []
    lines.append(Words("fault.title", {"fault": case.title, "fryer": fryer_words(fryer)}))
    if shape.hot_oil and not who.person.under_16:
        lines.append(Words("walk.caution", {"text": Words("fault.gear")}))
    lines += [Words("walk.caution", {"text": case.words(f"caution.{n}")}) for n in range(1, shape.cautions + 1)]
    noted = (r.FryerMentioned(who.person.id, fryer), r.FaultAsked(topic, fryer, who.person.id))
    return Outcome(noted) + _next(scene, who, case, lines)


def tapped(scene: Scene, who: Speaker, args: Sequence[str | None]) -> Outcome | None:
    """An answer as a button carries it; None where it makes no sense (any more)."""
    match args:
        case str() as name, str() as fryer, trail, ("yes" | "no" | "fixed" | "down") as said:
            return answer(scene, who, f"{PREFIX}{name}", fryer, trail or "", said)
        case _:
            return None


def answer(scene: Scene, who: Speaker, topic: str, fryer: str, trail: str, said: str) -> Outcome | None:
    """Take an answer to the latest check of ``trail``; None for a fault, fryer or cause that isn't there any more.

    "yes": that is the cause, "no": it isn't, or its fix didn't help, "fixed": it did, "down": the fryer is to be
    taken out of service.
    """
    shape = scene.library.faults.get(topic)
    if shape is None or scene.kitchen.fryer(fryer) is None:
        return None
    known = {cause.mark: cause for cause in shape.causes}
    marks = [trail[n : n + MARK_LENGTH] for n in range(0, len(trail), MARK_LENGTH)]
    if any(mark not in known for mark in marks):
        return None
    case = _Case(shape, fryer, tuple(known[mark] for mark in dict.fromkeys(marks)))
    match said:
        case "down":
            return _out_of_service(scene, who, case)
        case "fixed":
            return scene.answer(who, Words("fault.fixed", {"fryer": fryer_words(fryer)}))
        case "yes" if case.asked:
            return _fix(scene, who, case)
        case "no" if case.asked:
            return _next(scene, who, case, [])
        case _:
            return None


def _next(scene: Scene, who: Speaker, case: _Case, lines: list[Words]) -> Outcome:
    """Ask the best check that is left; without one, turn to service, or to a lead for somebody under 16."""
    fryer = scene.kitchen.fryer(case.fryer)
    found = evidence(scene.state, scene.kitchen, case.fryer, scene.now)
    left = [
        cause
        for cause in case.shape.causes_on(fryer.power if fryer is not None else None)
        if cause not in case.asked and (cause.safe_for_under_16 or not who.person.under_16)
    ]
    if not left:
        return _get_a_lead(scene, who, case, lines) if who.person.under_16 else _to_service(scene, who, case, lines)
    cause = order(left, frozenset(found))[0]
    why = _why(cause, found)
    now = replace(case, asked=(*case.asked, cause))
    check = Words("fault.check", {"n": len(now.asked), "text": case.words(f"check.{cause.id}")})
    yes = Button(Words("button.thats_it"), now.act("yes"))
    no = Button(Words("button.no"), now.act("no"))
    buttons = (yes, no, *_down_button(scene, now))
    answers = (("yes", yes.action), ("no", no.action), ("stop", action("no")))
    return asking.ask(scene, who, (*lines, *why, check), buttons, answers)


def _why(cause: Cause, found: dict[str, Words]) -> tuple[Words, ...]:
    """The strongest reason in the log to look there."""
    signs = [sign for sign in cause.evidence if sign.fact in found and sign.factor > 1]
    strongest = max(signs, key=lambda sign: sign.factor, default=None)
    return (found[strongest.fact],) if strongest is not None else ()


def _fix(scene: Scene, who: Speaker, case: _Case) -> Outcome:
    """The cause is found: say what to do, and open the guide, the wait or the call that belongs to it."""
    cause = case.asked[-1]
    if who.person.under_16 and not cause.safe_for_under_16:
        return _get_a_lead(scene, who, case, [Words("fault.young_found")])
    fix = case.words(f"fix.{cause.id}")
    if cause.fix == "service":
        return _to_service(scene, who, case, [fix], found=True)
    no = Button(Words("button.still_wrong"), case.act("no"))
    if cause.fix == "text":
        return asking.yes_no(scene, who, (fix,), Button(Words("button.fixed"), case.act("fixed")), no)
    told = scene.answer(who, fix, buttons=(no,))
    if cause.fix in RESETS:
        return told + waits.reset_wanted(scene, who, RESETS[cause.fix], Slots(fryer=case.fryer))
    skill = asked if cause.fix.startswith(PREFIX) else guides.asked
    return told + skill(scene, who, cause.fix, Slots(fryer=case.fryer))


def _to_service(scene: Scene, who: Speaker, case: _Case, lines: list[Words], found: bool = False) -> Outcome:
    """Whom to call and what to tell them, and the offer to take the fryer out of service."""
    if not found:
        lines = [*lines, case.words("none_found")]
    lines += [*service.call_lines(scene, case.fryer), *_report(case)]
    down = _down_button(scene, case)
    if not down:
        return scene.answer(who, *lines)
    lines.append(Words("fault.offer_down", {"fryer": fryer_words(case.fryer)}))
    return asking.yes_no(scene, who, tuple(lines), down[0], Button(Words("button.not_now"), action("no")))


def _out_of_service(scene: Scene, who: Speaker, case: _Case) -> Outcome:
    outcome = service.take_down(scene, who, case.fryer)
    told, *others = outcome.replies
    return Outcome(outcome.changes, (replace(told, lines=(*told.lines, *_report(case))), *others))


def _report(case: _Case) -> tuple[Words, ...]:
    """What service will ask for besides the data plate: the symptom, and what was looked at."""
    lines = [Words("fault.tell_service", {"fault": case.title})]
    if case.asked:
        checked = tuple(case.words(f"name.{cause.id}") for cause in case.asked)
        lines.append(Words("fault.tell_checked", {"checked": checked}))
    return tuple(lines)


def _get_a_lead(scene: Scene, who: Speaker, case: _Case, lines: list[Words]) -> Outcome:
    params = {"fault": case.title, "fryer": fryer_words(case.fryer), "by": who.person.name}
    told = scene.answer(who, *lines, _lead(scene))
    return told + service.alert_leads(scene, who, Words("alert.fault", params))


def _lead(scene: Scene) -> Words:
    names = tuple(p.name for p in scene.kitchen.with_role("lead", "manager"))
    return Words("fault.young_lead", {"who": names}) if names else Words("fault.young_adult")


def _stop(who: Speaker) -> Words:
    return Words("fault.young_stop") if who.person.under_16 else Words("fault.stop")


def _which_fryer(scene: Scene, who: Speaker, shape: FaultShape) -> Outcome:
    """Ask which fryer; what must be switched off is said first, whichever it is."""
    question = Words("fault.which_fryer", {"fault": Words(f"{shape.topic}/title", {"fryer": Words("fryer.your")})})
    outcome = asking.which_fryer(scene, who, lambda f: action("topic", shape.topic, f), question)
    if not shape.stop:
        return outcome
    told, *others = outcome.replies
    return Outcome(outcome.changes, (replace(told, lines=(_stop(who), *told.lines)), *others))


def _only_fryer(scene: Scene) -> str | None:
    return scene.kitchen.fryers[0].id if len(scene.kitchen.fryers) == 1 else None


def _down_button(scene: Scene, case: _Case) -> tuple[Button, ...]:
    if scene.state.out_of_service(case.fryer, scene.now):
        return ()
    return (Button(Words("button.out_of_service"), case.act("down")),)
