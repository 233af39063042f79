"""One turn as one line, and lines of other formats."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import msgspec
import pytest

from bot.core.records import Turn
from bot.store import NewerFormatError, Store, StoreError, read_only
from bot.store.lines import LineFormat, frame, split_at_frames
from tests.store.storekit import Tally, confirmation, delivery, filled, history_of


@pytest.mark.parametrize("turn", [confirmation(1), delivery(2), Turn(3, confirmation(3).at)])
def test_a_turn_comes_back_from_its_line_as_it_was(turn: Turn) -> None:
    lines = LineFormat()

    assert turn == lines.decode(lines.encode(turn).removesuffix(b"\n"))


def test_a_line_is_one_json_object_that_begins_with_its_version() -> None:
    line = LineFormat().encode(confirmation(7))

    assert line.startswith(b'{"v":1,')
    assert line.count(b"\n") == 1
    assert json.loads(line)["seq"] == 7


def test_no_flipped_bit_passes_for_a_record() -> None:
    """Each single bit of a line, turned over, makes it a damaged one: not another record, and not a refusal."""
    lines = LineFormat()
    line = lines.encode(confirmation(1)).removesuffix(b"\n")

    for place in range(len(line)):
        for bit in range(8):
            flipped = line[:place] + bytes([line[place] ^ 1 << bit]) + line[place + 1 :]
            assert lines.decode(flipped) is None


def test_lines_that_lost_the_break_between_them_are_told_apart() -> None:
    first, second = (LineFormat().encode(confirmation(n)).removesuffix(b"\n") for n in (1, 2))

    assert [first, second] == list(split_at_frames(first + second))
    assert [b"\0\0", second] == list(split_at_frames(b"\0\0" + second))


def _rename_note(raw: dict[str, Any]) -> dict[str, Any]:
    """Version 1 to 2, in a world where version 1 called the cause of a turn its origin."""
    raw["cause"] = raw.pop("origin")
    return raw


def test_a_migration_is_applied_while_old_lines_are_read_and_leaves_them_as_they_are(tmp_path: Path) -> None:
    turn = confirmation(1)
    old = msgspec.to_builtins(turn)
    old["origin"] = old.pop("cause")
    line = frame(1, msgspec.json.encode(old))
    history_of(tmp_path).write_bytes(line)

    with Store.open(tmp_path, Tally, migrations=[_rename_note]) as store:
        store.append(confirmation(2))
        assert store.recovery is None
        assert [turn, confirmation(2)] == list(store.turns())

    first, second = history_of(tmp_path).read_bytes().splitlines(keepends=True)
    assert line == first
    assert json.loads(second)["v"] == 2
    assert [turn, confirmation(2)] == list(read_only(tmp_path, Tally, migrations=[_rename_note]).turns())


def test_migrations_run_in_order() -> None:
    def first(raw: dict[str, Any]) -> dict[str, Any]:
        return {**raw, "cause": "first"}

    def second(raw: dict[str, Any]) -> dict[str, Any]:
        return {**raw, "cause": raw["cause"] + ", second"}

    old_line = LineFormat().encode(confirmation(1)).removesuffix(b"\n")
    turn = LineFormat([first, second]).decode(old_line)

    assert turn is not None
    assert turn.cause == "first, second"


def test_a_snapshot_made_before_a_migration_is_not_used(tmp_path: Path) -> None:
    """The migration may change what the turns add up to."""
    filled(tmp_path, 3, snapshot_after=3)

    with Store.open(tmp_path, Tally, migrations=[lambda raw: {**raw, "changes": []}]) as store:
        assert store.state.last == {}
        assert store.state.seqs == [1, 2, 3]


def test_a_line_of_a_newer_format_is_refused_with_advice_and_nothing_is_touched(tmp_path: Path) -> None:
    filled(tmp_path, 2, snapshot_after=1)
    with history_of(tmp_path).open("ab") as file:
        file.write(b"damaged\n" + frame(2, msgspec.json.encode(confirmation(3))))
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}

    with pytest.raises(NewerFormatError, match=r"history\.jsonl:4: .*format 2.*; update Vatside"):
        Store.open(tmp_path, Tally)

    assert before == {path.name: path.read_bytes() for path in tmp_path.iterdir()}


def test_a_whole_line_that_means_nothing_here_is_refused_not_set_aside(tmp_path: Path) -> None:
    """It was written as it is, by a version with other kinds of change: to drop it would lose a record."""
    turn = msgspec.to_builtins(confirmation(1))
    turn["changes"] = [{"type": "lid_closed"}]
    history_of(tmp_path).write_bytes(frame(1, msgspec.json.encode(turn)))

    with pytest.raises(StoreError, match=r"history\.jsonl:1: .*use the version that wrote it"):
        Store.open(tmp_path, Tally)
