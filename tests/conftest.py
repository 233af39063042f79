"""What many tests share: the content and the understanding, loaded once, and a helper on a fresh store."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path

import pytest
from hypothesis import settings

from bot.app import Helper
from bot.content.catalogue import Content, load_content
from bot.content.kitchen_file import read_kitchen
from bot.content.places import demo_folder
from bot.core.kitchen import Kitchen
from intents.understander import Understander

# A run tells about the change that is tested, so it draws the same examples every time, and a slow machine fails
# nothing. To look for new ones: pytest --hypothesis-profile=search
settings.register_profile("repeatable", derandomize=True, deadline=None)
settings.register_profile("search", deadline=None, max_examples=2000)
settings.load_profile("repeatable")


@pytest.fixture(scope="session")
def content() -> Content:
    return load_content()


@pytest.fixture(scope="session")
def demo_kitchen() -> Kitchen:
    return read_kitchen(demo_folder() / "kitchen.toml")


@pytest.fixture(scope="session")
def understander(demo_kitchen: Kitchen) -> Understander:
    return Understander.load(fryers={f.id: f.names for f in demo_kitchen.fryers})


@pytest.fixture
def open_helper(
    content: Content, demo_kitchen: Kitchen, understander: Understander, tmp_path: Path
) -> Iterator[Callable[[datetime], Helper]]:
    """Opens the demo kitchen's helper on the test's own store; the last one is let go at the end."""
    opened: list[Helper] = []

    def open_at(now: datetime) -> Helper:
        for helper in opened:
            helper.drop()
        opened[:] = [Helper.open(demo_kitchen, content, understander, tmp_path / "store", now)]
        return opened[0]

    yield open_at
    for helper in opened:
        helper.drop()
