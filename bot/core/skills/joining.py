"""Letting people in: links made by a manager or trainer, and what happens when somebody comes by one."""

from __future__ import annotations

from bot.core import invites, records as r, roster
from bot.core.actions import action
from bot.core.invites import MAY_INVITE
from bot.core.kitchen import Person, Role
from bot.core.messages import CREW, Arrived, Attachment, Button, LinkWanted, Outcome, Reply, Words
from bot.core.scene import Scene, Speaker
from bot.core.skills import asking

MOST_NAMED = 8
"""People without a phone that are offered by name."""


def command(scene: Scene, who: Speaker, rest: str, secret: str | None) -> Outcome:
    """``/invite``, followed by a role, by somebody's name, or by nothing."""
    if not MAY_INVITE[who.person.role]:
        return refused(scene, who)
    wanted = rest.strip().casefold()
    role = next((role for role in roster.ROLES if role == wanted), None)
    if role is not None:
        return for_role(scene, who, role, secret)
    person = next((p for p in scene.kitchen.people if wanted in (p.id.casefold(), p.name.casefold())), None)
    if person is not None:
        return for_person(scene, who, person.id, secret) or panel(scene, who)
    return panel(scene, who)


def panel(scene: Scene, who: Speaker) -> Outcome:
    """Whom to let in: a role, or somebody of the kitchen who has no phone here yet."""
    may = MAY_INVITE[who.person.role]
    buttons = [Button(Words(f"role.{role}"), action("invite", "role", role)) for role in may]
    waiting = [p for p in scene.kitchen.people if p.telegram is None and p.role in may and p.id != who.person.id]
    buttons += [
        Button(Words("button.invite_name", {"name": p.name}), action("invite", "name", p.id))
        for p in waiting[:MOST_NAMED]
    ]
    return asking.ask(scene, who, (Words("invite.whom"),), tuple(buttons))


def for_role(scene: Scene, who: Speaker, role: Role, secret: str | None) -> Outcome:
    """A link for somebody new."""
    if role not in MAY_INVITE[who.person.role]:
        return refused(scene, who)
    return _made(scene, who, Words("invite.for_role", {"role": Words(f"role.{role}")}), role, None, secret)


def for_person(scene: Scene, who: Speaker, person_id: str, secret: str | None) -> Outcome | None:
    """A link for somebody of the kitchen who isn't here yet; None for an id that nobody has."""
    person = scene.kitchen.person(person_id)
    if person is None:
        return None
    if person.role not in MAY_INVITE[who.person.role]:
        return refused(scene, who)
    if person.telegram is not None and person.id != who.person.id:
        return scene.answer(who, Words("invite.in_already", {"name": person.name}))
    return _made(scene, who, Words("invite.for_name", {"name": person.name}), person.role, person, secret)


def for_new_phone(scene: Scene, who: Speaker, person_id: str, secret: str | None) -> Outcome | None:
    """A link for a new phone; the old one is out at once. None for an id that nobody has."""
    person = scene.kitchen.person(person_id)
    if person is None:
        return None
    if who.person.role != "manager":
        return refused(scene, who)
    if person.id == who.person.id:
        # Whoever asks from a phone has it; it is out when the new one is in.
        return for_person(scene, who, person_id, secret)
    if secret is None:
        return scene.answer(who, Words("invite.not_here"))
    lost = r.PhoneLost(person.id, who.person.id, _filed(scene, person).telegram)
    line = Words("invite.for_new_phone", {"name": person.name})
    return _made(scene, who, line, person.role, person, secret, (lost,))


def refused(scene: Scene, who: Speaker) -> Outcome:
    """Only a manager may do that; who that is."""
    managers = tuple(p.name for p in scene.kitchen.with_role("manager"))
    return scene.answer(who, Words("people.not_yours", {"who": managers}) if managers else Words("ask.nobody"))


