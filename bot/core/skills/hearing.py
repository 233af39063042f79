"""Acting on speech with care: a reply says what was heard, and what would be logged is asked where that is unsure.

A recogniser may hear words that nobody said. So nothing is written down on its word alone unless both it and the
understanding are sure; a tap or a "yes" settles the rest. Emergencies are acted upon at once (``emergencies``).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import timedelta

from bot.core import records as r
from bot.core.actions import action
from bot.core.messages import Button, NotHeard, Outcome, Said, Words
from bot.core.scene import Scene, Speaker, fryer_words
from bot.core.skills import asking, duties, undoing
from bot.core.skills.duties import Deed
from intents.types import Understood

Answer = Callable[[Scene, Speaker, str, Understood], Outcome]
"""Answers a message whose topic is settled."""

SURE = 0.8
"""The chance that the words are right, and that they mean what they are taken to mean, from which they are logged
without asking; the same bar as for unaddressed talk in the crew chat."""

SURE_OF_AN_ANSWER = 0.5
"""The same for an answer to our own question, which is one of few."""

MUDDLED = 0.5
"""Below this chance the words are not even followed through a walk."""

LONGEST_ECHO = 300
"""Characters of what was heard that a reply repeats."""

LOGS = (
    r.Confirmed,
    r.ReadingTaken,
    r.DropsCounted,
    r.NoteLeft,
    r.OutageBegan,
    r.OutageEnded,
    r.StockCounted,
    r.Undone,
    r.WaitStarted,
    r.WaitEnded,
    r.ResetTried,
    r.DutyMoved,
    r.SignedOff,
    r.SignOffRevoked,
    r.IncidentFollowedUp,
)
"""What nobody is to find in the records who did not say it."""

WALKS = (r.WalkMoved, r.WalkEnded)


def not_heard(scene: Scene, who: Speaker, event: NotHeard) -> Outcome:
    """Say why there are no words, what to do instead, and how to be heard in danger; nothing is done."""
    if not event.addressed:
        return Outcome()
    return scene.answer(who, Words(f"heard.{event.why}"), Words("heard.danger"))


def with_care(scene: Scene, who: Speaker, said: Said, outcome: Outcome) -> Outcome:
    """What becomes of an outcome, worked out as if the words had been written, since they were spoken."""
    question = asking.open_question(scene, who)
    chosen = asking.answered(question, said.understood) if question is not None else None
    logged = [change for change in outcome.changes if isinstance(change, LOGS) and not _cry_for_help(change)]
    if logged and not _sure(said, chosen):
        return _ask(scene, who, said, chosen, logged)
    muddled = said.recognised < MUDDLED and any(isinstance(change, WALKS) for change in outcome.changes)
    unanswered = any(isinstance(change, r.QuestionUnanswered) for change in outcome.changes)
    if muddled or (unanswered and said.recognised < SURE):
        # What was hardly heard is no question for the trainer, and moves no walk on.
        return scene.answer(who, echo(said.understood), Words("heard.not_sure"))
    return with_echo(who, said, outcome)


def with_echo(who: Speaker, said: Said, outcome: Outcome, *, last: bool = False) -> Outcome:
    """The outcome, its first reply saying what was heard; ``last`` where something must be read before that."""
    replies = list(outcome.replies)
    for n, reply in enumerate(replies):
        if reply.to == who.chat and reply.kind == "reply":
            heard = echo(said.understood)
            lines = (*reply.lines, heard) if last else (heard, *reply.lines)
            replies[n] = replace(reply, lines=lines)
            break
    return Outcome(outcome.changes, tuple(replies))


def echo(understood: Understood) -> Words:
    """What was heard, in a line."""
    return Words("heard.echo", {"text": understood.text.strip()[:LONGEST_ECHO]})


def right(scene: Scene, who: Speaker, number: int, answer: Answer) -> Outcome | None:
    """What was heard and asked back is right: log it, as ``answer`` answers its topic.

    None where it was logged already, or is too old to be known.
    """
    unsure = scene.state.unsure.get(number)
    if unsure is None or unsure.heard.person != who.person.id:
        return None
    heard = unsure.heard
    understood = Understood(
        heard.text, heard.topic, 1.0, scene.language_of(who.person), heard.slots[0], tuple(heard.slots[1:])
    )
    settled = Outcome((r.HeardRight(number),))
    if heard.topic == "log.done":
        # It was done when it was said, not when the button was pressed.
        then = duties.done(replace(scene, now=unsure.at), who, understood)
        deeds = [Deed(c.duty, c.fryer, c.done_at) for c in then.changes if isinstance(c, r.Confirmed)]
        if deeds:
            return settled + duties.confirm(scene, who, deeds)
    if scene.now - unsure.at > asking.OPEN_FOR:
        return scene.answer(who, Words("heard.too_old"))
    return settled + answer(scene, who, heard.topic, understood)


def is_sure(recognised: float, understood: Understood) -> bool:
    """Whether what was spoken may be logged without asking; never a note, of which every word is kept."""
    return understood.topic != "log.note" and min(recognised, understood.confidence) >= SURE


def _cry_for_help(change: r.Change) -> bool:
    """That an emergency is not over is acted upon at once, however badly it was heard."""
    return isinstance(change, r.IncidentFollowedUp) and not change.over


def _sure(said: Said, chosen: str | None) -> bool:
    if chosen is not None:
        return said.recognised >= (SURE_OF_AN_ANSWER if said.understood.topic in ("talk.yes", "talk.no") else SURE)
    return is_sure(said.recognised, said.understood)


def _ask(scene: Scene, who: Speaker, said: Said, chosen: str | None, logged: Sequence[r.Change]) -> Outcome:
    """Show what would be logged, and log it at a tap or a "yes"."""
    what = tuple(_words(scene, said, change) for change in logged)
    lines = (echo(said.understood), Words("heard.shall_i", {"what": what}))
    wrong = Button(Words("button.heard_wrong"), action("no"))
    undone = [change.entry for change in logged if isinstance(change, r.Undone)]
    kept: tuple[r.Change, ...] = ()
    if chosen is not None:
        act = chosen
    elif undone:
        act = action("undo", min(undone), max(undone))
    else:
        number = scene.state.seq + 1
        act = action("heard", number)
        understood = said.understood
        topic = understood.topic or ""
        kept = (
            r.HeardUnsurely(
                number, who.chat, who.person.id, understood.text, topic, (understood.slots, *understood.more)
            ),
        )
    return asking.yes_no(scene, who, lines, Button(Words("button.heard_right"), act), wrong, kept)


def _words(scene: Scene, said: Said, change: r.Change) -> Words:
    """One thing that would be logged, in a few words."""
    match change:
        case r.Confirmed():
            at = change.done_at
            when = Words("heard.now") if scene.now - at <= timedelta(minutes=2) else Words("heard.then", {"at": at})
            return Words("heard.done", {"what": undoing.entry_words(change), "when": when})
        case r.Undone(entry=number):
            entry = scene.state.entry(number)
            named = undoing.entry_words(entry.change) if entry is not None else Words("entry.note")
            return Words("heard.undo", {"what": named})
        case r.WaitStarted(part=part, fryer=fryer):
            return Words("heard.wait", {"part": Words(f"part.{part}"), "fryer": fryer_words(fryer)})
        case r.WaitEnded(part=part, fryer=fryer):
            return Words("heard.no_wait", {"part": Words(f"part.{part}"), "fryer": fryer_words(fryer)})
        case r.IncidentFollowedUp(what=what):
            return Words("month.over", {"what": Words(f"incident.{what}")})
        case r.ResetTried(part=part, fryer=fryer, worked=worked):
            text = "month.reset_held" if worked else "month.reset_failed"
            return Words(text, {"part": Words(f"part.{part}"), "fryer": fryer_words(fryer)})
        case r.ReadingTaken() | r.DropsCounted() | r.NoteLeft() | r.OutageBegan() | r.OutageEnded() | r.StockCounted():
            return undoing.entry_words(change)
        case _:
            topic = said.understood.topic
            return Words(f"topic.{topic}") if topic is not None else Words("heard.answer")
