"""What is asked for by a command and what follows it, whatever the language: people, links, a fryer's card."""

from __future__ import annotations

from bot.core.messages import Outcome
from bot.core.scene import Scene, Speaker
from bot.core.skills import fryer_card, joining, people

COMMANDS = ("/invite", "/crew", "/leave", "/fryer")


def answer(scene: Scene, who: Speaker, text: str, secret: str | None) -> Outcome | None:
    """Answer a command; None for words that are none of these. ``secret`` is for a link that may have to be made."""
    word, _, rest = text.strip().partition(" ")
    match word.lower():
        case "/invite":
            return joining.command(scene, who, rest, secret)
        case "/crew":
            return people.command(scene, who, rest.strip())
        case "/leave":
            return people.ask_leave(scene, who)
        case "/fryer":
            return fryer_card.show(scene, who, rest.strip())
        case _:
            return None


def act(scene: Scene, who: Speaker, verb: str, args: tuple[str | None, ...], secret: str | None) -> Outcome | None:
    """Do what a button of theirs says; None for one that makes no sense (any more). Raises ``ValueError`` likewise."""
    match verb, args:
        case "invite", (None, None):
            return joining.command(scene, who, "", secret)
        case "invite", ("role", ("cook" | "lead" | "manager" | "trainer") as role):
            return joining.for_role(scene, who, role, secret)
        case "invite", ("name", str() as person):
            return joining.for_person(scene, who, person, secret)
        case "invite", ("new", str() as person):
            return joining.for_new_phone(scene, who, person, secret)
        case "people", (str() as page,) if int(page) >= 0:
            return people.panel(scene, who, int(page))
        case "person", (str() as person,):
            return people.person(scene, who, person)
        case "role", (("cook" | "lead" | "manager" | "trainer") as role, str() as person):
            return people.change_role(scene, who, role, person)
        case "age", (("yes" | "no") as under_16, str() as person):
            return people.set_age(scene, who, under_16 == "yes", person)
        case "phone", (str() as person,):
            return people.ask_new_phone(scene, who, person)
        case "remove", (str() as person,):
            return people.ask_remove(scene, who, person)
        case "removed", (str() as person,):
            return people.remove(scene, who, person)
        case "leave", ():
            return people.leave(scene, who)
        case "crewchat", (str() as group,):
            return people.set_crew_chat(scene, who, int(group))
        case "card", (str() as what, str() as fryer) if scene.kitchen.fryer(fryer) is not None:
            return fryer_card.tapped(scene, who, what, fryer)
        case _:
            return None
