"""Knowledge checks of three questions, sign-offs, and who is trained on what."""

from __future__ import annotations

from datetime import date, datetime
from zoneinfo import ZoneInfo

from bot.core import records as r, training
from bot.core.actions import action
from bot.core.kitchen import Person
from bot.core.library import GuideShape
from bot.core.messages import Button, Outcome, Reply, Words
from bot.core.pieces import SignOff
from bot.core.scene import Scene, Speaker
from bot.core.skills import asking

OPTIONS = 3
A_PAGE = 6
"""Guides on one page of the panel, so that its buttons fit on a phone."""

MOST_TO_SIGN = 6

MOST_QUESTIONS = 12
"""Questions that are listed one by one: a longer list is not read on a phone; all of them are in the export."""


def check_button(scene: Scene, who: Speaker, guide: GuideShape) -> tuple[Button, ...]:
    """The button to a guide's check, for somebody who hasn't passed it lately; none where it has no questions."""
    if not guide.answers or training.passed(scene, who.person.id, guide.topic):
        return ()
    return (Button(Words("button.quick_check"), action("quiz", guide.topic, None)),)


def quiz(scene: Scene, who: Speaker, topic: str, given: str) -> Outcome | None:
    """Go on with a check after the answers ``given`` ("21": 2 to the first question, 1 to the second)."""
    guide = scene.library.guides.get(topic)
    if guide is None or not guide.answers or len(given) > len(guide.answers):
        return None
    if any(answer not in "123" for answer in given):
        return None
    lines = [] if given else [Words("training.check", {"guide": _title(topic), "n": len(guide.answers)})]
    if given:
        lines = _judged(topic, len(given), int(given[-1]), guide.answers[len(given) - 1])
    if len(given) == len(guide.answers):
        return _result(scene, who, guide, given, lines)
    number = len(given) + 1
    question = Words("training.question", {"n": number, "of": len(guide.answers), "text": _text(topic, number, "ask")})
    lines.append(question)
    lines += [
        Words("training.option", {"n": n, "text": _text(topic, number, f"option.{n}")}) for n in range(1, OPTIONS + 1)
    ]
    buttons = tuple(
        Button(Words("button.number", {"n": n}), action("quiz", topic, f"{given}{n}")) for n in range(1, OPTIONS + 1)
    )
    return asking.ask(scene, who, tuple(lines), buttons)


def _judged(topic: str, question: int, given: int, right: int) -> list[Words]:
    why = _text(topic, question, "why")
    if given == right:
        return [Words("training.right", {"why": why})]
    return [Words("training.wrong", {"text": _text(topic, question, f"option.{right}"), "why": why})]


def _result(scene: Scene, who: Speaker, guide: GuideShape, given: str, lines: list[Words]) -> Outcome:
    right = sum(int(answer) == wanted for answer, wanted in zip(given, guide.answers, strict=True))
    taken = r.CheckTaken(who.person.id, guide.topic, right, len(guide.answers))
    settled = r.Settled(who.chat, who.person.id)
    params = {"right": right, "of": len(guide.answers), "guide": _title(guide.topic)}
    if right < len(guide.answers):
        again = Button(Words("button.try_again"), action("quiz", guide.topic, None))
        lines.append(Words("training.not_passed", params))
        return scene.answer(who, *lines, buttons=(again,), changes=(taken, settled))
    lines.append(Words("training.passed", params))
    told = scene.answer(who, *lines, changes=(taken, settled))
    if not _to_be_signed_off(scene, who.person, guide):
        return told
    sign = Button(Words("button.sign_off", {"name": who.person.name}), action("sign", guide.topic, who.person.id))
    line = Words("alert.check_passed", {"by": who.person.name, "guide": _title(guide.topic)})
    signers = [person for person in scene.kitchen.with_role(*training.SIGNERS) if person.id != who.person.id]
    return told + Outcome(replies=tuple(Reply(person.id, "alert", (line,), (sign,)) for person in signers))


def sign(scene: Scene, who: Speaker, topic: str, person_id: str) -> Outcome | None:
    """Sign a person off for a guide; only a lead or a trainer may, and nobody for themselves."""
    guide, person = scene.library.guides.get(topic), scene.kitchen.person(person_id)
    if guide is None or person is None:
        return None
    if who.person.role not in training.SIGNERS or person.id == who.person.id:
        return scene.answer(who, Words("training.not_yours"))
    if guide.hot_oil and person.under_16:
        return scene.answer(who, Words("training.too_young", {"name": person.name}), Words("young.may"))
    until = scene.now + training.LASTS
    signed = r.SignedOff(person.id, topic, who.person.id, until)
    params = {"name": person.name, "guide": _title(topic), "until": _day(scene, until), "by": who.person.name}
    undo = Button(Words("button.take_back"), action("unsign", topic, person.id))
    told = scene.answer(who, Words("training.signed_off", params), buttons=(undo,), changes=(signed,))
    return told + Outcome(replies=(Reply(person.id, "reply", (Words("training.you_are_signed_off", params),)),))


