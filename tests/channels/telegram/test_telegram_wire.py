"""What an update is taken to mean."""

from __future__ import annotations

from typing import Any

import pytest
from api_server import BOT_ID, BOT_NAME, ApiServer
from telegram_kit import BEN, CREW_CHAT, MAYA, ROSA, STRANGER, FakeHelper, kitchen

from bot.channels.port import Thing
from bot.channels.telegram import wire
from bot.channels.telegram.addresses import AddressBook, Place
from bot.channels.telegram.commands import load_commands

ME = wire.Me(BOT_ID, BOT_NAME)
COMMANDS = load_commands()
HELPER = FakeHelper()
BOOK = AddressBook([HELPER])
API = ApiServer()


def read(update: object) -> wire.Event:
    return wire.read(update, ME, BOOK, COMMANDS)


def said(user: int, text: str, chat: int | None = None, **more: Any) -> wire.Event:
    return read({"update_id": 7, "message": API.message(user, chat, text=text, **more)})


def sent(user: int, chat: int | None = None, **what: Any) -> wire.Event:
    return read({"update_id": 7, "message": API.message(user, chat, **what)})


def tapped(user: int, chat: int, data: object) -> wire.Event:
    kind = "private" if chat > 0 else "supergroup"
    query = {"id": "q", "from": {"id": user}, "message": {"chat": {"id": chat, "type": kind}}, "data": data}
    return read({"update_id": 7, "callback_query": query})


def words(sender: str, chat: str, text: str, addressed: bool = True) -> wire.Words:
    return wire.Words(Place(HELPER, sender, chat), text, addressed, "tg:7")


def test_a_private_message_is_heard_from_its_person() -> None:
    assert said(BEN, "pad done on 2") == words("ben", "ben", "pad done on 2")


def test_talk_in_the_crew_chat_is_heard_but_not_as_addressed() -> None:
    assert said(BEN, "see you tomorrow", CREW_CHAT) == words("ben", "crew", "see you tomorrow", addressed=False)


@pytest.mark.parametrize("text", [f"@{BOT_NAME} what's due", f"what's due @{BOT_NAME.upper()}"])
def test_a_mention_in_the_crew_chat_addresses_the_helper_and_is_not_part_of_the_words(text: str) -> None:
    assert said(BEN, text, CREW_CHAT) == words("ben", "crew", "what's due")


def test_somebody_elses_mention_is_not_ours() -> None:
    text = f"@{BOT_NAME}2 what's due"
    assert said(BEN, text, CREW_CHAT) == words("ben", "crew", text, addressed=False)


def test_a_bare_mention_is_a_greeting() -> None:
    assert said(ROSA, f"@{BOT_NAME}", CREW_CHAT) == words("rosa", "crew", "hola")


def test_a_reply_to_the_bots_message_addresses_the_helper() -> None:
    quoted = {"message_id": 1, "from": {"id": BOT_ID, "is_bot": True}}
    assert said(BEN, "done", CREW_CHAT, reply_to_message=quoted) == words("ben", "crew", "done")


def test_a_reply_to_a_colleague_does_not_address_the_helper() -> None:
    quoted = {"message_id": 1, "from": {"id": MAYA, "is_bot": False}}
    assert said(BEN, "done", CREW_CHAT, reply_to_message=quoted) == words("ben", "crew", "done", addressed=False)


@pytest.mark.parametrize(
    ("user", "text", "meant"),
    [
        (BEN, "/due", "what's due"),
        (ROSA, "/due", "qué toca"),
        (BEN, "/DUE", "what's due"),
        (BEN, f"/due@{BOT_NAME}", "what's due"),
        (BEN, "/wait fryer 2", "start the cooldown fryer 2"),
        (BEN, "/note pump 3 is loud", "note: pump 3 is loud"),
        (BEN, "/note", "help"),
        (ROSA, "/note la bomba suena", "nota: la bomba suena"),
        (BEN, "/start", "hello"),
        (BEN, "/fire", "fire"),
        (BEN, "/gas_smell at 2", "gas smell at 2"),
    ],
)
def test_a_command_stands_for_words_in_the_persons_language(user: int, text: str, meant: str) -> None:
    sender = {BEN: "ben", ROSA: "rosa"}[user]
    assert said(user, text) == words(sender, sender, meant)


def test_a_command_in_the_crew_chat_addresses_the_helper() -> None:
    assert said(BEN, "/due", CREW_CHAT) == words("ben", "crew", "what's due")


def test_a_command_for_another_bot_is_left_to_it() -> None:
    assert said(BEN, "/due@other_bot", CREW_CHAT) == wire.Nothing()


def test_an_unknown_command_in_the_crew_chat_is_heard_like_any_talk() -> None:
    assert said(BEN, "/fire", CREW_CHAT) == words("ben", "crew", "fire", addressed=False)


@pytest.mark.parametrize(
    ("field", "what"),
    [
        ("photo", "photo"),
        ("sticker", "sticker"),
        ("location", "location"),
        ("document", "file"),
        ("video", "file"),
        ("contact", "file"),
    ],
)
def test_things_in_private_are_received(field: str, what: Thing) -> None:
    expected = wire.Arrival(Place(HELPER, "ben", "ben"), what, "tg:7")
    content: dict[str, Any] = {field: [{}] if field == "photo" else {}}
    assert sent(BEN, **content) == expected


