"""Links that let somebody in: their secrets live here, in memory, until they have been shown; records hold seals."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Iterable

from bot.core.records import Change, PersonInvited

MOST = 100
"""Links of one kitchen that were made and perhaps not shown yet; the oldest is forgotten first."""


class Links:
    """The secrets of one kitchen's links. A door that can make links sets ``source``; without it none are made."""

    def __init__(self) -> None:
        self.source: Callable[[], str] | None = None
        """Gives a new secret each time, of 128 random bits or more."""
        self._secrets: OrderedDict[str, str] = OrderedDict()

    def fresh(self) -> str | None:
        """A secret for a link that may have to be made; None where links can't be."""
        return self.source() if self.source is not None else None

    def keep(self, secret: str | None, changes: Iterable[Change]) -> None:
        """Keep the secret, if one of these changes made a link of it."""
        for change in changes:
            if isinstance(change, PersonInvited) and secret is not None:
                self._secrets[change.seal] = secret
                if len(self._secrets) > MOST:
                    self._secrets.popitem(last=False)

    def secret(self, seal: str) -> str | None:
        """The secret behind a seal; None for one that was made before this process began."""
        return self._secrets.get(seal)