def unsign(scene: Scene, who: Speaker, topic: str, person_id: str) -> Outcome | None:
    """Take a sign-off back."""
    person = scene.kitchen.person(person_id)
    if person is None or topic not in scene.library.guides:
        return None
    if who.person.role not in training.SIGNERS:
        return scene.answer(who, Words("training.not_yours"))
    if training.sign_off(scene, person_id, topic) is None:
        return scene.answer(who, Words("training.none_valid", {"name": person.name, "guide": _title(topic)}))
    line = Words("training.taken_back", {"name": person.name, "guide": _title(topic)})
    return scene.answer(who, line, changes=(r.SignOffRevoked(person_id, topic, who.person.id),))


def panel(scene: Scene, who: Speaker, page: int = 0) -> Outcome:
    """The guides that need training, to see who is trained on each."""
    if who.person.role not in (*training.SIGNERS, "manager"):
        return scene.answer(who, Words("training.not_yours"))
    topics = training.guides_to_learn(scene)
    shown = topics[page * A_PAGE : (page + 1) * A_PAGE]
    buttons = [Button(_title(topic), action("trained", topic)) for topic in shown]
    if (page + 1) * A_PAGE < len(topics):
        buttons.append(Button(Words("button.more_guides"), action("train", page + 1)))
    return asking.ask(scene, who, (Words("training.panel"),), tuple(buttons))


def trained(scene: Scene, who: Speaker, topic: str) -> Outcome | None:
    """Who is trained on a guide, until when; a lead or trainer may sign off the others."""
    guide = scene.library.guides.get(topic)
    if guide is None:
        return None
    found = training.signed_off(scene, topic)
    lines = [Words("training.who", {"guide": _title(topic)})]
    lines += [
        Words("training.until", {"name": person.name, "until": _day(scene, valid.until)}) for person, valid in found
    ]
    if not found:
        lines.append(Words("training.nobody"))
    buttons: list[Button] = []
    if who.person.role in training.SIGNERS:
        lacking = [p for p in scene.kitchen.people if _to_be_signed_off(scene, p, guide) and p.id != who.person.id]
        buttons += [Button(Words("button.sign_off", {"name": p.name}), action("sign", topic, p.id)) for p in lacking][
            :MOST_TO_SIGN
        ]
    return scene.answer(who, *lines, buttons=(*buttons, *check_button(scene, who, guide)))


def ask_a_lead(scene: Scene, who: Speaker, guide: GuideShape) -> tuple[Words, ...]:
    """The line for somebody who isn't signed off for what can hurt; nothing for the others."""
    if not training.needs_a_lead(scene, who.person, guide):
        return ()
    people = scene.kitchen.with_role("lead") or scene.kitchen.with_role("trainer", "manager")
    return (Words("training.ask_lead", {"who": tuple(person.name for person in people)}),)


def digest(scene: Scene) -> tuple[Words, ...]:
    """The week for a trainer: what was not understood, which faults came again, and who is due for what."""
    asked = training.unanswered(scene)
    lines = [Words("digest.head")]
    if asked:
        lines.append(Words("digest.unanswered", {"n": sum(n for _, n in asked)}))
        lines += [Words("digest.question", {"text": text, "n": n}) for text, n in asked[:MOST_QUESTIONS]]
        if len(asked) > MOST_QUESTIONS:
            lines.append(Words("digest.more", {"n": len(asked) - MOST_QUESTIONS}))
    for topic, fryer, n in training.repeated_faults(scene):
        lines.append(Words("digest.fault", {"fault": Words(f"topic.{topic}"), "fryer": fryer, "n": n}))
    for person, topic, found in training.due_again(scene):
        lines.append(_due(scene, person, topic, found))
    if len(lines) == 1:
        lines.append(Words("digest.nothing"))
    return tuple(lines)


def digest_replies(scene: Scene) -> tuple[Reply, ...]:
    """The digest to each trainer."""
    buttons = [Button(Words("button.training"), action("train", 0))]
    if scene.state.lessons.open():
        buttons.append(Button(Words("button.phrases"), action("phrases")))
    lines = digest(scene)
    return tuple(Reply(person.id, "summary", lines, tuple(buttons)) for person in scene.kitchen.with_role("trainer"))


def _due(scene: Scene, person: Person, topic: str, found: SignOff) -> Words:
    words = "digest.ended" if found.until <= scene.now else "digest.ending"
    guide = _title(topic) if topic in scene.library.guides else Words(f"topic.{topic}")
    return Words(words, {"name": person.name, "guide": guide, "until": _day(scene, found.until)})


def _to_be_signed_off(scene: Scene, person: Person, guide: GuideShape) -> bool:
    if person.role not in training.LEARNERS or (guide.hot_oil and person.under_16):
        return False
    return training.sign_off(scene, person.id, guide.topic) is None


def _title(topic: str) -> Words:
    return Words(f"{topic}/title")


def _text(topic: str, question: int, part: str) -> Words:
    return Words(f"{topic}/check.{question}.{part}")


def _day(scene: Scene, until: datetime) -> date:
    return until.astimezone(ZoneInfo(scene.kitchen.timezone)).date()
