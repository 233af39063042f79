"""Who is let in, by whom, and what becomes of it; the roster lies over the kitchen file."""

from __future__ import annotations

import unicodedata
from datetime import timedelta

import msgspec
import pytest
from hypothesis import given, strategies as st
from msgspec.structs import replace

from bot.core import invites, records as r, roster
from bot.core.kitchen import Kitchen, Person, Role
from bot.core.membership import Membership
from bot.core.messages import CREW, Arrived, GroupOffered, LinkWanted, Reply
from tests.core.stage import Stage, daily, ids, kitchen, local, params

NOW = local("2026-09-15 15:00")
SECRET = "n0t-very-random-but-long-enough"
PHONE = 5001


@pytest.fixture
def stage() -> Stage:
    people = tuple(replace(p, telegram=1001 + n) for n, p in enumerate(kitchen().people))
    return Stage(kitchen(daily("pad_change", "21:30", ("1", "2")), people=people), NOW)


def invite(stage: Stage, by: str = "omar", role: str = "cook", secret: str = SECRET) -> list[Reply]:
    return stage.tap(by, f"invite:role:{role}", secret=secret)


def join(stage: Stage, name: str = "Ana", phone: int = PHONE, secret: str = SECRET, young: bool = False) -> list[Reply]:
    return stage.happens(Arrived(secret, phone, name, "es", young))


def now(stage: Stage) -> Kitchen:
    return stage.scene.kitchen


# --- links ---


@pytest.mark.parametrize(
    ("by", "role", "may"),
    [
        *(("omar", role, True) for role in roster.ROLES),
        ("lena", "cook", True),
        *(("lena", role, False) for role in ("lead", "manager", "trainer")),
        *((by, role, False) for by in ("ben", "teo", "maya") for role in roster.ROLES),
    ],
)
def test_only_managers_invite_everybody_and_a_trainer_invites_cooks(
    stage: Stage, by: str, role: Role, may: bool
) -> None:
    said = invite(stage, by, role)
    assert ids(said)[0] == ("invite.for_role" if may else "people.not_yours")
    assert len(stage.logged(r.PersonInvited)) == may


def test_the_records_hold_a_seal_and_neither_the_secret_nor_the_link(stage: Stage) -> None:
    said = invite(stage)
    (invited,) = stage.logged(r.PersonInvited)
    assert invited.seal == invites.seal(SECRET) and invited.expires == NOW + timedelta(hours=48)
    assert SECRET not in msgspec.json.encode(stage.changes).decode()
    assert SECRET not in repr(said) and params(said, "invite.link")["link"] == invites.marker(invited.seal)


def test_a_link_asked_for_in_the_crew_chat_comes_in_private(stage: Stage) -> None:
    said = stage.tap("omar", "invite:role:cook", chat=CREW, secret=SECRET)
    assert [(reply.to, reply.lines[0].id) for reply in said] == [
        ("omar", "invite.for_role"),
        (CREW, "invite.sent_privately"),
    ]


def test_where_no_links_can_be_made_that_is_said(stage: Stage) -> None:
    assert ids(stage.tap("omar", "invite:role:cook")) == ["invite.not_here"]
    assert stage.changes[1:] == []


def test_whoever_comes_by_a_link_is_in_and_the_managers_hear_of_it(stage: Stage) -> None:
    invite(stage)
    said = join(stage)
    assert now(stage).person("ana") == Person("ana", "Ana", "cook", "es", False, PHONE)
    assert ids(said, "ana")[0] == "join.welcome"
    assert ids(said, "omar") == ["alert.joined", "alert.joined_adult"]


def test_a_trainer_who_made_the_link_hears_of_it_too(stage: Stage) -> None:
    invite(stage, "lena")
    assert ids(join(stage), "lena") == ["alert.joined", "alert.joined_adult"]


