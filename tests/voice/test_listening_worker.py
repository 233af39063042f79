"""Notes are listened to one by one beside the event loop, and a full queue says so."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Sequence
from pathlib import Path

import pytest

from bot.voice.heard import Heard
from bot.voice.worker import Listener
from intents.types import Language


class SlowEar:
    """Listens only when it is let, and repeats what is in the file."""

    languages: tuple[Language, ...] = ("en",)

    def __init__(self) -> None:
        self.let = threading.Event()
        self.began = threading.Event()
        self.heard: list[str] = []

    def hear(self, sound: bytes | Path, language: str, bias: Sequence[str] = ()) -> Heard:
        self.began.set()
        self.let.wait(10)
        assert isinstance(sound, bytes)
        if sound == b"trap":
            raise RuntimeError("a model's own trouble")
        self.heard.append(sound.decode())
        return Heard(sound.decode())


async def test_the_event_loop_goes_on_while_a_note_is_listened_to() -> None:
    ear = SlowEar()
    listener = Listener(ear)
    note = asyncio.create_task(listener.hear(b"pad done", "en"))
    await asyncio.to_thread(ear.began.wait, 10)
    assert not note.done()
    ear.let.set()
    assert (await note).text == "pad done"
    listener.close()


async def test_notes_are_heard_in_the_order_in_which_they_came() -> None:
    ear = SlowEar()
    listener = Listener(ear)
    notes = [asyncio.create_task(listener.hear(str(n).encode(), "en")) for n in range(5)]
    await asyncio.to_thread(ear.began.wait, 10)
    ear.let.set()
    assert [heard.text for heard in await asyncio.gather(*notes)] == ["0", "1", "2", "3", "4"]
    assert ear.heard == ["0", "1", "2", "3", "4"]
    listener.close()


async def test_a_full_queue_says_that_it_is_busy_and_loses_nothing_that_waits() -> None:
    ear = SlowEar()
    listener = Listener(ear, waiting=2)
    at_work = asyncio.create_task(listener.hear(b"a", "en"))
    await asyncio.to_thread(ear.began.wait, 10)
    waiting = [asyncio.create_task(listener.hear(text, "en")) for text in (b"b", b"c")]
    await asyncio.sleep(0)
    assert (await listener.hear(b"d", "en")).trouble == "busy"
    ear.let.set()
    assert [heard.text for heard in await asyncio.gather(at_work, *waiting)] == ["a", "b", "c"]
    listener.close()


async def test_one_note_that_trips_the_model_does_not_silence_the_next() -> None:
    ear = SlowEar()
    ear.let.set()
    listener = Listener(ear)
    assert (await listener.hear(b"trap", "en")).trouble == "broken"
    assert (await listener.hear(b"still here", "en")).text == "still here"
    listener.close()


async def test_closing_answers_those_who_wait() -> None:
    ear = SlowEar()
    listener = Listener(ear)
    at_work = asyncio.create_task(listener.hear(b"a", "en"))
    await asyncio.to_thread(ear.began.wait, 10)
    waiting = asyncio.create_task(listener.hear(b"b", "en"))
    await asyncio.sleep(0)
    listener.close()
    assert (await waiting).trouble == "absent"
    ear.let.set()
    assert (await at_work).text == "a"
    assert (await listener.hear(b"c", "en")).trouble == "absent"


async def test_a_note_that_nobody_waits_for_any_more_is_not_listened_to() -> None:
    ear = SlowEar()
    listener = Listener(ear)
    at_work = asyncio.create_task(listener.hear(b"a", "en"))
    await asyncio.to_thread(ear.began.wait, 10)
    given_up = asyncio.create_task(listener.hear(b"b", "en"))
    await asyncio.sleep(0)
    given_up.cancel()
    with pytest.raises(asyncio.CancelledError):
        await given_up
    ear.let.set()
    await at_work
    assert (await listener.hear(b"c", "en")).text == "c"
    assert ear.heard == ["a", "c"]
    listener.close()
