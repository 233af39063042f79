"""What was not understood is gathered, and a trainer decides, one text at a time, what it is a phrase of."""

from __future__ import annotations

from collections.abc import Collection

from bot.core import records as r
from bot.core.actions import action
from bot.core.kitchen import Role
from bot.core.lessons import Lesson, Meant, NotSure, PhraseRefused, PhraseTakenBack, PhraseTaught, as_phrase
from bot.core.messages import Button, Objection, Outcome, Reply, Words
from bot.core.scene import Scene, Speaker
from intents.types import Understood

DECIDERS: tuple[Role, ...] = ("trainer", "manager")
"""Who may decide what a phrase means."""

LONGEST = 160
"""Characters of a text that can be a phrase, as in ``intents.own``."""

MOST_OFFERED = 3
A_PAGE = 6
"""Topics on one page, so that the buttons fit on a phone."""

GROUPS = ("guide", "fault", "log", "ask", "cooldown", "talk", "emergency")
"""Topics by the first part of their ids, as they are chosen from; the others come under "other"."""
OTHER = "other"


def lesson_of(scene: Scene, understood: Understood) -> int | None:
    """The number under which a text that was not understood is kept for the trainers; None for one that isn't."""
    text = as_phrase(understood.text)
    if not text or text.startswith("/") or len(text) > LONGEST:
        return None
    return scene.state.lessons.number_of(text, understood.language)


def meant(scene: Scene, who: Speaker, number: str | None, topic: str | None) -> tuple[r.Change, ...]:
    """Somebody says what a text means that was asked back; nothing where that was said already."""
    lesson = scene.state.lessons.by_number.get(int(number)) if number is not None else None
    if lesson is None or lesson.answered >= lesson.times:
        return ()
    told: tuple[r.Change, ...] = (Meant(lesson.number, topic, who.person.id),)
    if topic is None and lesson.text:
        told += (r.QuestionUnanswered(lesson.text, lesson.language, who.person.id),)
    return told


def not_sure(scene: Scene, who: Speaker, understood: Understood, topics: tuple[str, ...]) -> tuple[NotSure, ...]:
    """Keep for the trainers what had to be asked back; nothing where it can be no phrase."""
    number = lesson_of(scene, understood)
    if number is None:
        return ()
    return (NotSure(number, as_phrase(understood.text), understood.language, topics, who.person.id),)


def panel(scene: Scene, who: Speaker, after: int | None = None, said: tuple[Words, ...] = ()) -> Outcome:
    """The next text to decide on: the most frequent, or the one after ``after``; ``said`` comes before it."""
    if who.person.role not in DECIDERS:
        return scene.answer(who, Words("learning.not_yours"))
    waiting = scene.state.lessons.open()
    numbers = [lesson.number for lesson in waiting]
    at = numbers.index(after) + 1 if after in numbers else 0
    if at >= len(waiting):
        return scene.answer(who, *said, Words("learning.no_more" if waiting else "learning.nothing"))
    return _question(scene, who, waiting[at], len(waiting), said)


def _question(scene: Scene, who: Speaker, lesson: Lesson, waiting: int, said: tuple[Words, ...]) -> Outcome:
    lines = [*said, Words("learning.heard", {"text": lesson.text, "n": lesson.times})]
    often = sorted(lesson.chosen, key=lambda topic: -lesson.chosen[topic])
    lines += [Words("learning.chosen", {"topic": _topic(t), "n": lesson.chosen[t]}) for t in often[:MOST_OFFERED]]
    lines.append(Words("learning.ask", {"n": waiting}))
    likely = list(dict.fromkeys((*often, *lesson.offered)))[:MOST_OFFERED]
    buttons = [Button(_topic(topic), action("learn", lesson.number, topic)) for topic in likely]
    buttons += [
        Button(Words("button.another_topic"), action("learnas", lesson.number)),
        Button(Words("button.no_phrase"), action("nolearn", lesson.number)),
        Button(Words("button.decide_later"), action("learnlater", lesson.number)),
    ]
    # Only a tap decides: a "1" typed at the wrong time would teach everybody something wrong.
    return scene.answer(who, *lines, buttons=tuple(buttons))


def not_filed(scene: Scene, why: str) -> Outcome:
    """Say once that what was taught can't be written down; it is at work all the same."""
    key = f"phrases|{scene.state.lessons.filings}"
    if key in scene.state.told:
        return Outcome()
    people = scene.kitchen.with_role(*DECIDERS)
    line = Words("learning.not_filed", {"why": why.rstrip(".") + "."})
    return Outcome((r.Told((key,)),), tuple(Reply(person.id, "alert", (line,)) for person in people))