def test_a_cook_who_says_under_16_is_under_the_rule_for_hot_oil(stage: Stage) -> None:
    invite(stage)
    said = join(stage, young=True)
    assert "join.young" in ids(said, "ana") and "alert.joined_young" in ids(said, "omar")
    assert "young.refused" in ids(stage.say("ana", "guide.pad_change", fryer="2"))


def test_a_link_works_once(stage: Stage) -> None:
    invite(stage)
    join(stage)
    assert join(stage, "Eva", PHONE + 1) == []
    assert [p.id for p in now(stage).people][6:] == ["ana"]
    assert invites.look_up(now(stage), stage.state.membership, SECRET, stage.now) == "used"


def test_a_link_ends_after_48_hours(stage: Stage) -> None:
    invite(stage)
    stage.until(NOW + timedelta(hours=48))
    assert join(stage) == []
    assert invites.look_up(now(stage), stage.state.membership, SECRET, stage.now) == "ended"


def test_a_link_of_a_manager_who_is_no_manager_any_more_lets_nobody_in(stage: Stage) -> None:
    invite(stage, role="manager")
    join(stage, "Ana")
    invite(stage, "omar", "lead", "another-secret")
    stage.tap("ana", "role:lead:omar")
    assert join(stage, "Eva", PHONE + 1, "another-secret") == []


@given(st.text(max_size=100))
def test_a_guessed_secret_lets_nobody_in(guess: str) -> None:
    membership = Membership()
    membership.take(r.PersonInvited(invites.seal(SECRET), "cook", NOW + timedelta(hours=1)), NOW)
    if guess != SECRET:
        assert invites.look_up(kitchen(), membership, guess, NOW) == "unknown"


def test_a_phone_that_is_somebodys_already_joins_no_second_time(stage: Stage) -> None:
    invite(stage)
    assert join(stage, phone=1001) == []


def test_somebody_of_the_kitchen_file_is_invited_by_name_and_keeps_id_role_and_age(stage: Stage) -> None:
    stage.kitchen = replace(stage.kitchen, people=tuple(replace(p, telegram=None) if p.id == "teo" else p
                                                        for p in stage.kitchen.people))  # fmt: skip
    assert ids(stage.tap("lena", "invite:name:teo", secret=SECRET))[0] == "invite.for_name"
    join(stage, "Whoever", young=False)
    assert now(stage).person("teo") == Person("teo", "Teo", "cook", "en", True, PHONE)


def test_a_lost_phone_is_out_at_once_and_the_new_one_has_the_same_person(stage: Stage) -> None:
    stage.tap("omar", "phone:ben")
    assert stage.press("omar", "button.new_link")[0].lines[0].id == "invite.not_here"
    stage.tap("omar", "invite:new:ben", secret=SECRET)
    assert now(stage).person("ben").telegram is None  # type: ignore[union-attr]
    join(stage)
    ben = now(stage).person("ben")
    assert ben is not None and (ben.telegram, ben.name) == (PHONE, "Ben")
    assert len(now(stage).people) == 6


def test_a_new_link_for_a_person_ends_the_one_before(stage: Stage) -> None:
    stage.tap("omar", "invite:new:ben", secret=SECRET)
    stage.tap("omar", "invite:new:ben", secret="the-second-one")
    assert join(stage) == []
    assert join(stage, secret="the-second-one") != []


def test_a_number_that_is_put_into_the_kitchen_file_later_counts(stage: Stage) -> None:
    stage.tap("omar", "invite:new:ben", secret=SECRET)
    edited = tuple(replace(p, telegram=7007) if p.id == "ben" else p for p in stage.kitchen.people)
    stage.kitchen = replace(stage.kitchen, people=edited)
    assert now(stage).person("ben").telegram == 7007  # type: ignore[union-attr]


def test_the_operator_makes_a_link_for_the_first_manager(stage: Stage) -> None:
    assert stage.happens(LinkWanted(SECRET, "manager")) == []
    join(stage)
    assert now(stage).person("ana").role == "manager"  # type: ignore[union-attr]


# --- people ---


