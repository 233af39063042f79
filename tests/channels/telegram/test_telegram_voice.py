"""Voice notes through the Telegram door: fetched, listened to in their turn, answered aloud where that is wanted."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Iterator, Sequence
from datetime import timedelta

import pytest
from api_server import DROPPED, ApiServer, Fault
from msgspec.structs import replace
from telegram_kit import BEN, CREW_CHAT, EVENING, ROSA, FakeHelper, open_door

from bot.channels.telegram.voice import DeafError, Sound
from bot.core.records import Outgoing
from bot.voice.heard import Heard
from bot.voice.speaking import SpeechError
from intents.types import Language

NOTE = {"file_id": "note", "duration": 4, "file_size": 9000}


@pytest.fixture
def server() -> Iterator[ApiServer]:
    with ApiServer() as running:
        running.files["note"] = b"two drops"
        yield running


class FakeEar:
    """Hears what is written in the file; waits for ``go`` where one is set."""

    def __init__(self) -> None:
        self.asked: list[tuple[bytes, str, tuple[str, ...]]] = []
        self.go: asyncio.Event | None = None
        self.closed = False

    async def hear(self, sound: bytes, language: str, bias: Sequence[str] = ()) -> Heard:
        self.asked.append((sound, language, tuple(bias)))
        if self.go is not None:
            await self.go.wait()
        return Heard(sound.decode(), confidence=0.9)

    def close(self) -> None:
        self.closed = True


class FakeVoice:
    """Says a text as a file that holds it."""

    languages: frozenset[Language] = frozenset({"en", "es"})

    def __init__(self) -> None:
        self.mute = False

    def say(self, text: str, language: Language) -> bytes:
        if self.mute:
            raise SpeechError("mute")
        return f"OggS {language} {text}".encode()


def spoken_answers(helper: FakeHelper, *lines: str) -> None:
    """Let the helper answer everything aloud."""

    def answer(chat: str, text: str) -> list[Outgoing]:
        return [replace(helper.say(chat, "\n".join(lines)), aloud=lines)]

    helper.answer = answer


async def test_a_voice_note_is_fetched_and_heard_in_the_persons_language(server: ApiServer) -> None:
    helper, ear = FakeHelper(), FakeEar()
    server.push({"message": server.message(ROSA, voice=NOTE)})
    async with open_door(server, helper, sound=Sound(lambda: ear)):
        await helper.until(lambda: 1 in helper.sent)
    assert helper.heard == [("rosa", "rosa", "two drops", True)]
    assert ear.asked == [(b"two drops", "es", ("Ben", "Rosa", "Maya", "Lena"))]
    assert ear.closed


async def test_while_a_note_is_listened_to_others_are_answered_and_its_sender_in_order(server: ApiServer) -> None:
    helper, ear = FakeHelper(), FakeEar()
    ear.go = asyncio.Event()
    server.push({"message": server.message(BEN, voice=NOTE)})
    server.say(BEN, "and this")
    server.say(ROSA, "hello")
    async with open_door(server, helper, sound=Sound(lambda: ear)):
        await helper.until(lambda: len(helper.heard) == 1)
        assert helper.heard == [("rosa", "rosa", "hello", True)]
        ear.go.set()
        await helper.until(lambda: len(helper.heard) == 3)
        await server.until(lambda: server.waiting() == 0)
    assert [text for _, _, text, _ in helper.heard] == ["hello", "two drops", "and this"]


async def test_a_note_is_not_confirmed_before_it_was_taken_so_that_a_crash_loses_nothing(server: ApiServer) -> None:
    ear = FakeEar()
    ear.go = asyncio.Event()
    server.push({"message": server.message(BEN, voice=NOTE)})
    first = FakeHelper()
    async with open_door(server, first, sound=Sound(lambda: ear)):
        await server.until(lambda: bool(ear.asked))
    assert first.heard == []
    assert server.waiting() == 1
    ear.go.set()
    again = FakeHelper()
    async with open_door(server, again, sound=Sound(lambda: ear)):
        await again.until(lambda: len(again.heard) == 1)
        await server.until(lambda: server.waiting() == 0)


async def test_a_cry_for_help_in_writing_does_not_wait_for_a_note_of_the_same_chat(server: ApiServer) -> None:
    helper, ear = FakeHelper(), FakeEar()
    ear.go = asyncio.Event()
    server.push({"message": server.message(BEN, voice=NOTE)})
    server.say(BEN, "fire on two")
    async with open_door(server, helper, sound=Sound(lambda: ear)):
        await helper.until(lambda: len(helper.heard) == 1)
        assert helper.heard == [("ben", "ben", "fire on two", True)]
        ear.go.set()
        await helper.until(lambda: len(helper.heard) == 2)


async def test_without_an_ear_it_says_so(server: ApiServer) -> None:
    helper = FakeHelper()
    server.push({"message": server.message(BEN, voice=NOTE)})
    async with open_door(server, helper):
        await helper.until(lambda: 1 in helper.sent)
    assert helper.heard == [("ben", "ben", "[absent]", True)]


async def test_an_ear_that_can_not_be_opened_leaves_everything_else_working(server: ApiServer) -> None:
    def nothing() -> FakeEar:
        raise DeafError("no model")

    helper = FakeHelper()
    server.push({"message": server.message(BEN, voice=NOTE)})
    server.say(BEN, "hello")
    async with open_door(server, helper, sound=Sound(nothing)):
        await helper.until(lambda: 2 in helper.sent)
    assert [text for _, _, text, _ in helper.heard] == ["[absent]", "hello"]


@pytest.mark.parametrize("note", [{**NOTE, "duration": 121}, {**NOTE, "file_size": 20_000_001}])
async def test_a_note_that_is_too_long_or_too_big_is_not_fetched(server: ApiServer, note: dict[str, object]) -> None:
    helper = FakeHelper()
    server.push({"message": server.message(BEN, voice=note)})
    async with open_door(server, helper, sound=Sound(FakeEar)):
        await helper.until(lambda: 1 in helper.sent)
    assert helper.heard == [("ben", "ben", "[too_long]", True)]
    assert server.of("getFile") == []


async def test_a_note_that_the_server_will_not_give_is_answered_kindly(server: ApiServer) -> None:
    helper = FakeHelper()
    server.push({"message": server.message(BEN, voice={"file_id": "gone"})})
    server.push({"message": server.message(BEN, voice="no sound at all")})
    async with open_door(server, helper, sound=Sound(FakeEar)):
        await helper.until(lambda: 2 in helper.sent)
    assert [text for _, _, text, _ in helper.heard] == ["[broken]", "[broken]"]


async def test_a_note_survives_a_bad_line_and_is_taken_once(server: ApiServer) -> None:
    helper = FakeHelper()
    server.inject("getFile", DROPPED, DROPPED)
    server.push({"message": server.message(BEN, voice=NOTE)})
    async with open_door(server, helper, sound=Sound(FakeEar)):
        await helper.until(lambda: 1 in helper.sent)
        await server.until(lambda: server.waiting() == 0)
    assert len(helper.heard) == 1


async def test_talk_among_the_crew_is_listened_to_as_it_is_read(server: ApiServer) -> None:
    helper = FakeHelper()
    server.push({"message": server.message(BEN, CREW_CHAT, voice=NOTE)})
    async with open_door(server, helper, sound=Sound(FakeEar)):
        await helper.until(lambda: len(helper.heard) == 1)
    assert helper.heard == [("ben", "crew", "two drops", False)]


async def test_what_is_to_be_said_follows_the_text_as_voice_notes(server: ApiServer) -> None:
    helper = FakeHelper()
    spoken_answers(helper, "Step 2 of 5: wait 30 min.", "Look for: no drip.")
    server.say(ROSA, "next")
    async with open_door(server, helper, sound=Sound(voice=FakeVoice())):
        assert helper.voices == {"en", "es"}
        await server.until(lambda: len(server.voices) == 1)
    assert server.texts(ROSA)[0] == "Step 2 of 5: wait 30 min.\nLook for: no drip."
    ((chat, sound),) = server.voices
    assert chat == ROSA
    assert sound.startswith(b"OggS es Step dos of cinco: wait treinta minutos.")


async def test_without_a_voice_only_the_text_goes(server: ApiServer) -> None:
    helper = FakeHelper()
    spoken_answers(helper, "Step one.")
    server.say(BEN, "next")
    async with open_door(server, helper):
        await helper.until(lambda: 1 in helper.sent)
    assert helper.voices == frozenset()
    assert server.voices == []


async def test_a_voice_that_fails_never_loses_the_text(server: ApiServer) -> None:
    helper, voice = FakeHelper(), FakeVoice()
    voice.mute = True
    spoken_answers(helper, "Step one.")
    server.say(BEN, "next")
    server.say(BEN, "next")
    async with open_door(server, helper, sound=Sound(voice=voice)):
        await helper.until(lambda: 2 in helper.sent)
    assert server.texts(BEN) == ["Step one.", "Step one."]
    assert helper.given_up == {}


async def test_a_person_who_takes_no_voice_notes_still_gets_the_text(server: ApiServer) -> None:
    helper = FakeHelper()
    spoken_answers(helper, "Step one.")
    server.inject("sendVoice", Fault(400, {"ok": False, "error_code": 400, "description": "VOICE_MESSAGES_FORBIDDEN"}))
    server.say(BEN, "next")
    async with open_door(server, helper, sound=Sound(voice=FakeVoice())):
        await server.until(lambda: any(call.method == "sendVoice" for call in server.calls))
    assert helper.sent.keys() == {1}
    assert server.texts(BEN) == ["Step one."]


async def test_a_newer_answer_takes_the_place_of_what_is_still_unsaid(server: ApiServer) -> None:
    helper, release = FakeHelper(), threading.Event()
    long = tuple(f"Sentence number {n} that takes quite some time to say in full, word by word." for n in range(4))
    spoken_answers(helper, *long)
    server.inject("sendVoice", Fault(hold=release))
    server.say(BEN, "next")
    async with open_door(server, helper, sound=Sound(voice=FakeVoice())):
        await helper.until(lambda: 1 in helper.sent)
        await server.until(lambda: server.held >= 1)
        spoken_answers(helper, "Short.")
        server.say(BEN, "next")
        await server.until(lambda: any(b"Short" in sound for _, sound in server.voices))
        release.set()
        await server.until(lambda: len(server.voices) == 2)
    assert len(server.voices) == 2


async def test_what_was_to_be_said_minutes_ago_is_not_said_aloud_any_more(server: ApiServer) -> None:
    helper = FakeHelper()
    old = EVENING - timedelta(minutes=3)
    helper.left_over = [replace(helper.say("ben", "Step one."), aloud=("Step one.",), at=old)]
    async with open_door(server, helper, sound=Sound(voice=FakeVoice())):
        await helper.until(lambda: 1 in helper.sent)
    assert server.texts(BEN) == ["Step one."]
    assert server.voices == []
