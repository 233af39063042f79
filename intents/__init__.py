"""From the words of a message to a topic and slots; knows language, never the work of a kitchen."""

from intents.types import Choice, Language, Part, Slots, Understood, Unit
from intents.understander import Explanation, Understander

__all__ = ["Choice", "Explanation", "Language", "Part", "Slots", "Understander", "Understood", "Unit"]