def test_a_role_is_changed_by_a_manager_and_everybody_concerned_hears(stage: Stage) -> None:
    said = stage.tap("omar", "role:lead:ben")
    assert ids(said, "ben") == ["people.your_role"] and ids(said, "omar") == ["people.role_set"]
    assert [p.id for p in now(stage).with_role("lead")] == ["ben", "maya"]


@pytest.mark.parametrize("deed", ["role:cook:omar", "removed:omar", "leave"])
def test_nobody_removes_the_last_manager(stage: Stage, deed: str) -> None:
    assert ids(stage.tap("omar", deed)) == ["people.last_manager"]
    invite(stage, role="manager")
    join(stage)
    stage.tap("omar", deed)
    if deed == "removed:omar":
        stage.press("omar", "button.leave")
    assert [p.id for p in now(stage).with_role("manager")] == ["ana"]


def test_a_manager_without_a_phone_does_not_count_as_one_who_is_left(stage: Stage) -> None:
    without = Person("zoe", "Zoe", "manager", "en")
    stage.kitchen = replace(stage.kitchen, people=(*stage.kitchen.people, without))
    assert ids(stage.tap("omar", "leave")) == ["people.last_manager"]


def test_whoever_is_taken_out_is_out_and_what_they_logged_stays(stage: Stage) -> None:
    stage.say("ben", "log.done", duty="pad_change", fryer="2")
    assert ids(stage.tap("omar", "remove:ben")) == ["people.ask_remove"]
    said = stage.press("omar", "button.take_out")
    assert ids(said, "omar") == ["people.removed"] and ids(said, "ben") == ["people.you_are_out"]
    assert now(stage).person("ben") is None
    assert len(stage.state.confirmations("pad_change", "2")) == 1
    with pytest.raises(KeyError):
        stage.tap("ben", "no")


def test_leaving_is_asked_about_first_and_the_manager_hears(stage: Stage) -> None:
    assert ids(stage.say("ben", None, text="/leave me out")) == ["leave.ask"]
    said = stage.say("ben", "talk.yes")
    assert ids(said, "omar") == ["leave.heard"] and now(stage).person("ben") is None


def test_the_id_of_somebody_who_left_is_never_given_again(stage: Stage) -> None:
    invite(stage)
    join(stage)
    stage.tap("omar", "removed:ana")
    invite(stage, secret="second")
    join(stage, secret="second")
    assert [p.id for p in now(stage).people][-1] == "ana2"


def test_a_manager_says_who_is_under_16(stage: Stage) -> None:
    stage.tap("omar", "age:no:teo")
    stage.tap("omar", "age:yes:ben")
    assert [p.id for p in now(stage).people if p.under_16] == ["ben"]


def test_the_list_of_people_says_who_has_no_phone_here(stage: Stage) -> None:
    stage.tap("omar", "invite:new:rosa", secret=SECRET)
    assert ids(stage.say("omar", None, text="/crew")).count("people.adult_out") == 1


def test_a_list_of_people_is_for_managers_and_not_for_the_group(stage: Stage) -> None:
    assert ids(stage.say("maya", None, text="/crew")) == ["people.not_yours"]
    assert ids(stage.say("omar", None, text="/crew", chat=CREW)) == ["crew.in_private"]


# --- the crew's chat ---


def test_a_group_becomes_the_crews_chat_when_a_manager_says_yes(stage: Stage) -> None:
    assert ids(stage.happens(GroupOffered("omar", -77)), "omar") == ["crew.ask"]
    said = stage.say("omar", "talk.yes")
    assert ids(said, "omar") == ["crew.set"] and ids(said, CREW) == ["crew.hello"]
    assert now(stage).crew_chat == -77


