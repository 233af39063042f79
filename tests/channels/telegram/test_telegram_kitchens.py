"""Somebody of several kitchens has one private chat with the helper; nothing goes to the wrong kitchen."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from api_server import ApiServer
from hypothesis import given, strategies as st
from telegram_kit import BEN, CALM, CREW_CHAT, EVENING, ROSA, FakeHelper, kitchen, open_door
from test_telegram_fuzz import JSON, damaged_updates
from test_telegram_wire import COMMANDS, ME

from bot.channels.telegram import wire
from bot.channels.telegram.addresses import AddressBook, tag_of
from bot.channels.telegram.around import look_around
from bot.channels.telegram.kitchens import Kitchens, names, without
from bot.channels.telegram.wire import button_action, button_data, button_tag

HERE, THERE = "Lantern Street Kitchen", "Harbour Kitchen"


@pytest.fixture
def server() -> Iterator[ApiServer]:
    with ApiServer() as running:
        yield running


@pytest.fixture
def here() -> FakeHelper:
    return FakeHelper(kitchen(HERE))


@pytest.fixture
def there() -> FakeHelper:
    """Another kitchen with the same people."""
    return FakeHelper(kitchen(THERE, crew=-2002))


def heard(helper: FakeHelper) -> list[str]:
    return [text for _, _, text, _ in helper.heard]


def buttons(server: ApiServer, chat: int, number: int = -1) -> tuple[str, list[tuple[str, str]]]:
    """A message's reference and its buttons: labels and what they carry."""
    found = [(f"{c}:{m}", shown) for (c, m), shown in sorted(server.messages.items()) if c == chat]
    ref, shown = found[number]
    return ref, [(b["text"], b["callback_data"]) for row in shown.keyboard for b in row]


async def test_nothing_is_guessed_it_asks_and_takes_the_message_where_a_tap_says(
    server: ApiServer, here: FakeHelper, there: FakeHelper
) -> None:
    server.say(BEN, "drained 1")
    async with open_door(server, here, there):
        await server.until(lambda: server.texts(BEN) == ["kitchens.which (en)"])
        assert (heard(here), heard(there)) == ([], [])
        ref, choices = buttons(server, BEN)
        assert [label for label, _ in choices] == [HERE, THERE]
        server.tap(BEN, ref, choices[1][1])
        await there.until(lambda: 1 in there.sent)
        server.say(BEN, "and 2")
        await there.until(lambda: 2 in there.sent)
    assert (heard(here), heard(there)) == ([], ["drained 1", "and 2"])
    assert server.texts(BEN) == ["kitchens.now (en)", f"{THERE}\nheard: drained 1", f"{THERE}\nheard: and 2"]
    assert here.told == {}
    assert list(there.told) == ["spoke|ben|"]


async def test_the_kitchen_that_is_named_is_meant_and_stays_meant(
    server: ApiServer, here: FakeHelper, there: FakeHelper
) -> None:
    for text in ("harbour kitchen: drained 1", "and 2", "Lantern Street Kitchen", "and 3"):
        server.say(BEN, text)
    async with open_door(server, here, there):
        await here.until(lambda: bool(here.heard))
    assert (heard(here), heard(there)) == (["and 3"], ["drained 1", "and 2"])


async def test_a_reply_to_a_kitchens_message_is_meant_for_that_kitchen(
    server: ApiServer, here: FakeHelper, there: FakeHelper
) -> None:
    quoted = {
        "message_id": 1,
        "from": {"id": 4711, "is_bot": True},
        "reply_markup": {"inline_keyboard": [[{"text": "x", "callback_data": button_data("no", tag_of(there))}]]},
    }
    server.say(BEN, f"{HERE} hello")
    server.say(BEN, "yes", reply_to_message=quoted)
    async with open_door(server, here, there):
        await there.until(lambda: bool(there.heard))
    assert (heard(here), heard(there)) == (["hello"], ["yes"])