def act(
    scene: Scene,
    who: Speaker,
    verb: str,
    args: tuple[str | None, ...],
    known: Collection[str],
    objection: Objection | None,
) -> Outcome | None:
    """Do what a button of the panel says; None for one that makes no sense (any more). Raises ``ValueError`` likewise.

    ``known`` are the topics that there are; ``objection`` says why the phrase that the tap would teach must not be.
    """
    match verb, args:
        case "phrases", ():
            return panel(scene, who)
        case (("learn" | "learnas" | "learnin" | "nolearn" | "learnlater" | "unlearn"), (str() as number, *rest)):
            if who.person.role not in DECIDERS:
                return scene.answer(who, Words("learning.not_yours"))
            lesson = scene.state.lessons.by_number.get(int(number))
            return _act(scene, who, verb, lesson, rest, known, objection) if lesson is not None else None
        case _:
            return None


def _act(
    scene: Scene,
    who: Speaker,
    verb: str,
    lesson: Lesson,
    rest: list[str | None],
    known: Collection[str],
    objection: Objection | None,
) -> Outcome | None:
    if verb == "unlearn":
        return _take_back(scene, who, lesson) if lesson.decided is not None else None
    if lesson.decided is not None:
        return None
    match verb, rest:
        case "learn", [str() as topic] if topic in known:
            return _teach(scene, who, lesson, topic, objection)
        case "learnas", []:
            return _groups(scene, who, lesson, known)
        case "learnin", [str() as group, str() as page] if int(page) >= 0:
            return _topics(scene, who, lesson, group, int(page), known)
        case "nolearn", []:
            done = scene.answer(
                who,
                Words("learning.refused", {"text": lesson.text}),
                buttons=(_undo(lesson),),
                changes=(PhraseRefused(lesson.number, who.person.id),),
            )
            return done + _rest(scene, who, lesson)
        case "learnlater", []:
            return panel(scene, who, after=lesson.number)
        case _:
            return None


def _teach(scene: Scene, who: Speaker, lesson: Lesson, topic: str, objection: Objection | None) -> Outcome:
    if objection is not None:
        params = {"text": lesson.text, "topic": _topic(objection.topic or topic)}
        return scene.answer(who, Words(f"learning.objection.{objection.why}", params))
    taught = PhraseTaught(lesson.number, lesson.text, lesson.language, topic, who.person.id)
    line = Words("learning.taught", {"text": lesson.text, "topic": _topic(topic)})
    return scene.answer(who, line, buttons=(_undo(lesson),), changes=(taught,)) + _rest(scene, who, lesson)


def _rest(scene: Scene, who: Speaker, done: Lesson) -> Outcome:
    """The question that comes next, once this one is decided."""
    waiting = [lesson for lesson in scene.state.lessons.open() if lesson.number != done.number]
    return _question(scene, who, waiting[0], len(waiting), ()) if waiting else Outcome()


def _take_back(scene: Scene, who: Speaker, lesson: Lesson) -> Outcome:
    line = Words("learning.taken_back", {"text": lesson.text})
    change = PhraseTakenBack(lesson.number, who.person.id)
    again = Button(Words("button.phrases"), action("phrases"))
    return scene.answer(who, line, buttons=(again,), changes=(change,))


def _groups(scene: Scene, who: Speaker, lesson: Lesson, known: Collection[str]) -> Outcome:
    there = {_group(topic) for topic in known}
    buttons = tuple(
        Button(Words(f"learning.group.{group}"), action("learnin", lesson.number, group, 0))
        for group in (*GROUPS, OTHER)
        if group in there
    )
    return scene.answer(who, Words("learning.which_group", {"text": lesson.text}), buttons=buttons)


def _topics(
    scene: Scene, who: Speaker, lesson: Lesson, group: str, page: int, known: Collection[str]
) -> Outcome | None:
    of_it = [topic for topic in known if _group(topic) == group]
    shown = of_it[page * A_PAGE : (page + 1) * A_PAGE]
    if not shown:
        return None
    buttons = [Button(_topic(topic), action("learn", lesson.number, topic)) for topic in shown]
    if len(of_it) > (page + 1) * A_PAGE:
        buttons.append(Button(Words("button.more_topics"), action("learnin", lesson.number, group, page + 1)))
    return scene.answer(who, Words("learning.which_topic", {"text": lesson.text}), buttons=tuple(buttons))


def _group(topic: str) -> str:
    first = topic.partition(".")[0]
    return first if first in GROUPS else OTHER


def _topic(topic: str) -> Words:
    return Words(f"topic.{topic}")


def _undo(lesson: Lesson) -> Button:
    return Button(Words("button.take_back"), action("unlearn", lesson.number))
