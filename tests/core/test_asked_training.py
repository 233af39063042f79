"""Training asked for in the crew's own words: who is trained, a check, a sign-off."""

from __future__ import annotations

from bot.core.records import SignedOff
from tests.core.stage import ids
from tests.core.test_training import PAD, buttons, stage


def test_who_is_trained_on_a_guide_is_told_by_its_name() -> None:
    assert ids(stage().say("maya", "train.who", guide=PAD))[0] == "training.who"


def test_a_check_begins_when_it_is_asked_for() -> None:
    assert ids(stage().say("ben", "train.check", guide=PAD))[0] == "training.check"


def test_which_check_is_asked_where_none_is_named() -> None:
    s = stage()
    seen = s.say("ben", "train.check")
    assert ids(seen) == ["training.which_check"]
    assert buttons(seen, "ben") == [f"quiz:{PAD}:-"]


def test_a_sign_off_in_words_takes_one_tap_and_then_stands() -> None:
    s = stage()
    seen = s.say("maya", "train.sign_off", text="sign Ben off on the pad change", guide=PAD)
    assert ids(seen) == ["training.sign_off_now"]
    assert s.logged(SignedOff) == []
    s.tap("maya", buttons(seen, "maya")[0])
    assert [signed.person for signed in s.logged(SignedOff)] == ["ben"]


def test_nobody_but_a_lead_or_trainer_signs_off_in_words() -> None:
    s = stage()
    assert ids(s.say("ben", "train.sign_off", text="sign me off on the pad change", guide=PAD)) == [
        "training.not_yours"
    ]
    assert s.logged(SignedOff) == []
