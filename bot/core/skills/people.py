"""The people of the kitchen: who is in, in which role, who leaves; and which group is the crew's."""

from __future__ import annotations

from bot.core import records as r, roster
from bot.core.actions import action
from bot.core.kitchen import Person, Role
from bot.core.messages import CREW, Button, GroupOffered, Outcome, Reply, Words
from bot.core.scene import Scene, Speaker
from bot.core.skills import asking
from bot.core.skills.joining import refused

A_PAGE = 8
"""People on one page of the list."""


def command(scene: Scene, who: Speaker, rest: str) -> Outcome:
    """``/crew``: the list of people; in the crew's own chat, followed by anything, that this is it already."""
    if who.person.role != "manager":
        return refused(scene, who)
    if who.chat == CREW:
        return scene.answer(who, Words("crew.already") if rest else Words("crew.in_private"))
    return panel(scene, who, 0)


def panel(scene: Scene, who: Speaker, page: int) -> Outcome:
    """Everybody of the kitchen, to choose one."""
    if who.person.role != "manager":
        return refused(scene, who)
    shown = scene.kitchen.people[page * A_PAGE : (page + 1) * A_PAGE]
    lines = [Words("people.head", {"n": len(scene.kitchen.people)}), *(_line(person) for person in shown)]
    buttons = [Button(Words("button.person", {"name": p.name}), action("person", p.id)) for p in shown]
    if (page + 1) * A_PAGE < len(scene.kitchen.people):
        buttons.append(Button(Words("button.more_people"), action("people", page + 1)))
    buttons.append(Button(Words("button.invite"), action("invite", None, None)))
    if scene.kitchen.crew_chat is None:
        lines.append(Words("join.crew_chat"))
    return scene.answer(who, *lines, buttons=tuple(buttons))


def person(scene: Scene, who: Speaker, person_id: str) -> Outcome | None:
    """One person, and what a manager may change about them."""
    if who.person.role != "manager":
        return refused(scene, who)
    found = scene.kitchen.person(person_id)
    if found is None:
        return None
    buttons = [
        Button(Words("button.make_role", {"role": Words(f"role.{role}")}), action("role", role, found.id))
        for role in roster.ROLES
        if role != found.role
    ]
    age, label = ("no", "button.is_adult") if found.under_16 else ("yes", "button.is_young")
    buttons.append(Button(Words(label), action("age", age, found.id)))
    if found.telegram is None:
        buttons.append(Button(Words("button.invite_name", {"name": found.name}), action("invite", "name", found.id)))
    else:
        buttons.append(Button(Words("button.new_phone"), action("phone", found.id)))
    if found.id != who.person.id:
        buttons.append(Button(Words("button.take_out"), action("remove", found.id)))
    return scene.answer(who, _line(found), buttons=tuple(buttons))


def change_role(scene: Scene, who: Speaker, role: Role, person_id: str) -> Outcome | None:
    """Give a person another role; they hear of it, and the other managers do."""
    if who.person.role != "manager":
        return refused(scene, who)
    found = scene.kitchen.person(person_id)
    if found is None:
        return None
    params = {"name": found.name, "role": Words(f"role.{role}"), "by": who.person.name}
    if found.role == role:
        return scene.answer(who, Words("people.role_already", params))
    if roster.is_last_manager(scene.kitchen, found):
        return scene.answer(who, Words("people.last_manager"))
    changed = r.RoleChanged(found.id, role, who.person.id, _filed(scene, found).role)
    told = scene.answer(who, Words("people.role_set", params), changes=(changed,))
    if found.id != who.person.id:
        told += Outcome(replies=(Reply(found.id, "alert", (Words("people.your_role", params),)),))
    return told + _tell_managers(scene, who, Words("people.role_heard", params), found)


def set_age(scene: Scene, who: Speaker, under_16: bool, person_id: str) -> Outcome | None:
    """Say whether a person is under 16; the rule for hot oil goes by it."""
    if who.person.role != "manager":
        return refused(scene, who)
    found = scene.kitchen.person(person_id)
    if found is None:
        return None
    line = Words("people.is_young" if under_16 else "people.is_adult", {"name": found.name})
    if found.under_16 == under_16:
        return scene.answer(who, line)
    changed = r.AgeSet(found.id, under_16, who.person.id, _filed(scene, found).under_16)
    return scene.answer(who, line, changes=(changed,))


def ask_new_phone(scene: Scene, who: Speaker, person_id: str) -> Outcome | None:
    """A lost phone: ask before the old one is shut out."""
    if who.person.role != "manager":
        return refused(scene, who)
    found = scene.kitchen.person(person_id)
    if found is None:
        return None
    yes = Button(Words("button.new_link"), action("invite", "new", found.id))
    text = "people.ask_own_phone" if found.id == who.person.id else "people.ask_phone"
    return asking.yes_no(scene, who, (Words(text, {"name": found.name}),), yes, _no())


