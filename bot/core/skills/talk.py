"""Everyday talk, notes, and what the helper says when it doesn't know."""

from __future__ import annotations

from bot.core import records as r
from bot.core.actions import action
from bot.core.messages import Button, Outcome, Reply, Words
from bot.core.one_line import one_line
from bot.core.scene import Scene, Speaker
from bot.core.skills import asking, learning, service
from intents.types import Language, Slots, Understood

LONGEST_NOTE = 1000
"""Characters of a note that are kept; a phone's screen holds about as many."""

MOST_CHOICES = 3


def hello(scene: Scene, who: Speaker) -> Outcome:
    """Greet, and say in a line what to do next."""
    return scene.answer(who, Words("talk.hello", {"name": who.person.name}), Words("talk.try"))


def thanks(scene: Scene, who: Speaker) -> Outcome:
    """Take thanks shortly."""
    return scene.answer(who, Words("talk.thanks"))


def help_lines(scene: Scene, who: Speaker) -> Outcome:
    """What can be asked, by example."""
    return scene.answer(who, *(Words(f"talk.help.{n}") for n in range(1, 7)))


def language(scene: Scene, who: Speaker, understood: Understood) -> Outcome:
    """Offer the languages there are; whoever asks in another than theirs is answered in that at once."""
    wanted = understood.language
    if wanted in scene.library.languages and wanted != scene.language_of(who.person) and understood.text:
        return choose_language(scene, who, wanted)
    buttons = tuple(Button(Words(f"language.{code}"), action("lang", code)) for code in scene.library.languages)
    return asking.ask(scene, who, (Words("talk.languages"),), buttons)


def choose_language(scene: Scene, who: Speaker, code: Language) -> Outcome:
    """Answer a person in another language from now on."""
    chosen = r.LanguageChosen(who.person.id, code)
    others = [other for other in scene.library.languages if other != code]
    back = tuple(Button(Words(f"language.{other}"), action("lang", other)) for other in others)
    reply = Reply(who.chat, "reply", (Words("talk.language_set"),), back, language=code)
    return Outcome((chosen,), (reply,))


def person(scene: Scene, who: Speaker) -> Outcome:
    """A human being to ask."""
    return scene.answer(who, service.whom_to_ask(scene), *service.call_lines(scene, None))


def note(scene: Scene, who: Speaker, slots: Slots, text: str) -> Outcome:
    """Keep a note for the next shift, in the person's own words."""
    kept = one_line(slots.note or text)
    if len(kept) > LONGEST_NOTE:
        return scene.answer(who, Words("note.too_long", {"n": LONGEST_NOTE}))
    left = r.NoteLeft(scene.next_entry, kept, who.person.id)
    button = Button(Words("button.undo"), action("undo", left.entry, left.entry))
    return scene.answer(who, Words("note.kept", {"text": kept}), buttons=(button,), changes=(left,))


def nothing_asked(scene: Scene, who: Speaker) -> Outcome:
    """A yes or no to nothing."""
    return scene.answer(who, Words("talk.no_question"))


def did_you_mean(scene: Scene, who: Speaker, understood: Understood, topics: list[str]) -> Outcome:
    """Ask which of the likeliest topics is meant, rather than guess."""
    fryer, offered = understood.slots.fryer, tuple(topics[:MOST_CHOICES])
    kept = learning.not_sure(scene, who, understood, offered)
    number = kept[0].lesson if kept else None
    buttons = tuple(Button(Words(f"topic.{topic}"), action("topic", topic, fryer, number)) for topic in offered)
    none = Button(Words("button.none_of_these"), action("none", number))
    return asking.ask(scene, who, (Words("ask.did_you_mean"),), (*buttons, none), changes=kept)


def dont_know(scene: Scene, who: Speaker, understood: Understood) -> Outcome:
    """Say plainly that this is beyond the helper, name a person to ask, and keep the question for the trainer."""
    kept = understood.text.strip()[:LONGEST_NOTE]
    lesson = learning.lesson_of(scene, understood)
    changes = (r.QuestionUnanswered(kept, understood.language, who.person.id, lesson),) if kept else ()
    return scene.answer(who, Words("ask.dont_know"), service.whom_to_ask(scene), changes=changes)
