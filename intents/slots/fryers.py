"""Which fryer a message names: an id, a number in words, an ordinal, or the kitchen's own names for it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache

from intents.lexicon import LANGUAGES, WordList, both, lexicon
from intents.normalise import is_word, tokens
from intents.slots.numbers import Number, is_article, number_at
from intents.slots.spans import Span, free
from intents.slots.times import Clock

MASK = "{fryer}"
_LARGEST = 20
"""A bigger bare number is hardly a fryer's."""


@dataclass(frozen=True, slots=True)
class Named(Span):
    """A fryer named in a message; ``id`` is None where the kitchen hasn't got it: ``said`` is how it was named."""

    id: str | None = None
    said: str = ""


@dataclass(slots=True)
class Fryers:
    """A kitchen's fryers: their ids in order, and the words that name each."""

    names: Mapping[str, Sequence[str]]
    _whole: WordList = field(default_factory=WordList)
    _heads: WordList = field(default_factory=WordList)

    def __post_init__(self) -> None:
        nouns = both("fryer.nouns")
        heads: dict[str, set[str]] = {}
        for fryer, given in self.names.items():
            for name in given:
                words = [word for word in tokens(name) if is_word(word)]
                if not words:
                    continue
                self._whole.add(" ".join(words), fryer)
                rest = [word for word in words if word not in nouns and not _is_small(word)]
                if rest and rest != words:
                    for head in _variants(" ".join(rest)):
                        heads.setdefault(head, set()).add(fryer)
            self._whole.add(
                " ".join(word for word in tokens(fryer) if is_word(word)) or fryer, fryer
            ) if not fryer.isdigit() else None
        for head, owners in heads.items():
            if len(owners) == 1:
                self._heads.add(head, owners.pop())

    def find(self, words: Sequence[str], taken: Sequence[Span]) -> list[Named]:
        """Every fryer named, from left to right, outside the spans that are taken."""
        found: list[Named] = []
        at = 0
        while at < len(words):
            named = self._named_at(words, at, found)
            if named and free(taken, named.start, named.end):
                found.append(named)
                at = named.end
            else:
                at += 1
        return found

    def all_named(self, words: Sequence[str]) -> Span | None:
        """Where the message speaks of all fryers at once."""
        match = next(both("fryer.all").find(words), None)
        return Span(match.start, match.end, MASK) if match else None

    def by_food_alone(self, words: Sequence[str]) -> str | None:
        """The one fryer whose food is named, by the food alone; None for none or for several."""
        vague = both("fryer.not_alone")
        found = self._heads.find(words)
        owners = {match.name for match in found if " ".join(words[match.start : match.end]) not in vague}
        return owners.pop() if len(owners) == 1 else None

    def of_clock(self, clock: Clock) -> Named | None:
        """The fryer that "at 3" means where no time makes sense."""
        if clock.bare is None or str(clock.bare) not in self.names:
            return None
        return Named(clock.start, clock.end, MASK, str(clock.bare), str(clock.bare))

    def _named_at(self, words: Sequence[str], at: int, found: Sequence[Named]) -> Named | None:
        if words[at] == MASK:
            return Named(at, at + 1, MASK, None, "")
        whole = self._whole.first_at(words, at)
        if whole:
            return Named(at, whole.end, MASK, whole.name)
        return (
            self._by_food(words, at)
            or self._by_ordinal(words, at)
            or self._after_noun(words, at)
            or self._bare(words, at, found)
        )

    def _by_food(self, words: Sequence[str], at: int) -> Named | None:
        """ "the falafel pot", "the donut one", "la de papas", "freidora de las donas"."""
        head = self._heads.first_at(words, at)
        if head and head.end < len(words):
            noun = both("fryer.nouns").first_at(words, head.end) or both("fryer.pointers").first_at(words, head.end)
            if noun:
                return Named(at, noun.end, MASK, head.name)
        opener = both("fryer.nouns").first_at(words, at) or both("fryer.articles").first_at(words, at)
        if opener and opener.end < len(words):
            link = both("fryer.of").first_at(words, opener.end)
            head = self._heads.first_at(words, link.end) if link and link.end < len(words) else None
            if head:
                return Named(at, head.end, MASK, head.name)
        return None

    def _by_ordinal(self, words: Sequence[str], at: int) -> Named | None:
        """ "the second one", "first fryer", "la segunda freidora", "la segunda" at the end."""
        place = _ordinals().get(words[at])
        if place is None:
            return None
        following = at + 1
        nouns = both("fryer.nouns").first_at(words, following) if following < len(words) else None
        pointer = both("fryer.pointers").first_at(words, following) if following < len(words) else None
        article = at > 0 and words[at - 1] in both("fryer.articles")
        if nouns or pointer:
            return self._numbered(at, following + 1, self._id_in_place(place))
        if article and (following == len(words) or not is_word(words[following])):
            return self._numbered(at, following, self._id_in_place(place))
        return None

    def _id_in_place(self, place: int) -> str:
        ids = list(self.names)
        return ids[place - 1] if place <= len(ids) else str(place)

    def _numbered(self, start: int, end: int, said: str) -> Named:
        return Named(start, end, MASK, said if said in self.names else None, said)

    def _after_noun(self, words: Sequence[str], at: int) -> Named | None:
        """ "fryer 2", "freidora número tres", "number one", "fire two", "# 2"."""
        noun = both("fryer.nouns").first_at(words, at)
        slip = both("fryer.slips").first_at(words, at)
        label = both("fryer.labels").first_at(words, noun.end if noun and noun.end < len(words) else at)
        start = label or noun or slip
        if start is None:
            return None
        number = number_at(words, start.end)
        if number is None or number.value % 1 or not 1 <= number.value <= _LARGEST:
            return None
        if (
            number.value == 1
            and not number.in_digits
            and not label
            and at > 0
            and words[at - 1] in both("fryer.determiners")
        ):
            return None
        if slip and not noun and (str(int(number.value)) not in self.names or self._is_counted(words, number.end)):
            return None
        if label and not noun and label.end - label.start == 1 and at > 0 and words[at - 1] in both("fryer.counting"):
            return None
        return self._numbered(at, number.end, str(int(number.value)))

    def _bare(self, words: Sequence[str], at: int, found: Sequence[Named]) -> Named | None:
        number = number_at(words, at)
        if number is None or number.value % 1:
            return None
        said = str(int(number.value))
        if said not in self.names:
            return self._unknown(words, at, number)
        if self._is_counted(words, number.end) or (at > 0 and words[at - 1] in both("fryer.counting")):
            return None
        if number.in_digits:
            start = at - 1 if at > 0 and words[at - 1] in both("fryer.articles") else at
            return Named(start, number.end, MASK, said, said)
        before = words[at - 1] if at > 0 else ""
        linked = bool(found) and before in both("fryer.links") and found[-1].end == at - 1
        led = before in both("fryer.articles") or before in both("fryer.before")
        if not linked and not led:
            return None
        if is_article(words[at]) or said == "1":
            end_of_it = (
                number.end == len(words) or not is_word(words[number.end]) or words[number.end] in _small_words()
            )
            if not end_of_it and before not in both("fryer.articles"):
                return None
        start = at - 1 if before in both("fryer.articles") else at
        return Named(start, number.end, MASK, said, said)

    def _unknown(self, words: Sequence[str], at: int, number: Number) -> Named | None:
        """ "on 9", "en la 9": a fryer that the kitchen has not got, where nothing else can be meant."""
        where = both("fryer.places").ends_at(words, at)
        if where is None or not self.names or not number.in_digits or not 1 <= number.value <= _LARGEST:
            return None
        last = number.end == len(words) or not is_word(words[number.end]) or words[number.end] in _small_words()
        return self._numbered(at, number.end, str(int(number.value))) if last else None

    def _is_counted(self, words: Sequence[str], end: int) -> bool:
        return end < len(words) and both("fryer.counted").first_at(words, end) is not None


@cache
def _ordinals() -> Mapping[str, int]:
    return {word: place for language in LANGUAGES for word, place in lexicon(language).ordinals.items()}


@cache
def _small_words() -> frozenset[str]:
    return frozenset(word for language in LANGUAGES for word in lexicon(language).lists["detect.words"].words())


def _is_small(word: str) -> bool:
    return word in both("fryer.of") or word in both("fryer.articles") or word in both("clock.article")


def _variants(head: str) -> set[str]:
    """Every way to name the same food in every language, or the word itself with and without its plural "s"."""
    for language in LANGUAGES:
        for group in lexicon(language).foods.values():
            if head in group:
                return {
                    word
                    for other in LANGUAGES
                    for name, words in lexicon(other).foods.items()
                    if name in _groups_of(head)
                    for word in words
                }
    return {head, head.removesuffix("s"), f"{head}s"}


def _groups_of(head: str) -> set[str]:
    return {name for language in LANGUAGES for name, words in lexicon(language).foods.items() if head in words}
