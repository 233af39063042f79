"""Where the files that travel with the program lie, from a checkout as from an installed wheel."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

CONTENT = Path(str(resources.files("bot"))) / "content"
GUIDES = CONTENT / "guides"
EMERGENCIES = CONTENT / "emergencies"
DANGERS = CONTENT / "dangers"
WORDING = CONTENT / "wording"
PICTURES = CONTENT / "pictures"
FORMATS = CONTENT / "formats.toml"
DUTIES = CONTENT / "duties.toml"
LIMITS = CONTENT / "limits.toml"


def demo_folder() -> Path:
    """The folder of the demo: its kitchen file and the evening to play."""
    return Path(str(resources.files("demo_store").joinpath("kitchen.toml"))).parent
