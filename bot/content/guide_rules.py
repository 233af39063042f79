"""What a guide must be beyond its format: the same in both languages, easily read, its figures sourced."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from bot.content.fields import Fault
from bot.content.findings import Finding, instead
from bot.content.guide_texts import GuideText
from bot.content.languages import OTHERS
from bot.content.numbers import check_units, numbers_in, unsourced
from bot.content.readability import EASE, LONGEST_SENTENCE, LOWEST_EASE, sentences, words
from bot.content.templates import template
from bot.content.toml_lines import Document
from bot.core.library import GuideShape
from intents.types import Language

LIMITS = {"not_when": (0, 4), "gear": (0, 8), "cautions": (1, 5)}
"""How many of each a guide may have: more is not remembered when it is read aloud."""

WALK_STEPS = (4, 14)
ANSWER_STEPS = (1, 14)
QUESTIONS = 3
"""How many a knowledge check has: as many as are answered standing up."""

SENTENCES_A_STEP = 2
"""A step is one action, said in one breath."""


def check_guide(
    shape: GuideShape,
    guide: Mapping[Language, GuideText],
    sources: Sequence[str],
    pictures: frozenset[str] | None,
    about: Document,
) -> Iterator[Finding]:
    """Every fault of a guide whose files have the right format."""
    yield from _power(shape, about)
    for language, text in guide.items():
        yield from _counts(shape, text)
        yield from _reading(language, text)
        yield from _figures(text, sources)
        yield from _pictures(text, pictures)
        yield from _cool(text)
        yield from _questions(text)
    for language in OTHERS:
        yield from _same(guide["en"], guide[language])


def _power(shape: GuideShape, about: Document) -> Iterator[Finding]:
    at = about.file, about.line("by_power")
    differs = any(step.power is not None for step in shape.steps)
    if shape.by_power and not differs:
        yield Finding(*at, "by_power is true, but every step is for all fryers", "write by_power = false")
    if differs and not shape.by_power:
        yield Finding(*at, "steps differ between gas and electric", "write by_power = true")
    if differs and not all(shape.steps_for(power) for power in ("electric", "gas")):
        yield Finding(*at, "one kind of fryer has no steps at all", "add its steps")


def _counts(shape: GuideShape, text: GuideText) -> Iterator[Finding]:
    limits = LIMITS | {"steps": WALK_STEPS if shape.kind == "walk" else ANSWER_STEPS}
    for key, (low, high) in limits.items():
        count = len(getattr(text, key))
        if not low <= count <= high:
            yield _at(text, (key,), f"there are {count} {key}", f"write {low} to {high}")


def _reading(language: Language, text: GuideText) -> Iterator[Finding]:
    for name, path, said in text.placed():
        spoken = sentences(said)
        for sentence in spoken:
            if len(words(sentence)) > LONGEST_SENTENCE:
                what = f"a sentence of {len(words(sentence))} words"
                yield _at(text, path, what, f"make it two; {LONGEST_SENTENCE} words are the most")
        if name.startswith("step.") and name.count(".") == 1 and len(spoken) > SENTENCES_A_STEP:
            yield _at(text, path, f"a step of {len(spoken)} sentences", "make it two steps")
    if language not in EASE:
        return
    try:
        ease = EASE[language](said for _, _, said in text.placed())
    except ValueError:
        yield _at(text, ("title",), "there are no words in this guide", "write it")
        return
    if ease < LOWEST_EASE:
        what = f"its reading ease is {ease:.0f}, below {LOWEST_EASE:.0f}"
        yield _at(text, ("title",), what, "use shorter words and sentences")


def _figures(text: GuideText, sources: Sequence[str]) -> Iterator[Finding]:
    for _, path, said in text.placed():
        for number in unsourced(said, sources):
            yield _at(text, path, f"the number {number} has no source", "name it in [sources] of about.toml")
        try:
            check_units(said)
        except Fault as fault:
            yield _at(text, path, fault.what, fault.todo)


def _pictures(text: GuideText, pictures: frozenset[str] | None) -> Iterator[Finding]:
    for n, step in enumerate(text.steps):
        if pictures is not None and step.picture is not None and step.picture not in pictures:
            todo = instead(step.picture, pictures, "take it out, or draw it")
            yield _at(text, ("steps", n, "picture"), f'there is no picture "{step.picture}"', todo)


def _cool(text: GuideText) -> Iterator[Finding]:
    for n, step in enumerate(text.steps):
        if step.cool and (step.see is None or step.if_not is None):
            todo = "say in see and if_not what to read, and that they wait"
            yield _at(text, ("steps", n), "a step that needs cool oil asks for no reading and no wait", todo)


def _questions(text: GuideText) -> Iterator[Finding]:
    if len(text.questions) not in (0, QUESTIONS):
        what = f"there are {len(text.questions)} questions"
        yield _at(text, ("questions",), what, f"write {QUESTIONS}, or none")
    for n, question in enumerate(text.questions):
        if len(set(question.options)) != len(question.options):
            yield _at(text, ("questions", n, "options"), "two options are the same", "make them different")


def _same(english: GuideText, spanish: GuideText) -> Iterator[Finding]:
    alike = True
    for key in ("takes", *LIMITS, "steps"):
        ours, theirs = getattr(spanish, key) or (), getattr(english, key) or ()
        if key == "takes":
            ours, theirs = [ours] if ours else [], [theirs] if theirs else []
        if len(ours) != len(theirs):
            alike = False
            yield _at(spanish, (key,), f"{len(ours)} {key} here, {len(theirs)} in English", "make them the same")
    if [q.right for q in spanish.questions] != [q.right for q in english.questions]:
        alike = False
        yield _at(spanish, ("questions",), "the questions or their right options differ", "make them the same")
    for n, (ours, theirs) in enumerate(zip(spanish.steps, english.steps, strict=False)):
        for key in ("see", "if_not"):
            if (getattr(ours, key) is None) != (getattr(theirs, key) is None):
                alike = False
                yield _at(spanish, ("steps", n), f'"{key}" stands in one language only', "write it in both")
        for key in ("power", "picture", "cool"):
            if getattr(ours, key) != getattr(theirs, key):
                yield _at(spanish, ("steps", n, key), f'"{key}" is not the same in English', "make them the same")
    if alike:
        yield from _same_words(english, spanish)


def _same_words(english: GuideText, spanish: GuideText) -> Iterator[Finding]:
    for (_, path, ours), (_, _, theirs) in zip(spanish.placed(), english.placed(), strict=True):
        if sorted(numbers_in(ours)) != sorted(numbers_in(theirs)):
            yield _at(spanish, path, "the numbers are not those of the English text", "make them the same")
        if template(ours).names != template(theirs).names:
            yield _at(spanish, path, "the placeholders are not those of the English text", "make them the same")


def _at(text: GuideText, path: tuple[str | int, ...], what: str, todo: str) -> Finding:
    return Finding(text.document.file, text.document.line(*path), what, todo)
