"""A quarter of an hour after an emergency: how it is now, by a tap or a word, and what follows from the answer."""

from __future__ import annotations

from datetime import datetime

from bot.core import records as r
from bot.core.actions import action, parse
from bot.core.messages import CREW, Button, Outcome, Reply, Words
from bot.core.pieces import Question
from bot.core.scene import Scene, Speaker, name_words
from bot.core.skills import asking
from bot.core.skills.emergencies import CALLED_OFF_WITHIN, HOLD, instructions, stamp_of, standing


def follow_ups(scene: Scene) -> list[tuple[datetime, str, r.IncidentReported, datetime]]:
    """When to come back to each recent emergency, by what key, to which, and when that was reported.

    One that was called off, or is said to be over, is left alone; one that is not over is come back to again.
    """
    found: list[tuple[datetime, str, r.IncidentReported, datetime]] = []
    for at, cry in standing(scene):
        answers = _answers(scene, cry, at)
        if any(answer.over for _, answer in answers):
            continue
        since = (at, *(then for then, _ in answers))
        found += [(then + HOLD, f"after|{cry.what}|{then:%Y%m%dT%H%M%S}", cry, at) for then in since]
    return found


def follow_up(scene: Scene, incident: r.IncidentReported, reported: datetime) -> Outcome:
    """What to mind by now, and the question whether it is over; "yes" and "no" answer it too."""
    person = scene.kitchen.person(incident.by)
    yes, no = _buttons(incident.what, reported)
    lines = (Words("emergency.follow_up"), *_after(scene, incident.what), _question("is_it_over", incident.what))
    language = scene.language_of(person) if person is not None else None
    reply = Reply(incident.chat, "alert", lines, (yes, no), language=language)
    options = (r.Option("yes", yes.action), r.Option("no", no.action))
    return Outcome((r.Asked(incident.chat, incident.by, options),), (reply,))


def ask_again(scene: Scene, who: Speaker, question: Question) -> Outcome | None:
    """The two buttons once more, for words that were no clear answer; None where another question is open.

    Whether an emergency is over is never read out of words that were not understood.
    """
    yes = next((o for o in question.options if o.answer == "yes" and parse(o.action).verb == "after"), None)
    no = next((o for o in question.options if o.answer == "no"), None)
    if yes is None or no is None:
        return None
    what = parse(yes.action).args[0] or ""
    buttons = (Button(Words("button.over"), yes.action), Button(Words("button.not_over"), no.action))
    asked = r.Asked(who.chat, who.person.id, question.options)
    return scene.answer(who, _question("over_or_not", what), buttons=buttons, changes=(asked,))


def answer(scene: Scene, who: Speaker, what: str, stamp: int, over: bool) -> Outcome:
    """Take the answer, log it and tell the others; what is not over starts anew with its instructions."""
    found = next(((at, c) for at, c in standing(scene) if c.what == what and stamp_of(at) == stamp), None)
    if found is None:
        return scene.answer(who, Words("emergency.nothing_raised"))
    reported, cry = found
    said_over = next(((at, a) for at, a in _answers(scene, cry, reported) if a.over), None)
    if over and said_over is not None:
        at, earlier = said_over
        return scene.answer(who, Words("emergency.over_known", {"by": name_words(scene, earlier.by), "at": at}))
    said = r.IncidentFollowedUp(cry.what, cry.by, reported, over, who.person.id)
    params = {"by": who.person.name, "what": Words(f"incident.{what}")}
    if over:
        told = scene.answer(who, Words("emergency.over"), *_after(scene, cry.what), changes=(said,))
        return told + _tell(scene, who, (Words("alert.over", params), *_after(scene, cry.what)))
    lines = instructions(scene, cry.what)
    button, _ = _buttons(cry.what, reported)
    told = scene.answer(who, *lines, buttons=(button,), changes=(said, r.RoutineHeld(scene.now + HOLD)))
    return told + _tell(scene, who, (Words("alert.not_over", params), *lines))


def all_well(scene: Scene, who: Speaker) -> Outcome:
    """Somebody says that all is well: of an emergency that is not known to be over, that is asked, never taken."""
    open_still = [(at, cry) for _, _, cry, at in follow_ups(scene) if scene.now - at <= CALLED_OFF_WITHIN]
    if not open_still:
        return scene.answer(who, Words("talk.no_question"))
    reported, cry = max(open_still, key=lambda found: found[0])
    over, not_over = _buttons(cry.what, reported)
    answers = (("yes", over.action), ("no", not_over.action))
    return asking.ask(scene, who, (_question("is_it_over", cry.what),), (over, not_over), answers)


def _answers(scene: Scene, cry: r.IncidentReported, reported: datetime) -> list[tuple[datetime, r.IncidentFollowedUp]]:
    """What was said of one emergency since it was last said not to be over, oldest first.

    Whoever says that it is not over takes back what was said before.
    """
    said: list[tuple[datetime, r.IncidentFollowedUp]] = []
    for entry in reversed(scene.state.log):
        if entry.at < reported:
            break
        change = entry.change
        if not isinstance(change, r.IncidentFollowedUp):
            continue
        if (change.what, change.raised_by, change.reported_at) == (cry.what, cry.by, reported):
            said.append((entry.at, change))
            if not change.over:
                break
    return said[::-1]


def _buttons(what: str, reported: datetime) -> tuple[Button, Button]:
    stamp = stamp_of(reported)
    over = Button(Words("button.over"), action("after", what, stamp, "over"))
    return over, Button(Words("button.not_over"), action("after", what, stamp, "not_over"))


def _question(text: str, what: str) -> Words:
    return Words(f"emergency.{text}", {"what": Words(f"incident.{what}")})


def _after(scene: Scene, what: r.IncidentKind) -> tuple[Words, ...]:
    count = scene.library.emergencies[what].after
    return tuple(Words(f"emergency.{what}/after.{n}") for n in range(1, count + 1))


def _tell(scene: Scene, who: Speaker, lines: tuple[Words, ...]) -> Outcome:
    """Whoever was alerted hears of it."""
    chats = [p.id for p in scene.kitchen.with_role("lead", "manager") if p.id != who.person.id]
    if who.chat != CREW:
        chats.append(CREW)
    return Outcome(replies=tuple(Reply(chat, "alert", lines) for chat in chats))