def ask_remove(scene: Scene, who: Speaker, person_id: str) -> Outcome | None:
    """Ask before somebody is taken out."""
    if who.person.role != "manager":
        return refused(scene, who)
    found = scene.kitchen.person(person_id)
    if found is None:
        return None
    yes = Button(Words("button.take_out"), action("removed", found.id))
    return asking.yes_no(scene, who, (Words("people.ask_remove", {"name": found.name}),), yes, _no())


def remove(scene: Scene, who: Speaker, person_id: str) -> Outcome | None:
    """Take a person out. What they logged stays."""
    if who.person.role != "manager":
        return refused(scene, who)
    found = scene.kitchen.person(person_id)
    if found is None:
        return None
    if roster.is_last_manager(scene.kitchen, found):
        return scene.answer(who, Words("people.last_manager"))
    if found.id == who.person.id:
        return ask_leave(scene, who)
    params = {"name": found.name, "by": who.person.name, "kitchen": scene.kitchen.name}
    gone = r.PersonLeft(found.id, who.person.id)
    told = scene.answer(who, Words("people.removed", params), changes=(gone,))
    told += Outcome(replies=(Reply(found.id, "alert", (Words("people.you_are_out", params),)),))
    return told + _tell_managers(scene, who, Words("people.removed_heard", params), found)


def ask_leave(scene: Scene, who: Speaker) -> Outcome:
    """``/leave``: ask before somebody goes."""
    if roster.is_last_manager(scene.kitchen, who.person):
        return scene.answer(who, Words("people.last_manager"))
    yes = Button(Words("button.leave"), action("leave"))
    return asking.yes_no(scene, who, (Words("leave.ask", {"kitchen": scene.kitchen.name}),), yes, _no())


def leave(scene: Scene, who: Speaker) -> Outcome:
    """Somebody goes of their own will. The managers hear of it."""
    if roster.is_last_manager(scene.kitchen, who.person):
        return scene.answer(who, Words("people.last_manager"))
    gone = r.PersonLeft(who.person.id, who.person.id)
    heard = Words("leave.heard", {"name": who.person.name})
    goodbye = Words("leave.done", {"kitchen": scene.kitchen.name})
    told = Reply(who.person.id, "reply", (goodbye,), language=scene.language_of(who.person))
    return Outcome((gone,), (told,)) + _tell_managers(scene, who, heard, who.person)


def group_offered(scene: Scene, who: Speaker, event: GroupOffered) -> Outcome:
    """Somebody asked in a group to make it the crew's chat; a manager is asked, in private, to say yes."""
    if who.person.role != "manager":
        return refused(scene, who)
    if event.group == scene.kitchen.crew_chat:
        return scene.answer(who, Words("crew.already"))
    yes = Button(Words("button.crew_here"), action("crewchat", event.group))
    text = "crew.ask" if scene.kitchen.crew_chat is None else "crew.ask_instead"
    return asking.yes_no(scene, who, (Words(text, {"kitchen": scene.kitchen.name}),), yes, _no())


def set_crew_chat(scene: Scene, who: Speaker, group: int) -> Outcome | None:
    """Make a group the crew's chat; None where this manager was not just asked about that group."""
    if who.person.role != "manager":
        return refused(scene, who)
    question = asking.open_question(scene, who)
    if question is None or action("crewchat", group) not in {option.action for option in question.options}:
        return None
    filed = scene.filed or scene.kitchen
    changes = (r.CrewChatSet(group, who.person.id, filed.crew_chat), r.Settled(who.chat, who.person.id))
    told = scene.answer(who, Words("crew.set"), changes=changes)
    hello = Words("crew.hello", {"by": who.person.name})
    return told + Outcome(replies=(Reply(CREW, "reply", (hello,)),))


def _line(person: Person) -> Words:
    params = {
        "name": person.name,
        "role": Words(f"role.{person.role}"),
        "language": Words(f"language.{person.language}"),
    }
    state = "in" if person.telegram is not None else "out"
    return Words(f"people.young_{state}" if person.under_16 else f"people.adult_{state}", params)


def _tell_managers(scene: Scene, who: Speaker, line: Words, about: Person) -> Outcome:
    others = [p for p in scene.kitchen.with_role("manager") if p.id not in (who.person.id, about.id)]
    return Outcome(replies=tuple(Reply(p.id, "alert", (line,)) for p in others))


def _filed(scene: Scene, person: Person) -> Person:
    return roster.as_filed(scene.filed or scene.kitchen, scene.state.membership, person)


def _no() -> Button:
    return Button(Words("button.no"), action("no"))