async def test_a_button_acts_in_its_own_kitchen_whichever_was_last(
    server: ApiServer, here: FakeHelper, there: FakeHelper
) -> None:
    there.due = [there.say("ben", "late", "done:pad_change:2", kind="escalation")]
    server.say(BEN, f"{HERE} hello")
    async with open_door(server, here, there):
        await here.until(lambda: 1 in here.sent)
        await there.until(lambda: 1 in there.sent)
        place = next(n for n, text in enumerate(server.texts(BEN)) if text == f"{THERE}\nlate")
        ref, ((_, data),) = buttons(server, BEN, place)
        server.tap(BEN, ref, data)
        await there.until(lambda: bool(there.tapped))
        server.say(BEN, "undo")
        await there.until(lambda: bool(there.heard))
    assert there.tapped == [("ben", "ben", "done:pad_change:2")] and here.tapped == []
    assert heard(there) == ["undo"]


@pytest.mark.parametrize("data", ["1:done:pad_change:2", "2###done:pad_change:2", "2abcdone:pad_change:2", "2abc", "2"])
async def test_a_button_that_names_no_kitchen_of_theirs_does_nothing(
    server: ApiServer, here: FakeHelper, there: FakeHelper, data: str
) -> None:
    server.tap(BEN, f"{BEN}:5", data)
    async with open_door(server, here, there):
        await server.until(lambda: len(server.answers) == 1)
    assert [text for _, text in server.answers] == ["tap.stale (en)"]
    assert here.tapped == there.tapped == []


async def test_a_call_for_help_is_taken_at_once_and_by_a_tap_in_the_other_kitchen_too(
    server: ApiServer, here: FakeHelper, there: FakeHelper
) -> None:
    server.say(BEN, "fire at the fryer")
    async with open_door(server, here, there):
        await here.until(lambda: 1 in here.sent)
        await server.until(lambda: "kitchens.urgent (en)" in server.texts(BEN))
        place = server.texts(BEN).index("kitchens.urgent (en)")
        ref, choices = buttons(server, BEN, place)
        assert [label for label, _ in choices] == [THERE]
        server.tap(BEN, ref, choices[0][1])
        await there.until(lambda: bool(there.heard))
    assert heard(here) == heard(there) == ["fire at the fryer"]


async def test_the_choice_outlives_a_restart(server: ApiServer, here: FakeHelper, there: FakeHelper) -> None:
    server.say(BEN, f"{THERE} hello")
    async with open_door(server, here, there):
        await there.until(lambda: 1 in there.sent)
        await server.until(lambda: server.waiting() == 0)
    server.say(BEN, "drained 1")
    async with open_door(server, here, there):
        await there.until(lambda: 2 in there.sent)
    assert (heard(here), heard(there)) == ([], ["hello", "drained 1"])


async def test_the_command_asks_and_somebody_of_one_kitchen_is_told_which(server: ApiServer, here: FakeHelper) -> None:
    there = FakeHelper(kitchen(THERE, crew=-2002))
    people = tuple(p for p in there.kitchen.people if p.id != "rosa")
    from msgspec.structs import replace

    there.kitchen = replace(there.kitchen, people=people)
    server.say(BEN, f"{THERE} hello")
    server.say(BEN, "/kitchen")
    server.say(ROSA, "/kitchen", language="es")
    async with open_door(server, here, there):
        await server.until(lambda: "kitchens.which_now (en)" in server.texts(BEN))
        await server.until(lambda: server.texts(ROSA) == ["kitchens.only (es)"])
    assert here.heard == []


async def test_what_is_said_in_a_crew_chat_is_for_that_kitchen_and_its_answers_bear_no_name(
    server: ApiServer, here: FakeHelper, there: FakeHelper
) -> None:
    server.say(BEN, "/due", CREW_CHAT)
    server.say(BEN, "/due", -2002)
    async with open_door(server, here, there):
        await here.until(lambda: 1 in here.sent)
        await there.until(lambda: 1 in there.sent)
    assert server.texts(CREW_CHAT) == server.texts(-2002) == ["heard: what's due"]


