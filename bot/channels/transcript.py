"""The messages of a chat as they stand: the latest text of each, and the buttons that can be pressed."""

from __future__ import annotations

from bot.core.records import OutButton, Outgoing


class Transcript:
    """What every chat shows. A message that edits an earlier one takes its place there."""

    def __init__(self) -> None:
        self._chats: dict[str, list[Outgoing]] = {}

    def show(self, message: Outgoing) -> None:
        """Take a message in."""
        chat = self._chats.setdefault(message.to, [])
        if message.edit and message.key is not None:
            for place in range(len(chat) - 1, -1, -1):
                if chat[place].key == message.key:
                    chat[place] = message
                    return
        chat.append(message)

    def pressable(self, chat: str) -> tuple[OutButton, ...]:
        """The buttons of the newest message in a chat that still has any."""
        for message in reversed(self._chats.get(chat, ())):
            if message.buttons:
                return message.buttons
        return ()

    def press(self, chat: str, label: str | int) -> OutButton | None:
        """The button with that number (from 1) or label.

        A number counts in the newest message with buttons. A label is looked for there first, then in older
        messages; the start of a label will do.
        """
        if isinstance(label, int):
            buttons = self.pressable(chat)
            return buttons[label - 1] if 1 <= label <= len(buttons) else None
        wanted = label.strip().casefold()
        for matches in (str.__eq__, str.startswith):
            for message in reversed(self._chats.get(chat, ())):
                for button in message.buttons:
                    if wanted and matches(button.label.casefold(), wanted):
                        return button
        return None
