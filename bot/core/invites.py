"""The rules of coming in: who may let whom in, what a link is worth, and what stands of it in the records."""

from __future__ import annotations

from datetime import datetime, timedelta
from hashlib import sha256
from typing import Literal

from bot.core.kitchen import Kitchen, Role
from bot.core.membership import Invite, Membership

GOOD_FOR = timedelta(hours=48)
"""A link that lies about longer than two shifts is asked for anew."""

MOST_OPEN = 50
"""Links of one kitchen that may be open at once."""

MAY_INVITE: dict[Role, tuple[Role, ...]] = {
    "manager": ("cook", "lead", "trainer", "manager"),
    "trainer": ("cook",),
    "lead": (),
    "cook": (),
}
"""Whom each role may let in."""

JOIN, FRYER = "j_", "f_"
"""How the value of a link begins that lets somebody in, and of one that opens the chat at a fryer."""

LONGEST_VALUE = 64
"""Characters of a link's value, of A-Z, a-z, 0-9, _ and - (Telegram, deep linking)."""

Refusal = Literal["unknown", "used", "ended"]


def seal(secret: str) -> str:
    """What is kept of a secret; nobody gets from it to the secret, which has 128 random bits or more."""
    return sha256(f"vatside invitation {secret}".encode()).hexdigest()


def marker(of: str) -> str:
    """What stands in a message in place of the link, until it is sent. The records never hold the link."""
    return f"[LINK {of[:12]}]"


def look_up(kitchen: Kitchen, membership: Membership, secret: str, now: datetime) -> Invite | Refusal:
    """The invitation behind a secret, or why it lets nobody in."""
    invite = membership.invites.get(seal(secret))
    if invite is None:
        return "unknown"
    if invite.used:
        return "used"
    if now >= invite.expires:
        return "ended"
    if invite.by is not None:
        # Whoever has left or lost the right since lets nobody in any more.
        inviter = kitchen.person(invite.by)
        if inviter is None or invite.role not in MAY_INVITE[inviter.role]:
            return "ended"
    if invite.person is not None and kitchen.person(invite.person) is None:
        return "ended"
    return invite


def count_open(membership: Membership, now: datetime) -> int:
    """How many links could still let somebody in."""
    return sum(not invite.used and now < invite.expires for invite in membership.invites.values())
