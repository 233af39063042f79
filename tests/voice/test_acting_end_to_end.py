"""Voice notes through the whole helper: what a recogniser offers is read, echoed, asked and logged."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from json import dumps
from pathlib import Path
from typing import get_args

import pytest

from bot.app import Helper
from bot.channels.errors import UsageError
from bot.channels.replay import Replay
from bot.channels.script import read_script
from bot.core.kitchen import Kitchen
from bot.core.records import DropsCounted, IncidentReported, Outgoing
from bot.reports.export import rows
from bot.voice.heard import Heard, Trouble
from intents.types import Language

Open = Callable[[datetime], Helper]
NOW = datetime.fromisoformat("2026-09-15T18:00:00-04:00")


@pytest.fixture
def helper(open_helper: Open) -> Iterator[Helper]:
    found = open_helper(NOW)
    yield found
    found.close()


def logged(helper: Helper, kind: type[object]) -> list[object]:
    return [change for turn in helper.turns() for change in turn.changes if isinstance(change, kind)]


def test_a_clear_note_is_echoed_and_logged(helper: Helper) -> None:
    (said, *_) = helper.hear_spoken("ben", "ben", Heard("twelve drops on fryer two", confidence=0.95), NOW)
    assert said.text.startswith("I heard: twelve drops on fryer two\n")
    assert len(logged(helper, DropsCounted)) == 1


def test_an_alternative_is_tried_where_the_first_is_not_understood_and_is_then_asked(helper: Helper) -> None:
    heard = Heard("the mountains of Peru", ("twelve drops on fryer two",), confidence=0.95)
    (said, *_) = helper.hear_spoken("ben", "ben", heard, NOW)
    assert "twelve drops on fryer two" in said.text
    assert [b.label for b in said.buttons] == ["Yes, log it", "No, nothing"]
    assert not logged(helper, DropsCounted)


def test_two_hearings_that_would_log_different_things_are_asked(helper: Helper) -> None:
    heard = Heard("twelve drops on fryer two", ("twenty drops on fryer two",), confidence=0.95)
    helper.hear_spoken("ben", "ben", heard, NOW)
    assert not logged(helper, DropsCounted)


def test_an_emergency_in_any_hearing_is_acted_upon_at_once(helper: Helper) -> None:
    heard = Heard("there is a fryer in the fryer", ("there is a fire in the fryer",), confidence=0.3)
    (said, *alerts) = helper.hear_spoken("ben", "ben", heard, NOW)
    assert said.text.endswith("I heard: there is a fire in the fryer")
    assert [b.label for b in said.buttons] == ["No emergency"]
    assert alerts and all(alert.kind == "alert" for alert in alerts)
    assert len(logged(helper, IncidentReported)) == 1


def test_a_false_alarm_is_exported_as_one(helper: Helper) -> None:
    (said, *_) = helper.hear_spoken("ben", "ben", Heard("there is a fire in the fryer", confidence=0.3), NOW)
    helper.tap("ben", "ben", said.buttons[0].action, NOW + timedelta(minutes=1))
    (incident,) = [row for row in rows(helper.turns(), "America/New_York") if row["kind"] == "incident"]
    assert incident["false_alarm"] is True


def test_the_same_voice_note_is_taken_once(helper: Helper) -> None:
    heard = Heard("twelve drops on fryer two", confidence=0.95)
    helper.hear_spoken("ben", "ben", heard, NOW, cause="tg:7")
    assert helper.hear_spoken("ben", "ben", heard, NOW, cause="tg:7") == []
    assert len(logged(helper, DropsCounted)) == 1


@pytest.mark.parametrize("why", get_args(Trouble))
def test_each_trouble_is_told_in_the_persons_language(helper: Helper, why: Trouble) -> None:
    texts = [helper.hear_spoken(who, who, Heard("", trouble=why), NOW)[0].text for who in ("ben", "rosa")]
    assert texts[0] != texts[1]
    assert "fire, burn, or gas leak" in texts[0]
    assert "fuego, quemadura o fuga de gas" in texts[1]


def test_the_words_offered_for_danger_raise_the_alarm(helper: Helper) -> None:
    said = {"ben": ("fire", "burn", "gas leak"), "rosa": ("fuego", "quemadura", "fuga de gas")}
    for who, words in said.items():
        for word in words:
            helper.hear(who, who, word, NOW)
    assert len(logged(helper, IncidentReported)) == 6


def replayed(
    tmp_path: Path, kitchen: Kitchen, open_helper: Open, note: str, listen: Callable[[Path, Language], Heard] | None
) -> list[Outgoing]:
    script = tmp_path / "script.jsonl"
    script.write_text(dumps({"at": NOW.isoformat(), "from": "rosa", "voice": note}) + "\n")
    lines = read_script(script, kitchen)
    replay = Replay(script, lines, open_helper, listen) if listen is not None else Replay(script, lines, open_helper)
    found = [m for m in replay.messages() if isinstance(m, Outgoing)]
    if replay.helper is not None:
        replay.helper.close()
    return found


def test_replay_listens_to_a_note_beside_the_script(tmp_path: Path, demo_kitchen: Kitchen, open_helper: Open) -> None:
    (tmp_path / "note.ogg").write_bytes(b"sound")
    heard: list[tuple[str, str]] = []

    def listen(note: Path, language: Language) -> Heard:
        heard.append((note.name, language))
        return Heard("cuánto falta para el alto límite", confidence=0.9)

    (said, *_) = replayed(tmp_path, demo_kitchen, open_helper, "note.ogg", listen)
    assert heard == [("note.ogg", "es")]
    assert said.text.startswith("Oí: ")


def test_replay_without_an_ear_says_that_it_cannot_listen(
    tmp_path: Path, demo_kitchen: Kitchen, open_helper: Open
) -> None:
    (tmp_path / "note.ogg").write_bytes(b"sound")
    (said, *_) = replayed(tmp_path, demo_kitchen, open_helper, "note.ogg", None)
    assert said.text.startswith("Aquí todavía no puedo oír notas de voz.")


def test_a_note_that_is_not_there_is_a_fault_of_the_script(
    tmp_path: Path, demo_kitchen: Kitchen, open_helper: Open
) -> None:
    with pytest.raises(UsageError, match=r"script\.jsonl:1: there is no sound file 'gone\.ogg'"):
        replayed(tmp_path, demo_kitchen, open_helper, "gone.ogg", None)