def test_a_group_that_was_not_just_offered_can_not_be_set_by_a_forged_button(stage: Stage) -> None:
    assert ids(stage.tap("omar", "crewchat:-77")) == ["tap.stale"]
    stage.happens(GroupOffered("omar", -77))
    assert ids(stage.tap("omar", "crewchat:-78")) == ["tap.stale"]
    stage.now += timedelta(minutes=16)
    assert ids(stage.tap("omar", "crewchat:-77")) == ["tap.stale"]
    assert now(stage).crew_chat is None


def test_only_a_manager_offers_a_group(stage: Stage) -> None:
    assert ids(stage.happens(GroupOffered("maya", -77))) == ["people.not_yours"]


def test_a_group_that_is_put_into_the_kitchen_file_later_counts(stage: Stage) -> None:
    stage.happens(GroupOffered("omar", -77))
    stage.say("omar", "talk.yes")
    stage.kitchen = replace(stage.kitchen, crew_chat=-99)
    assert now(stage).crew_chat == -99


# --- the fryer's card ---


def test_a_fryers_card_says_how_it_stands(stage: Stage) -> None:
    stage.say("ben", "log.oil_test", fryer="2", amount=18.0)
    stage.tap("ben", "wait:pump:2")
    said = stage.say("ben", None, text="/fryer 2")
    assert ids(said) == ["card.named", "wait.left", "wait.do_not_reset", "due.line", "card.oil"]
    stage.tap("ben", "down:2")
    assert "card.down" in ids(stage.say("ben", None, text="/fryer 2"))
    assert [b.label.id for b in said[0].buttons] == [
        "button.card_ask", "button.card_problem", "button.card_done", "button.card_wait",
    ]  # fmt: skip


def test_the_cards_buttons_lead_on_at_that_fryer(stage: Stage) -> None:
    stage.say("ben", None, text="/fryer 2")
    assert {b.action for b in stage.press("ben", "button.card_done")[0].buttons} == {"done:pad_change:2"}
    stage.say("ben", None, text="/fryer 2")
    assert {b.action for b in stage.press("ben", "button.card_wait")[0].buttons} == {
        "wait:pump:2", "wait:high_limit:2",
    }  # fmt: skip
    stage.say("ben", None, text="/fryer 2")
    assert "topic:guide.pad_change:2" in {b.action for b in stage.press("ben", "button.card_ask")[0].buttons}
    assert ids(stage.say("ben", None, text="/fryer 9")) == ["ask.unknown_fryer"]


def test_what_is_said_after_a_scan_is_about_that_fryer(stage: Stage) -> None:
    stage.say("ben", None, text="/fryer 2")
    stage.say("ben", "log.done", duty="pad_change")
    assert [c.fryer for c in stage.logged(r.Confirmed)] == ["2"]


# --- names ---


@pytest.mark.parametrize("name", ["Ana", "José Ángel", "O'Neil", "Jean-Luc", "J. R.", "Ли", "अमित", "Nguyễn"])
def test_names_of_any_script_are_names(name: str) -> None:
    assert roster.clean_name(f"  {name}  ") == unicodedata.normalize("NFC", name)


@pytest.mark.parametrize(
    "said", ["", " ", "/start", "a" * 41, "x.com", "Ben\u202etreb", "4", "Ana 1", "@ana", "a:b", "-"]
)
def test_what_is_no_name_is_not_taken_for_one(said: str) -> None:
    assert roster.clean_name(said) is None


@given(st.text(max_size=60))
def test_a_name_that_is_taken_is_one_short_line_without_marks_that_turn_text_around(said: str) -> None:
    name = roster.clean_name(said)
    if name is not None:
        assert 0 < len(name) <= roster.LONGEST_NAME
        assert all(unicodedata.category(sign)[0] not in "CSN" for sign in name)


@given(st.lists(st.text(max_size=30), max_size=30))
def test_no_two_people_get_the_same_id_and_each_fits_into_a_button(names: list[str]) -> None:
    taken: set[str] = set()
    for name in names:
        made = roster.slug(name, taken)
        assert made not in taken | {CREW} and 1 <= len(made) <= 12 and made.isascii() and made.isalnum()
        taken.add(made)
