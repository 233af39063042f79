"""Time as a message: what a moment brings, said once, to whom it concerns.

What comes more than a minute after its time was missed, because the helper was off: it goes into one catch-up a
chat instead of its own message.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from itertools import groupby

from bot.core import agenda, cooldown, records as r
from bot.core.actions import action
from bot.core.agenda_items import Item
from bot.core.calendar import ONE_DAY
from bot.core.kitchen import Person
from bot.core.messages import CREW, Attachment, Button, Outcome, Reply, Words
from bot.core.scene import Scene, slot_words
from bot.core.schedule import Occurrence
from bot.core.skills import aftermath, duties, handover, reminders, summaries, supplies, training, waits

MISSED_AFTER = timedelta(seconds=60)
"""Later than this, a message was missed. The contract counts in minutes."""

MOST_BUTTONS = 8
LONGEST_LOOK_BACK = 40
"""Kitchen days that are counted after a long stretch off; older ones are in the summaries."""


def tick(scene: Scene) -> Outcome:
    """Everything that is due by now."""
    due = agenda.due(scene)
    if not due:
        return Outcome()
    due = _with_handover(scene, due)
    outcome = Outcome((r.Told(tuple(dict.fromkeys(item.key for item in due))),))
    missed = [i for i in due if scene.now - i.at > MISSED_AFTER and i.stage not in ("left", "after", "day_end")]
    timely = [i for i in due if i not in missed]
    outcome += _day_end(scene, [i for i in due if i.stage == "day_end"])
    outcome += _handover(scene, timely)
    outcome += _reminders(scene, timely)
    outcome += _escalations(scene, timely)
    outcome += _countdowns(scene, due, missed)
    for item in due:
        if item.incident is not None and item.reported is not None:
            outcome += aftermath.follow_up(scene, item.incident, item.reported)
    outcome += Outcome(replies=tuple(supplies.jug_reminder(scene) for i in timely if i.stage == "jug"))
    outcome += Outcome(replies=tuple(reply for i in timely for reply in _summaries(scene, i)))
    if any(i.stage == "digest" for i in timely):
        outcome += Outcome(replies=training.digest_replies(scene))
    return outcome + _catch_up(scene, missed)


def _day_end(scene: Scene, ended: list[Item]) -> Outcome:
    """After a stretch off, all the days that passed end at once."""
    if not ended:
        return Outcome()
    last = scene.today - ONE_DAY
    return Outcome((r.DayEnded(last), *handover.at_day_end(scene, last)), reminders.after_days(scene))


def _with_handover(scene: Scene, due: list[Item]) -> list[Item]:
    """Whatever the crew hears first, it hears after what was left over from the day before."""
    left_over = handover.when(scene)
    heard = any(i.stage == "due" or (i.snooze is not None and i.snooze[2].chat == CREW) for i in due)
    if left_over is None or not heard or any(i.stage == "handover" for i in due):
        return due
    return [Item(scene.now, "handover", left_over[1]), *due]


def _handover(scene: Scene, due: list[Item]) -> Outcome:
    said = handover.reply(scene) if any(i.stage == "handover" for i in due) else None
    return Outcome(replies=(said,)) if said is not None else Outcome()


def _reminders(scene: Scene, timely: list[Item]) -> Outcome:
    """What falls due, a message a duty; and what was put off to the same time, a message a chat."""
    order = sorted((i for i in timely if i.stage == "due"), key=lambda i: (i.at, _occurrence(i).slot.duty.id))
    called = [
        reminders.due([_occurrence(i) for i in group], at)
        for (at, _), group in groupby(order, key=lambda i: (i.at, _occurrence(i).slot.duty.id))
    ]
    in_crew = {(c.duty, c.fryer) for sent in called for c in sent.called}
    put_off: dict[tuple[str, datetime], list[tuple[str, str | None]]] = {}
    for item in timely:
        if item.snooze is None:
            continue
        duty, fryer, snooze = item.snooze
        # What falls due at the very time to which it was put off is not called to mind twice.
        if snooze.chat != CREW or (duty, fryer) not in in_crew:
            put_off.setdefault((snooze.chat, snooze.until), []).append((duty, fryer))
    called += [reminders.put_off(scene, chat, until, names) for (chat, until), names in put_off.items()]
    return reminders.send(scene, called) if called else Outcome()


def _escalations(scene: Scene, due: list[Item]) -> Outcome:
    replies: list[Reply] = []
    for stage, people, text in (
        ("lead", _leads(scene), "escalation.late"),
        ("manager", scene.kitchen.with_role("manager"), "escalation.very_late"),
    ):
        lines = duties.late_lines(text, (_occurrence(i) for i in due if i.stage == stage))
        if lines:
            replies += [Reply(p.id, "escalation", lines) for p in people]
    return Outcome(replies=tuple(replies))


def _leads(scene: Scene) -> tuple[Person, ...]:
    """The leads; the managers in a kitchen without one."""
    return scene.kitchen.with_role("lead") or scene.kitchen.with_role("manager")


def _countdowns(scene: Scene, due: list[Item], missed: list[Item]) -> Outcome:
    outcome = Outcome()
    finished = [i for i in due if i.stage == "over" and i.wait is not None]
    over_keys = {(i.wait.part, i.wait.fryer) for i in finished if i.wait is not None}
    for item in finished:
        wait = item.wait
        if wait is None:
            continue
        shown, call = waits.over(scene, wait)
        ended = r.WaitEnded(wait.fryer, wait.part, "finished")
        outcome += (
            Outcome((ended,), (shown,))
            if item in missed
            else Outcome((ended, waits.asked_at_the_end(wait)), (shown, call))
        )
    latest = {(i.wait.part, i.wait.fryer): i.wait for i in due if i.stage == "left" and i.wait is not None}
    return outcome + Outcome(
        replies=tuple(waits.countdown(scene, wait, edit=True) for name, wait in latest.items() if name not in over_keys)
    )


def _summaries(scene: Scene, item: Item) -> tuple[Reply, ...]:
    if item.day is None:
        return ()
    match item.stage:
        case "summary":
            return summaries.of_day_by_itself(scene, item.day)
        case "week" | "month":
            return summaries.of_period_by_itself(scene, item.stage, item.day)
        case _:
            return ()


def _catch_up(scene: Scene, missed: list[Item]) -> Outcome:
    """One message a chat that says what fell due while the helper was off."""
    if not missed:
        return Outcome()
    chats: dict[str, list[Words]] = {}
    buttons: dict[str, list[Button]] = {}
    still_due = _each_once(_occurrence(i) for i in missed if i.stage == "due")
    if still_due:
        chats[CREW] = list(duties.late_lines("catch_up.due", still_due))
    for occurrence in still_due:
        slot = occurrence.slot
        what = Words("button.done_what", {"what": slot_words(slot.duty.id, slot.fryer)})
        buttons.setdefault(CREW, []).append(Button(what, action("done", slot.duty.id, slot.fryer)))
    skipped = _skipped_days(scene)
    if skipped:
        chats.setdefault(CREW, []).append(Words("catch_up.days", {"n": skipped}))
    for item in missed:
        if item.snooze is not None:
            duty, fryer, snooze = item.snooze
            chats.setdefault(snooze.chat, []).append(Words("catch_up.snoozed", {"what": slot_words(duty, fryer)}))
        if item.stage == "over" and item.wait is not None:
            wait = item.wait
            over = Words("catch_up.wait_over", cooldown.params(wait.part, wait.fryer))
            chats.setdefault(wait.chat, []).append(over)
            reset = Button(Words("button.reset_now"), action("reset", wait.part, wait.fryer))
            buttons.setdefault(wait.chat, []).append(reset)
    for stage, people, text in (
        ("lead", _leads(scene), "escalation.late"),
        ("manager", scene.kitchen.with_role("manager"), "escalation.very_late"),
    ):
        late = duties.late_lines(text, _each_once(_occurrence(i) for i in missed if i.stage == stage))
        for p in people if late else ():
            chats.setdefault(p.id, []).extend(late)
    files: dict[str, tuple[Attachment, ...]] = {}
    for item in missed:
        left_over = handover.reply(scene) if item.stage == "handover" else None
        if left_over is not None:
            chats.setdefault(CREW, []).extend(left_over.lines)
        if item.stage == "jug":
            chats.setdefault(CREW, []).extend(supplies.jug_lines(scene))
        for reply in training.digest_replies(scene) if item.stage == "digest" else ():
            chats.setdefault(reply.to, []).extend(reply.lines)
            buttons.setdefault(reply.to, []).extend(reply.buttons)
        for reply in _summaries(scene, item):
            chats.setdefault(reply.to, []).extend(reply.lines)
            buttons.setdefault(reply.to, []).extend(reply.buttons)
            files[reply.to] = reply.files or files.get(reply.to, ())
    return Outcome(
        replies=tuple(
            Reply(
                chat,
                "catch_up",
                (Words("catch_up.head"), *lines),
                tuple(buttons.get(chat, ())[:MOST_BUTTONS]),
                files=files.get(chat, ()),
            )
            for chat, lines in chats.items()
        )
    )


def _skipped_days(scene: Scene) -> int:
    """Open kitchen days that began and ended while the helper was off."""
    ended = scene.state.day_ended
    at = scene.state.at
    if ended is None or at is None:
        return 0
    first = max(scene.days.day_of(at) + ONE_DAY, scene.today - LONGEST_LOOK_BACK * ONE_DAY)
    count = 0
    while first < scene.today:
        count += scene.days.is_open(first)
        first += ONE_DAY
    return count


def _each_once(occurrences: Iterable[Occurrence]) -> list[Occurrence]:
    return list({o.slot: o for o in occurrences}.values())


def _occurrence(item: Item) -> Occurrence:
    if item.occurrence is None:
        raise TypeError(f"{item.key} is about no duty")
    return item.occurrence