def test_a_voice_note_is_a_sound_to_listen_to_wherever_it_is_sent() -> None:
    assert sent(BEN, voice={}) == wire.Voice(Place(HELPER, "ben", "ben"), True, "tg:7")
    assert sent(BEN, CREW_CHAT, voice={}) == wire.Voice(Place(HELPER, "ben", "crew"), False, "tg:7")


def test_music_in_the_crew_chat_is_not_listened_to() -> None:
    assert sent(BEN, audio={}) == wire.Voice(Place(HELPER, "ben", "ben"), True, "tg:7")
    assert sent(BEN, CREW_CHAT, audio={}) == wire.Nothing()


def test_things_in_the_crew_chat_are_received_only_in_reply_to_the_bot() -> None:
    assert sent(BEN, CREW_CHAT, photo=[{}]) == wire.Nothing()
    quoted = {"message_id": 1, "from": {"id": BOT_ID, "is_bot": True}}
    expected = wire.Arrival(Place(HELPER, "ben", "crew"), "photo", "tg:7")
    assert sent(BEN, CREW_CHAT, photo=[{}], reply_to_message=quoted) == expected


def test_the_words_under_a_picture_are_heard_since_they_may_be_a_cry_for_help() -> None:
    assert sent(BEN, photo=[{}], caption="fire on 2") == words("ben", "ben", "fire on 2")


def test_a_stranger_in_private_is_only_a_stranger_in_their_language() -> None:
    assert said(STRANGER, "hi") == wire.Stranger(STRANGER, "en", "hi", "tg:7")
    spanish = API.message(STRANGER, language="es-MX", text="hola")
    assert read({"update_id": 7, "message": spanish}) == wire.Stranger(STRANGER, "es", "hola", "tg:7")


def test_a_stranger_in_a_group_and_an_unknown_group_get_silence() -> None:
    assert said(STRANGER, "/due", CREW_CHAT) == wire.Nothing()
    assert said(BEN, "/due", -5555) == wire.Nothing()


def test_a_person_of_another_kitchen_is_a_stranger_in_this_ones_crew_chat() -> None:
    other = FakeHelper(kitchen("Harbour Kitchen", shift=1000, crew=-2002))
    book = AddressBook([HELPER, other])
    message = API.message(BEN + 1000, CREW_CHAT, text="/due")
    assert wire.read({"update_id": 7, "message": message}, ME, book, COMMANDS) == wire.Nothing()
    message = API.message(BEN + 1000, -2002, text="/due")
    event = wire.read({"update_id": 7, "message": message}, ME, book, COMMANDS)
    assert event == wire.Words(Place(other, "ben", "crew"), "what's due", True, "tg:7")


def test_a_tap_of_a_person_in_their_own_chats_acts() -> None:
    assert tapped(BEN, BEN, "1:done:pad_change:2") == wire.Tap(
        Place(HELPER, "ben", "ben"), "done:pad_change:2", "q", "tg:7"
    )
    assert tapped(BEN, CREW_CHAT, "1:no") == wire.Tap(Place(HELPER, "ben", "crew"), "no", "q", "tg:7")


@pytest.mark.parametrize(
    "data",
    ["", "1:", "done:2", "2:no", "1:no\n", "1:no:", "1:No", "1: no", "1:x" * 40, "1:\ud800", None, 5, ["1:no"]],
)
def test_a_button_of_another_version_or_malformed_is_stale_and_never_acts(data: object) -> None:
    assert tapped(BEN, BEN, data) == wire.StaleTap(HELPER, "en", "q")


@pytest.mark.parametrize(("user", "chat"), [(STRANGER, CREW_CHAT), (BEN, ROSA), (BEN, -5555), (STRANGER, STRANGER)])
def test_a_tap_from_elsewhere_never_acts(user: int, chat: int) -> None:
    assert tapped(user, chat, "1:no") == wire.StrangeTap("q")


@pytest.mark.parametrize(
    "update",
    [
        {"update_id": 1, "edited_message": {"text": "pad done"}},
        {"update_id": 1, "channel_post": {"text": "pad done"}},
        {"update_id": 1},
        {"update_id": "one"},
        {"update_id": 1, "message": 5},
        {"update_id": 1, "message": {"chat": {"id": BEN, "type": "private"}, "text": "no sender"}},
        {"update_id": 1, "message": API.message(BEN, new_chat_title="Fry crew")},
        {"update_id": 1, "message": API.message(BEN, text="  \n ")},
        {"update_id": 1, "message": API.message(BEN, text=["not", "text"])},
        {"update_id": 1, "callback_query": {"id": "q"}},
        [],
        None,
    ],
)
def test_whatever_else_arrives_is_nothing(update: object) -> None:
    assert read(update) == wire.Nothing()


def test_messages_of_other_bots_are_nothing() -> None:
    message = API.message(BEN, text="pad done")
    message["from"]["is_bot"] = True
    assert read({"update_id": 1, "message": message}) == wire.Nothing()


def test_half_characters_do_not_reach_the_helper() -> None:
    assert said(BEN, "fire \ud83d on 2") == words("ben", "ben", "fire \ufffd on 2")


def test_a_group_that_becomes_a_supergroup_tells_its_new_number() -> None:
    assert sent(BEN, CREW_CHAT, migrate_to_chat_id=-9009) == wire.GroupMoved(CREW_CHAT, -9009)
