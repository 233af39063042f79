"""TOML keeps the line of every key, however its values are written."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given, strategies as st

from bot.content.toml_lines import parse_toml, read_toml
from tests.content.contentkit import findings_of

TRICKY = '''\
# a comment with = and [brackets]
plain = 1
"quoted key" = "a # no comment"
dotted.inner.leaf = true

text = """
first [not a table]
key = "not a key" """
after_text = 'single # quotes'
raw = \'\'\'
x = 1
\'\'\'
list = [
  1,  # one
  # nothing here
  "two, with ] and #",
  [ 3,
    4 ],
]
inline = { a = 1, b = { c = "}" } }

[table]
key = 2026-12-25
[table.under]
key = 21:30:00

[[rows]]
id = "first"
[rows.seals]
count = 3

[[rows]]
id = "second"
seals = { count = 4 }
[[rows.inner]]
deep = 1
last = "no newline after this"'''


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("plain",), 2),
        (("quoted key",), 3),
        (("dotted",), 4),
        (("dotted", "inner", "leaf"), 4),
        (("text",), 6),
        (("after_text",), 9),
        (("raw",), 10),
        (("list",), 13),
        (("list", 0), 14),
        (("list", 1), 16),
        (("list", 2), 17),
        (("list", 2, 1), 18),
        (("inline", "b", "c"), 20),
        (("table",), 22),
        (("table", "key"), 23),
        (("table", "under", "key"), 25),
        (("rows",), 27),
        (("rows", 0, "id"), 28),
        (("rows", 0, "seals", "count"), 30),
        (("rows", 1), 32),
        (("rows", 1, "id"), 33),
        (("rows", 1, "seals", "count"), 34),
        (("rows", 1, "inner", 0, "last"), 37),
    ],
)
def test_every_key_has_its_line(path: tuple[str | int, ...], line: int) -> None:
    assert parse_toml(TRICKY, "f.toml").line(*path) == line


def test_a_key_that_is_not_there_has_the_line_of_the_table_around_it() -> None:
    assert parse_toml(TRICKY, "f.toml").line("rows", 1, "nothing", 3) == 32


def test_lines_are_the_same_with_windows_line_ends() -> None:
    assert parse_toml(TRICKY.replace("\n", "\r\n"), "f").lines == parse_toml(TRICKY, "f").lines


keys = st.from_regex(r"[A-Za-z0-9_-]{1,8}", fullmatch=True)
values = st.sampled_from(["1", '"x # y"', "[1, [2, '}']]", "{ a = '}', b = [1] }", '"""\n\\"" ] # x\n"""', "[\n1,\n]"])


@given(st.lists(st.tuples(keys, values, st.sampled_from(["", "\n", "# c = 1\n"])), unique_by=lambda row: row[0]))
def test_whatever_stands_between_them_keys_are_found_where_they_were_written(rows: list[tuple[str, str, str]]) -> None:
    text, written = "", {}
    for key, value, gap in rows:
        text += gap
        written[key] = text.count("\n") + 1
        text += f"{key} = {value}\n"
    document = parse_toml(text, "f")
    assert document.data == tomllib.loads(text)
    assert {key: document.line(key) for key in written} == written


@pytest.mark.parametrize(
    ("text", "line", "what", "todo"),
    [
        ("a = 1\nopens = 10:00\n", 2, "no valid TOML", 'write a time in quotes, like "21:30"'),
        ("a = 1\nname = Lantern\n", 2, "no valid TOML", "write words in quotes"),
        ("a = 1\na = 2\n", 2, "overwrite", "keep one of the two"),
        ("[t]\n[t]\n", 2, "twice", "keep one of the two"),
        ('a = "open\n', 1, "no valid TOML", "check the quotes"),
        ("a = 1\nb = [1,\n2\n", 3, "no valid TOML", "check the quotes, brackets"),
        ("a = " + "[" * 5000 + "]" * 5000, 1, "nested too deep", "take the brackets apart"),
        ("a = " + "9" * 5000, 1, "no valid TOML", ""),
        ("a = 2026-13-45\n", 1, "no valid TOML", ""),
    ],
)
def test_bad_syntax_is_one_finding_on_its_line(text: str, line: int, what: str, todo: str) -> None:
    (found,) = findings_of(parse_toml, text, "k.toml")
    assert (found.file, found.line) == ("k.toml", line)
    assert what in found.what
    assert todo in found.todo


def test_a_missing_file_is_a_finding(tmp_path: Path) -> None:
    (found,) = findings_of(read_toml, tmp_path / "none.toml")
    assert str(found) == f"{tmp_path / 'none.toml'}:1: there is no such file; check the path"


def test_a_folder_is_a_finding(tmp_path: Path) -> None:
    (found,) = findings_of(read_toml, tmp_path)
    assert "a folder" in found.what


def test_a_path_through_a_file_is_a_finding(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    (found,) = findings_of(read_toml, tmp_path / "file" / "inner.toml")
    assert "can't be read" in found.what


def test_a_path_with_a_null_character_is_a_finding() -> None:
    (found,) = findings_of(read_toml, Path("a\0b"))
    assert "can't be read" in found.what


def test_other_encodings_are_a_finding_on_the_line_of_the_first_bad_byte(tmp_path: Path) -> None:
    file = tmp_path / "k.toml"
    file.write_bytes("a = 1\nb = 2\nname = 'Café'\n".encode("latin-1"))
    (found,) = findings_of(read_toml, file)
    assert (found.line, found.what, found.todo) == (3, "this is not UTF-8 text", "save the file as UTF-8")


def test_a_byte_order_mark_is_no_fault(tmp_path: Path) -> None:
    file = tmp_path / "k.toml"
    file.write_bytes("a = 1\n".encode("utf-8-sig"))
    assert read_toml(file).data == {"a": 1}
