"""Whatever a phone sends becomes plain words."""

from __future__ import annotations

import pytest
from hypothesis import given, strategies as st

from intents.normalise import is_word, plain, tokens
from intents.prepare import LONGEST, spelt_out


@pytest.mark.parametrize(
    ("written", "read"),
    [
        ("Change the PAD", "change the pad"),
        ("¿Cómo está?", "¿como esta?"),
        ("won't", "wont"),
        ("what’s up", "whats up"),
        ("nooooo", "no"),
        ("350F", "350 f"),
        ("22,5 %", "22.5 %"),
        ("1,200 drops", "1200 drops"),
        ("a\u200bb\tc\n d", "a b c d"),
        ("ﬁlter", "filter"),
        ("", ""),
    ],
)
def test_case_accents_and_decoration_go(written: str, read: str) -> None:
    assert plain(written) == read


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ("fryer 2 at 16:30", ["fryer", "2", "at", "16:30"]),
        ("20.5%", ["20.5", "%"]),
        ("pad, seals", ["pad", ",", "seals"]),
        ("new pad in {fryer}", ["new", "pad", "in", "{fryer}"]),
        ("🍟 done", ["🍟", "done"]),
    ],
)
def test_words_numbers_times_and_marks_come_apart(written: str, words: list[str]) -> None:
    assert tokens(written) == words


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ("u done", ["you", "done"]),
        ("q hago", ["que", "hago"]),
        ("done 20 minutes ago", ["done", "20", "minutes", "ago"]),
        ("y yo q ago", ["y", "yo", "que", "hago"]),
        ("a las once", ["a", "las", "11"]),
        ("once the oil is hot", ["once", "the", "oil", "is", "hot"]),
        ("es pal jefe", ["es", "para", "el", "jefe"]),
        ("hey pal", ["hey", "pal"]),
        ("thx", ["thanks"]),
    ],
)
def test_short_spellings_are_written_out(written: str, words: list[str]) -> None:
    assert spelt_out(written) == words


def test_a_mark_is_no_word() -> None:
    assert [is_word(token) for token in ("pad", "2", "?", "🍟")] == [True, True, False, False]


def test_of_a_very_long_message_the_beginning_and_the_end_are_read() -> None:
    words = spelt_out("first " + "middle " * 500 + "last")
    assert (len(words), words[0], words[-1]) == (LONGEST, "first", "last")


@given(st.text(max_size=400))
def test_plain_text_stays_as_it_is(text: str) -> None:
    once = plain(text)
    assert once == once.strip()
    assert "  " not in once
    assert not any(character.isspace() and character != " " for character in once)


@given(st.characters(codec=None))
def test_any_character_is_read_even_half_of_one(character: str) -> None:
    assert all(token for token in tokens(character * 3))