def wanted_by_operator(scene: Scene, event: LinkWanted) -> Outcome:
    """A link made at the command line; the phone of somebody who has one is out at once."""
    person = scene.kitchen.person(event.person) if event.person is not None else None
    changes: list[r.Change] = []
    if person is not None and person.telegram is not None:
        changes.append(r.PhoneLost(person.id, None, _filed(scene, person).telegram))
    role = person.role if person is not None else event.role
    expires = scene.now + invites.GOOD_FOR
    invited = r.PersonInvited(invites.seal(event.secret), role, expires, None, person.id if person else None)
    return Outcome((*changes, invited))


def arrived(scene: Scene, event: Arrived) -> Outcome:
    """Somebody came by a link and said who they are: they are in, and the managers hear of it.

    Nothing happens where the link lets nobody in, or the phone is somebody's already.
    """
    found = invites.look_up(scene.kitchen, scene.state.membership, event.secret, scene.now)
    if isinstance(found, str) or any(p.telegram == event.phone for p in scene.kitchen.people if p.id != found.person):
        return Outcome()
    known = scene.kitchen.person(found.person) if found.person is not None else None
    if known is not None:
        new = known
        instead_of = _filed(scene, known).telegram
    else:
        person_id = roster.new_id(event.name, scene.kitchen, scene.state.membership)
        new = Person(person_id, event.name, found.role, event.language, event.under_16)
        instead_of = None
    joined = r.PersonJoined(
        new.id, invites.seal(event.secret), new.name, new.role, new.language, new.under_16, event.phone, instead_of
    )
    language = scene.language_of(new)
    welcome = Reply(new.id, "reply", tuple(_welcome(scene, new)), language=language)
    return Outcome((joined,), (welcome, *_heard(scene, new, found.by, known is not None)))


def _welcome(scene: Scene, new: Person) -> list[Words]:
    lines = [Words("join.welcome", {"name": new.name, "kitchen": scene.kitchen.name}), Words("talk.try")]
    if new.under_16:
        lines.append(Words("join.young"))
    if new.role == "manager":
        lines.append(Words("join.manager"))
        if scene.kitchen.crew_chat is None:
            lines.append(Words("join.crew_chat"))
    return lines


def _heard(scene: Scene, new: Person, by: str | None, known: bool) -> tuple[Reply, ...]:
    """What the managers, and whoever made the link, hear of it."""
    params = {"name": new.name, "role": Words(f"role.{new.role}")}
    lines = [Words("alert.joined_known" if known else "alert.joined", params)]
    if not known:
        lines.append(Words("alert.joined_young" if new.under_16 else "alert.joined_adult"))
    look = Button(Words("button.person", {"name": new.name}), action("person", new.id))
    to = [p for p in scene.kitchen.people if (p.role == "manager" or p.id == by) and p.id != new.id]
    return tuple(Reply(p.id, "alert", tuple(lines), (look,) if p.role == "manager" else ()) for p in to)


def _made(
    scene: Scene,
    who: Speaker,
    line: Words,
    role: Role,
    person: Person | None,
    secret: str | None,
    changes: tuple[r.Change, ...] = (),
) -> Outcome:
    """The link itself goes to the private chat of whoever asked, wherever they asked."""
    if secret is None:
        return scene.answer(who, Words("invite.not_here"))
    if invites.count_open(scene.state.membership, scene.now) >= invites.MOST_OPEN:
        return scene.answer(who, Words("invite.too_many", {"n": invites.MOST_OPEN}))
    sealed = invites.seal(secret)
    expires = scene.now + invites.GOOD_FOR
    invited = r.PersonInvited(sealed, role, expires, who.person.id, person.id if person is not None else None)
    shown = Words("invite.link", {"link": invites.marker(sealed)})
    lines = (line, shown, Words("invite.once", {"until": expires}))
    link = Reply(
        who.person.id, "reply", lines, files=(Attachment("invitation", name=sealed),),
        language=scene.language_of(who.person),
    )  # fmt: skip
    told = Outcome((*changes, invited), (link,))
    return told + scene.answer(who, Words("invite.sent_privately")) if who.chat == CREW else told


def _filed(scene: Scene, person: Person) -> Person:
    return roster.as_filed(scene.filed or scene.kitchen, scene.state.membership, person)
