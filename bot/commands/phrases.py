"""``vatside phrases``: what was not understood, what it shall mean, and the kitchen's own phrases."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path

from bot.app import clock
from bot.channels.errors import UsageError
from bot.commands.loading import kitchen_of, opener, records_of, store_of, understander_of
from bot.content.findings import instead
from bot.content.own_phrases import in_words, own_phrases, place_of, with_line, without_line
from bot.core.lessons import Lesson, LessonChange, Lessons, PhraseRefused, PhraseTakenBack, PhraseTaught, as_phrase
from bot.core.messages import Outcome
from bot.core.one_line import one_line
from bot.store.files import Files, make_folders, replace_file
from bot.store.history import HISTORY_NAME
from intents.own import read_own
from intents.topics import topics
from intents.understander import Understander


def run(args: argparse.Namespace) -> int:
    """List, decide, or change the files."""
    match args.what:
        case "list":
            sys.stdout.writelines(f"{line}\n" for line in _list(args))
        case "add":
            sys.stdout.write(f"{_add(args)}\n")
        case "remove":
            sys.stdout.write(f"{_remove(args)}\n")
        case _:
            sys.stdout.write(f"{_decide(args)}\n")
    return 0


def _list(args: argparse.Namespace) -> Iterator[str]:
    kitchen = kitchen_of(args.kitchen)
    folder = store_of(args.store, kitchen)
    lessons = records_of(folder).state.lessons if (folder / HISTORY_NAME).exists() else Lessons()
    waiting = lessons.open()
    yield f"Not understood, to be decided: {len(waiting)}"
    for lesson in waiting:
        yield f"{lesson.number:>5}  {lesson.times} times  {lesson.language}  {lesson.text}{_chosen(lesson)}"
    decided = [lesson for lesson in lessons.by_number.values() if lesson.decided is not None and lesson.text]
    yield f"Decided: {len(decided)}"
    for lesson in decided:
        what = f"means {lesson.topic}" if lesson.decided == "taught" else "refused"
        yield f"{lesson.number:>5}  {what}  {lesson.language}  {lesson.text}"
    phrases = read_own(own_phrases(args.kitchen)).phrases
    yield f"In the kitchen's phrase files: {len(phrases)}"
    for phrase in phrases:
        yield f"{phrase.where}: {phrase.text}"


def _chosen(lesson: Lesson) -> str:
    said = ", ".join(f"{topic} {n}" for topic, n in sorted(lesson.chosen.items(), key=lambda item: -item[1]))
    return f"  (then chosen: {said})" if said else ""


def _decide(args: argparse.Namespace) -> str:
    kitchen = kitchen_of(args.kitchen)
    folder = store_of(args.store, kitchen)
    if not (folder / HISTORY_NAME).exists():
        raise UsageError("--store", None, f"{folder} holds no records", "check the name of the records folder")
    known = records_of(folder).state.lessons
    lesson = known.by_number.get(args.number)
    if lesson is None:
        raise UsageError("NUMBER", None, f"there is no text {args.number}", "see 'vatside phrases list'")
    if (args.what == "undo") == (lesson.decided is None):
        state = "not decided yet" if lesson.decided is None else f"{lesson.decided} already"
        todo = "nothing to take back" if lesson.decided is None else "take that back first, with undo"
        raise UsageError("NUMBER", None, f'"{lesson.text}" is {state}', todo)
    topic = _topic(args.topic) if args.what == "accept" else ""
    if topic:
        _object(understander_of(kitchen, args.kitchen), lesson.text, topic)
    change, said = _change(args.what, lesson, topic)
    helper = opener(kitchen, folder, args.kitchen, watch=True)(clock())
    try:
        helper.decide(lambda _: Outcome((change,)), clock())
        helper.learn(clock())
        left = helper.state.lessons.unfiled
    finally:
        helper.close()
    return said + (" (not in a phrase file yet)" if left else "")


def _change(what: str, lesson: Lesson, topic: str) -> tuple[LessonChange, str]:
    match what:
        case "accept":
            taught = PhraseTaught(lesson.number, lesson.text, lesson.language, topic)
            return taught, f'"{lesson.text}" means {topic} from now on'
        case "refuse":
            return PhraseRefused(lesson.number), f'"{lesson.text}" is refused and won\'t be asked about again'
        case _:
            return PhraseTakenBack(lesson.number), f'what "{lesson.text}" means is open again'


def _add(args: argparse.Namespace) -> str:
    kitchen, folder = kitchen_of(args.kitchen), _folder(args)
    topic, text = _topic(args.topic), one_line(args.text).lstrip("# ")
    _object(understander_of(kitchen, args.kitchen), text, topic)
    path = place_of(folder, args.language or kitchen.language, topic)
    before = path.read_bytes() if path.exists() else b""
    after = with_line(before, text)
    if after == before:
        return f'{path}: "{text}" stands there already'
    _write(path, after)
    return f"{path}: added; a running helper uses it within seconds"


def _remove(args: argparse.Namespace) -> str:
    folder = _folder(args)
    changed = []
    for path in sorted(folder.rglob("*.txt")):
        if args.topic in (None, path.stem) and args.language in (None, path.parent.name):
            before = path.read_bytes()
            after = without_line(before, args.text)
            if after != before:
                _write(path, after)
                changed.append(str(path))
    if not changed:
        raise UsageError(
            folder, None, f'"{as_phrase(args.text)}" stands in no phrase file', "see 'vatside phrases list'"
        )
    return f"{', '.join(changed)}: removed"


def _folder(args: argparse.Namespace) -> Path:
    folder = own_phrases(args.kitchen)
    if folder is None:
        raise UsageError("--kitchen", None, "the demo has no phrases of its own", "name a kitchen file")
    return folder


def _topic(said: str) -> str:
    if said not in topics():
        raise UsageError("TOPIC", None, f'"{said}" is no topic', instead(said, topics(), "see intents/topics.toml"))
    return said


def _object(understander: Understander, text: str, topic: str) -> None:
    found = understander.objection(text, topic)
    if found is not None:
        raise UsageError("TEXT", None, *in_words(text, found))


def _write(path: Path, data: bytes) -> None:
    try:
        make_folders(Files(), path.parent)
        replace_file(Files(), path, [data])
    except OSError as error:
        raise UsageError(path, None, f"it can't be written: {error.strerror}", "nothing was changed") from error
