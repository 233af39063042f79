"""A photo sent with a confirmation is kept with its record: on the disk first, then said; shown in the export."""

from __future__ import annotations

import errno
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest

from bot.app import Helper
from bot.content.catalogue import Content
from bot.core.kitchen import Kitchen
from bot.core.records import EvidenceKept, Outgoing
from bot.reports.export import rows
from bot.store.evidence import names_of, photo
from bot.store.files import Files
from intents.understander import Understander
from tests.core.stage import local
from tests.store.storekit import FailingFiles

JPEG = b"\xff\xd8\xff\xe0" + b"the pan, clean"
NOW = local("2026-09-15 21:31")
MINUTE = timedelta(minutes=1)
Opener = Callable[..., Helper]


@pytest.fixture
def helper(open_helper: Opener) -> Helper:
    return open_helper(NOW - MINUTE)


def text(messages: list[Outgoing]) -> str:
    return "\n".join(m.text for m in messages if m.kind == "reply")


def evidence(helper: Helper) -> dict[str, object]:
    """The photos of each fryer's confirmation, by the export."""
    return {row["fryer"]: row.get("evidence") for row in rows(helper.turns(), "UTC") if row["kind"] == "confirmation"}


def test_a_photo_soon_after_a_confirmation_is_kept_with_it(helper: Helper, tmp_path: Path) -> None:
    helper.hear("ben", "ben", "pad changed on 1", NOW)
    said = helper.receive("ben", "ben", "photo", NOW + 10 * MINUTE, data=JPEG)
    assert text(said) == "Kept the photo with: pad change on fryer 1."
    assert evidence(helper) == {"1": "1-1.jpg"}
    assert photo(tmp_path / "store", "1-1.jpg") == JPEG
    assert (tmp_path / "store" / "evidence" / "1-1.jpg").stat().st_mode & 0o777 == 0o600


def test_of_two_confirmations_the_later_one_gets_it(helper: Helper) -> None:
    helper.hear("ben", "ben", "pad changed on 1", NOW)
    helper.hear("ben", "ben", "pad changed on 2", NOW + MINUTE)
    helper.receive("ben", "ben", "photo", NOW + 2 * MINUTE, data=JPEG)
    assert evidence(helper) == {"1": None, "2": "2-1.jpg"}


def test_a_photo_in_reply_goes_to_the_record_that_the_message_was_about_however_old(helper: Helper) -> None:
    helper.hear("ben", "ben", "pad changed on 1", NOW)
    helper.hear("ben", "ben", "pad changed on 2", NOW + MINUTE)
    helper.receive("ben", "ben", "photo", NOW + 40 * MINUTE, data=JPEG, replied="undo:1:1")
    helper.receive("ben", "ben", "photo", NOW + 41 * MINUTE, data=JPEG, replied="undo:1:1")
    assert evidence(helper) == {"1": "1-1.jpg 1-2.jpg", "2": None}


@pytest.mark.parametrize(
    ("who", "minutes", "replied"),
    [
        ("ben", 11, None),
        ("rosa", 1, None),
        ("rosa", 1, "undo:1:1"),
        ("ben", 1, "done:pad_change:1"),
        ("ben", 1, "undo:x"),
        ("ben", 1, "undo:99:99"),
    ],
)
def test_a_photo_too_late_or_of_somebody_else_or_in_reply_to_something_else_is_not(
    helper: Helper, who: str, minutes: int, replied: str | None, tmp_path: Path
) -> None:
    helper.hear("ben", "ben", "pad changed on 1", NOW)
    helper.receive(who, who, "photo", NOW + minutes * MINUTE, data=JPEG, replied=replied)
    assert evidence(helper) == {"1": None}
    assert names_of(tmp_path / "store") == []


def test_a_lead_may_add_a_photo_to_anybodys_record(helper: Helper) -> None:
    helper.hear("ben", "ben", "pad changed on 1", NOW)
    helper.receive("maya", "maya", "photo", NOW + 30 * MINUTE, data=JPEG, replied="undo:1:1")
    assert evidence(helper) == {"1": "1-1.jpg"}
    assert [c.by for turn in helper.turns() for c in turn.changes if isinstance(c, EvidenceKept)] == ["maya"]


def test_a_confirmation_that_was_taken_back_gets_no_photo(helper: Helper) -> None:
    helper.hear("ben", "ben", "pad changed on 1", NOW)
    helper.hear("ben", "ben", "undo", NOW + MINUTE)
    helper.receive("ben", "ben", "photo", NOW + 2 * MINUTE, data=JPEG)
    assert evidence(helper) == {"1": None}


@pytest.mark.parametrize("data", [b"%PDF-1.7", b"", JPEG + bytes(10 << 20)])
def test_what_is_no_photo_or_too_large_is_refused_in_words(helper: Helper, data: bytes, tmp_path: Path) -> None:
    helper.hear("ben", "ben", "pad changed on 1", NOW)
    assert "I could not keep that photo" in text(helper.receive("ben", "ben", "photo", NOW + MINUTE, data=data))
    assert names_of(tmp_path / "store") == []


def test_one_record_gets_ten_photos_and_no_more(helper: Helper, tmp_path: Path) -> None:
    helper.hear("ben", "ben", "pad changed on 1", NOW)
    for n in range(11):
        said = helper.receive("ben", "ben", "photo", NOW + MINUTE, data=JPEG + bytes([n]))
    assert "at most 10" in text(said)
    assert len(names_of(tmp_path / "store")) == 10


def test_the_same_photo_sent_twice_by_the_channel_is_kept_once(helper: Helper, tmp_path: Path) -> None:
    helper.hear("ben", "ben", "pad changed on 1", NOW)
    for _ in range(2):
        helper.receive("ben", "ben", "photo", NOW + MINUTE, data=JPEG, cause="tg:5")
    assert names_of(tmp_path / "store") == ["1-1.jpg"]


def test_a_photo_without_its_bytes_is_answered_as_before(helper: Helper) -> None:
    helper.hear("ben", "ben", "pad changed on 1", NOW)
    assert "I can't read pictures" in text(helper.receive("ben", "ben", "photo", NOW + MINUTE))


@pytest.mark.parametrize("operation", ["write", "sync", "replace"])
def test_a_photo_that_can_not_be_saved_is_not_acknowledged(
    operation: str, demo_kitchen: Kitchen, content: Content, understander: Understander, tmp_path: Path
) -> None:
    armed = False
    files: Files = FailingFiles(lambda count, name: armed and name == operation, errno.ENOSPC)
    helper = Helper.open(demo_kitchen, content, understander, tmp_path, NOW, files=files)
    helper.hear("ben", "ben", "pad changed on 1", NOW)
    armed = True
    said = helper.receive("ben", "ben", "photo", NOW + MINUTE, data=JPEG)
    armed = False
    assert "could not save" in text(said)
    assert evidence(helper) == {"1": None}
    helper.receive("ben", "ben", "photo", NOW + MINUTE, data=JPEG)
    assert str(evidence(helper)["1"]).endswith(".jpg")
    helper.drop()
