"""Phrase files are checked line by line, in the words of the person who edits them."""

from __future__ import annotations

from pathlib import Path

import pytest

from intents.phrasebook import BUILT_IN, read


def folder(tmp_path: Path, **files: str) -> Path:
    (tmp_path / "en").mkdir()
    for name, text in files.items():
        (tmp_path / "en" / f"{name.replace('__', '.')}.txt").write_text(text, encoding="utf-8")
    return tmp_path


def test_the_phrases_that_travel_with_the_program_have_no_faults() -> None:
    book = read([BUILT_IN])
    assert [str(fault) for fault in book.faults] == []
    assert len(book.phrases) > 10_000


@pytest.mark.parametrize(
    ("name", "text", "line"),
    [
        ("guide__no_such_topic", "# a topic\nhow\n", 1),
        ("guide__skim", "# skimming\nhow do i skim\nHow do I skím\n", 3),
        ("guide__skim", "# skimming\nskim {frier} how\n", 2),
    ],
)
def test_a_fault_names_its_file_and_line(name: str, text: str, line: int, tmp_path: Path) -> None:
    (fault,) = read([folder(tmp_path, **{name: text})]).faults
    assert f"{name.replace('__', '.')}.txt:{line}: " in str(fault)
    assert "; " in str(fault)


def test_a_phrase_in_two_topics_is_a_fault(tmp_path: Path) -> None:
    book = read([folder(tmp_path, guide__skim="# one\nthe same words\n", guide__drain="# two\nthe same words\n")])
    assert len(book.faults) == 1


def test_a_file_that_is_not_utf_8_is_a_fault_and_no_crash(tmp_path: Path) -> None:
    (folder(tmp_path) / "en" / "guide.skim.txt").write_bytes(b"# skimming\nquitar \xf1\n")
    assert len(read([tmp_path]).faults) == 1
