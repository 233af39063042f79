"""Any text, in any state, at any time: an answer, no error, and a store that opens."""

from __future__ import annotations

import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

from hypothesis import HealthCheck, given, settings, strategies as st

from bot.app import Helper
from bot.content.catalogue import Content
from bot.core.kitchen import Kitchen
from intents.understander import Understander

START = datetime(2026, 9, 15, 14, tzinfo=UTC)

PHRASES = (
    "how do i change the pad on 2", "next", "back", "stop", "yes", "no", "2", "the high limit tripped on 1",
    "pad changed on 2", "closing filter done on all", "undo that", "what's due", "remind me in 20", "fuego!!",
    "oil on 3 is 25 percent", "375 on 1", "12 drops on 2", "fryer 1 is down", "fryer 1 is back", "hola",
    "2 won't drain", "pad on 9 changed", "did the pad on 1 tomorrow", "español", "🍟🍟", "", "   ", "\x00\ud800",
)  # fmt: skip

texts = st.one_of(st.sampled_from(PHRASES), st.text(max_size=200))
people = st.sampled_from(("ben", "rosa", "teo", "maya", "omar", "lena"))
steps = st.lists(
    st.tuples(
        st.integers(0, 3 * 24 * 3600), people, st.booleans(), st.one_of(texts.map(lambda t: ("say", t)),
        st.integers(1, 4).map(lambda n: ("press", str(n))), st.text(max_size=40).map(lambda a: ("forge", a)),
        st.just(("restart", "")))
    ),
    min_size=1,
    max_size=12,
)  # fmt: skip


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps=steps)
def test_whatever_is_said_gets_an_answer_and_the_store_opens_again(
    steps: list[tuple[int, str, bool, tuple[str, str]]],
    content: Content,
    demo_kitchen: Kitchen,
    understander: Understander,
) -> None:
    with tempfile.TemporaryDirectory() as folder:
        now = START
        helper = Helper.open(demo_kitchen, content, understander, Path(folder), now)
        buttons: dict[str, list[str]] = {}
        for seconds, person, crew, (what, value) in steps:
            now += timedelta(seconds=seconds)
            chat = "crew" if crew else person
            if what == "restart":
                helper.drop()
                helper = Helper.open(demo_kitchen, content, understander, Path(folder), now)
                continue
            if what == "say":
                out = helper.hear(person, chat, value, now)
            elif what == "press" and len(buttons.get(chat, [])) >= int(value):
                out = helper.tap(person, chat, buttons[chat][int(value) - 1], now)
            else:
                out = helper.tap(person, chat, value, now)
            assert any(message.to == chat and message.text.strip() for message in out)
            for message in out:
                if message.buttons:
                    buttons[message.to] = [button.action for button in message.buttons]
            helper.all_delivered(out, now)
        before = helper.state
        helper.drop()
        again = Helper.open(demo_kitchen, content, understander, Path(folder), now)
        assert again.recovered is None
        assert again.state == before
        again.close()