async def test_what_came_before_the_choice_waits_in_its_order_and_only_so_much_of_it(
    server: ApiServer, here: FakeHelper, there: FakeHelper
) -> None:
    for n in range(12):
        server.say(BEN, f"note {n}")
    async with open_door(server, here, there):
        await server.until(lambda: len(server.texts(BEN)) >= 1)
        await server.until(lambda: server.waiting() == 0)
        ref, choices = buttons(server, BEN, 0)
        server.tap(BEN, ref, choices[0][1])
        await here.until(lambda: len(here.heard) == 10)
    assert heard(here) == [f"note {n}" for n in range(2, 12)]


@pytest.mark.parametrize(
    ("text", "kitchen_", "rest"),
    [
        ("Harbour Kitchen: pad done on 2", "Harbour Kitchen", "pad done on 2"),
        ("pad done on 2, harbour kitchen", "Harbour Kitchen", "pad done on 2"),
        ("Cocina Añil", "Cocina Anil", ""),
        ("cocina añil qué toca", "Cocina Añil", "qué toca"),
        ("harbour kitchens", "Harbour Kitchen", None),
        ("hello", "Harbour Kitchen", None),
        ("", "", None),
    ],
)
def test_a_name_is_found_whole_and_taken_out(text: str, kitchen_: str, rest: str | None) -> None:
    assert names(text, kitchen_) is (rest is not None)
    if rest is not None:
        assert without(text, kitchen_) == rest


@CALM
@given(st.text(st.characters(), max_size=40), st.text(st.characters(), max_size=12))
def test_looking_for_a_name_never_raises(text: str, kitchen_: str) -> None:
    if names(text, kitchen_):
        without(text, kitchen_)


@CALM
@given(
    st.from_regex(r"[a-z]{1,8}(:[A-Za-z0-9_]{1,10}){0,3}", fullmatch=True),
    st.text("abcXYZ019-_", min_size=3, max_size=3),
)
def test_a_tagged_button_comes_back_as_it_was_within_64_bytes(action: str, tag: str) -> None:
    data = button_data(action, tag)
    assert (button_action(data), button_tag(data)) == (action, tag)
    assert len(data.encode()) <= 64


# --- whatever arrives ---

BOTH = AddressBook([FakeHelper(kitchen(HERE)), FakeHelper(kitchen(THERE, crew=-2002))])
TAGS = {tag_of(helper) for helper in BOTH.helpers}


@CALM
@given(JSON | damaged_updates())
def test_sorting_never_raises_and_nobody_ever_speaks_for_another(update: object) -> None:
    around = look_around(update)
    event, question = Kitchens(BOTH).sort(wire.read(update, ME, BOTH, COMMANDS), around, EVENING)
    if question is not None:
        assert question.user == around.user and question.text() and question.keyboard() is not None
    place = getattr(event, "place", None)
    if place is not None:
        person = place.helper.kitchen.person(place.sender)
        assert person is not None and person.telegram == around.user


@CALM
@given(
    st.text(st.characters(), max_size=70)
    | st.builds("2{}{}".format, st.sampled_from([*sorted(TAGS), "abc", "A-_"]), st.text(max_size=20) | st.just("no"))
)
def test_in_a_shared_chat_only_a_button_that_names_a_kitchen_of_theirs_acts(data: str) -> None:
    message = {"message_id": 3, "chat": {"id": BEN, "type": "private"}}
    query = {"id": "q", "from": {"id": BEN}, "message": message, "data": data}
    event = wire.read({"update_id": 1, "callback_query": query}, ME, BOTH, COMMANDS)
    if isinstance(event, wire.Tap | wire.KitchenChosen):
        assert button_tag(data) == tag_of(event.place.helper)
        assert button_action(data)
