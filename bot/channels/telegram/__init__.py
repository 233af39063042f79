"""The Telegram door: a wire at the edge. What is decided is decided by the helper behind ``bot.channels.port``."""

from bot.channels.telegram.door import serve

__all__ = ["serve"]
