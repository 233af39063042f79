"""Killed at any instant of a busy week, or with a disk that fails: every acknowledged record is there, once."""

from __future__ import annotations

from pathlib import Path
from random import Random
from typing import cast

import pytest

from bot.commands.simulate import Remembering
from bot.content.catalogue import Content
from bot.core.kitchen import Kitchen
from intents.understander import Understander
from tests.killing import failing_weeks, faults_of, killed_weeks, operations_of_a_week

KILLS = 200
FAULTS, SEED = 30, 20260915
"""Faults of the week that are drawn in this suite, and by what; ``bench_kills`` goes through all of them."""


@pytest.fixture
def remembering(understander: Understander) -> Understander:
    return cast("Understander", Remembering(understander))


def test_two_hundred_kills_of_a_working_week_lose_and_double_nothing(
    demo_kitchen: Kitchen, content: Content, remembering: Understander, tmp_path: Path
) -> None:
    found = killed_weeks(demo_kitchen, content, remembering, tmp_path / "store", KILLS)
    assert (found.lost, found.doubled) == ([], [])
    assert found.acknowledged > KILLS
    assert found.confirmations > 0
    assert found.days > 1


def test_a_disk_that_fails_at_an_operation_of_a_week_loses_and_doubles_nothing(
    demo_kitchen: Kitchen, content: Content, remembering: Understander, tmp_path: Path
) -> None:
    operations = operations_of_a_week(demo_kitchen, content, remembering, tmp_path / "calm")
    assert {"write", "sync", "replace", "open", "sync_folder"} <= set(operations)
    drawn = Random(SEED).sample(faults_of(operations), FAULTS)
    found = failing_weeks(demo_kitchen, content, remembering, tmp_path, drawn)
    assert (found.lost, found.doubled) == ([], [])
    assert found.days > 6 * FAULTS
