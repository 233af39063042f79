"""How easily a text reads: the Flesch index for English, that of Fernández Huerta for Spanish.

Syllables are counted by rule, not looked up, so single words may be off by one; over a guide that evens out.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable

from intents.types import Language

LOWEST_EASE = 70.0
"""Guides must reach it in both languages. 70 and above is "fairly easy" on Flesch's own scale (from memory)."""

LONGEST_SENTENCE = 20
"""Words; the agency manual SSA POMS NL 10605.101 asks for 15 to 20 on average."""

_WORD = re.compile(r"[^\W_]+(?:['’.,-][^\W_]+)*")
_SENTENCE_END = re.compile(r"(?<=[.!?…])\s+")
_EN_VOWELS = re.compile(r"[aeiouy]+")
# A stressed weak vowel makes a syllable of its own beside a strong one, and so do two strong ones.
_ES_NUCLEI = re.compile(r"(?:[iuüy](?=[aeoáéó]))?[aeoáéó](?:[iuüy](?![aeoáéó]))?|[íú]|[iuüy]+", re.IGNORECASE)
_ES_SILENT_U = re.compile(r"(?<=[gq])u(?=[eiéí])")


def words(text: str) -> list[str]:
    """The words of a text; a number counts as one."""
    return _WORD.findall(text)


def sentences(text: str) -> list[str]:
    """The sentences of a text, those without a word left out."""
    return [sentence for sentence in _SENTENCE_END.split(text) if words(sentence)]


def english_syllables(word: str) -> int:
    """Vowel groups, less a silent final e or ed; a number counts as one."""
    plain = word.casefold()
    count = len(_EN_VOWELS.findall(plain))
    if count > 1 and (
        (plain.endswith("e") and not re.search(r"[^aeiouy]le$|ee$", plain))
        or re.search(r"[^aeiouytd]ed$", plain)
        or (re.search(r"[^aeiouycsxzgh]es$", plain) and not re.search(r"[^aeiouy]les$", plain))
    ):
        count -= 1
    return max(1, count)


def spanish_syllables(word: str) -> int:
    """Vowel nuclei, with diphthongs as one and hiatus as two; a number counts as one."""
    return max(1, len(_ES_NUCLEI.findall(_ES_SILENT_U.sub("", word.casefold()))))


def flesch(texts: Iterable[str]) -> float:
    """Flesch's reading ease, 206.835 - 1.015 words per sentence - 84.6 syllables per word.

    Formula as on a US Veterans Affairs page on measures of reading. Raises ``ValueError`` without any word.
    """
    words_a_sentence, syllables_a_word = _rates(texts, english_syllables)
    return 206.835 - 1.015 * words_a_sentence - 84.6 * syllables_a_word


def fernandez_huerta(texts: Iterable[str]) -> float:
    """The reading ease of Fernández Huerta (1959), 206.84 - 60 syllables per word - 1.02 words per sentence.

    In the corrected form, which reads the last term as words per sentence; from memory. Raises ``ValueError``
    without any word.
    """
    words_a_sentence, syllables_a_word = _rates(texts, spanish_syllables)
    return 206.84 - 60 * syllables_a_word - 1.02 * words_a_sentence


EASE: dict[Language, Callable[[Iterable[str]], float]] = {"en": flesch, "es": fernandez_huerta}


def _rates(texts: Iterable[str], syllables: Callable[[str], int]) -> tuple[float, float]:
    spoken = [sentence for text in texts for sentence in sentences(text)]
    found = [word for sentence in spoken for word in words(sentence)]
    if not found:
        raise ValueError("no words to measure")
    return len(found) / len(spoken), sum(map(syllables, found)) / len(found)
