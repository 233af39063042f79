"""The rules of listening, without a model: bounds of sounds, bias, mishearings, inventions, which guess is taken."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, strategies as st

from bot.content.findings import ContentError
from bot.content.kitchen_file import read_kitchen
from bot.content.languages import LANGUAGES
from bot.content.places import demo_folder
from bot.content.voice_words import VoiceWords, plain_words, voice_words
from bot.voice import bias, judging, sound
from bot.voice.ear import Ear
from bot.voice.judging import Candidate
from bot.voice.recogniser import Encoded, Guess
from bot.voice.weighing import Scales
from intents.understander import Understander
from tests.voice import noises

CLIPS = Path(__file__).parent / "clips"


@pytest.fixture(scope="module")
def understander() -> Understander:
    return Understander.load(fryers={"1": ["fries fryer"], "2": ["falafel fryer"]})


@pytest.fixture(scope="module")
def scales(understander: Understander) -> Scales:
    return Scales(understander, voice_words()["en"], "en")


# --- sounds ---


def test_a_note_is_read_as_mono_samples_of_its_own_length() -> None:
    read = sound.read(noises.as_wav(np.zeros(3 * noises.RATE)))
    assert read.seconds == pytest.approx(3, abs=0.01)
    assert read.wave.dtype == np.float32
    assert read.quiet


@pytest.mark.parametrize("data", [b"", b"OggS", b"not a sound", bytes(2000), b"RIFF\x00\x00\x00\x00WAVEfmt "])
def test_what_is_no_sound_is_broken(data: bytes) -> None:
    with pytest.raises(sound.BrokenSoundError):
        sound.read(data)


def test_a_file_that_is_not_there_is_broken(tmp_path: Path) -> None:
    with pytest.raises(sound.BrokenSoundError):
        sound.read(tmp_path / "none.ogg")


@given(st.data())
def test_no_damage_to_a_file_does_more_than_break_it(data: st.DataObject) -> None:
    note = bytearray((CLIPS / "drain.ogg").read_bytes())
    for _ in range(data.draw(st.integers(1, 30))):
        note[data.draw(st.integers(0, len(note) - 1))] = data.draw(st.integers(0, 255))
    note = note[: data.draw(st.integers(0, len(note)))]
    # Either error is a clear answer.
    with suppress(sound.BrokenSoundError, sound.LongSoundError):
        assert sound.read(bytes(note)).seconds <= sound.LONGEST + sound.SPARE


def test_two_minutes_are_read_and_more_is_too_long() -> None:
    assert sound.read(noises.as_wav(np.zeros(120 * noises.RATE))).seconds == pytest.approx(120)
    with pytest.raises(sound.LongSoundError):
        sound.read(noises.as_wav(np.zeros(130 * noises.RATE)))


def test_a_file_bigger_than_the_messenger_hands_out_is_not_read(tmp_path: Path) -> None:
    big = tmp_path / "big.wav"
    with big.open("wb") as file:
        file.truncate(sound.LARGEST + 1)
    with pytest.raises(sound.LongSoundError):
        sound.read(big)


def test_a_few_kilobytes_that_claim_hours_are_too_long_before_they_fill_the_memory() -> None:
    with pytest.raises(sound.LongSoundError):
        sound.read(noises.as_flac(np.zeros(65_535, np.int16), rate=8))


STREAM = "v=0\no=- 0 0 IN IP4 127.0.0.1\ns=x\nc=IN IP4 127.0.0.1\nt=0 0\nm=audio {port} RTP/AVP 0\n"
"""A session description (RFC 8866): whoever reads it listens on that port."""


@pytest.mark.parametrize("said", ["ffconcat version 1.0\nfile {path}\n", STREAM])
def test_a_file_that_names_another_file_or_an_address_opens_neither(
    said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "other.wav").write_bytes(noises.as_wav(np.zeros(noises.RATE)))
    with pytest.raises(sound.BrokenSoundError) as broken:
        sound.read(said.format(path="other.wav", port=50_404).encode())
    assert not isinstance(broken.value.__cause__, TimeoutError)


# --- what the recogniser is told, and what it mishears ---


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_recogniser_is_told_of_fire_burns_and_gas_whatever_else(language: str, understander: Understander) -> None:
    words = voice_words()[language]
    told = bias.told(words, ["Ben"] * 500)
    raised = {understander.understand(said).topic for said in words.emergencies}
    assert {"emergency.fire", "emergency.burn", "emergency.gas"} <= raised
    assert all(said in told for said in words.emergencies)


def test_a_kitchens_own_names_are_told_too() -> None:
    kitchen = read_kitchen(demo_folder() / "kitchen.toml")
    told = bias.told(voice_words()["en"], bias.names_of(kitchen))
    assert all(person.name in told for person in kitchen.people)
    assert all(name in told for fryer in kitchen.fryers for name in fryer.names)


def test_what_is_known_to_be_misheard_is_put_right_and_the_rest_stays() -> None:
    words = voice_words()["en"]
    assert words.put_right("Friar 2: changed the pat, oil at 24%.") == "Fryer 2: changed the pad, oil at 24%."
    assert words.put_right("The fryer is fine.") == "The fryer is fine."


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_mending_makes_or_hides_an_emergency(language: str, understander: Understander) -> None:
    words = voice_words()[language]
    for heard, meant in words.sounds_like.items():
        topics = [understander.understand(text).topic or "" for text in (heard, meant)]
        assert not any(topic.startswith("emergency.") for topic in topics), heard


@pytest.mark.parametrize(
    "cry",
    [
        "Fire!",
        "The fryer is on fire.",
        "Fire in the fryer!",
        "The fire won't go out!",
        "The oil is on fire on fryer two.",
    ],
)
def test_a_real_cry_stays_a_cry(scales: Scales, cry: str) -> None:
    assert scales.raises_alarm(scales.mended(cry))


def test_a_fire_that_drains_is_a_fryer(scales: Scales) -> None:
    assert scales.mended("The fire won't drain.") == "The fryer won't drain."


def test_a_faulty_words_file_is_reported_with_its_line(tmp_path: Path) -> None:
    for language in LANGUAGES:
        (tmp_path / f"{language}.toml").write_text('emergencies = ["Fire!"]\n[sounds_like]\n"Pad" = "pad"\n')
    with pytest.raises(ContentError) as caught:
        voice_words(tmp_path)
    complaints = str(caught.value)
    assert "en.toml:1: fire, burns and gas are not all there" in complaints
    assert "en.toml:3:" in complaints


# --- what nobody said ---


def test_loops_breath_and_hopeless_guesses_are_inventions() -> None:
    words = voice_words()["en"]
    assert judging.invented(Candidate("Change the pad. " * 12, -0.1), words)
    assert judging.invented(Candidate("Thanks for watching!", -0.1), words)
    assert judging.invented(Candidate("The fryer is down.", -3.0), words)
    assert judging.invented(Candidate("...", -0.1), words)
    assert not judging.invented(
        Candidate("I changed the pad on fryer one, then I changed it on fryer two.", -0.4), words
    )


@given(st.text())
def test_any_text_can_be_judged(text: str) -> None:
    words = voice_words()["en"]
    assert judging.invented(Candidate(text, -0.1), words) in (True, False)
    assert isinstance(words.put_right(words.put_calm(text)), str)
    assert bias.echoes(text, bias.told(words)) in (True, False)


def test_an_echo_of_what_was_told_is_taken_only_if_heard_without_it_too(scales: Scales) -> None:
    told = bias.told(voice_words()["en"])
    echo = [Candidate("Fire! Flames!", -0.2)]
    assert scales.doubtful(echo, told)
    unbacked = scales.weighed(echo, [Candidate("uh", -0.9)], told)
    backed = scales.weighed(echo, [Candidate("Fire, there are flames!", -0.4)], told)
    assert unbacked.candidates == ()
    assert scales.raises_alarm(backed.candidates[0].text)


# --- which guess is taken ---


def test_of_guesses_that_sound_alike_the_one_that_makes_sense_is_taken(scales: Scales) -> None:
    guesses = [Candidate("Howl hot shut the oil bee", -0.3), Candidate("How hot should the oil be", -0.35)]
    assert scales.weighed(guesses).candidates[0].text == "How hot should the oil be"


def test_of_guesses_that_are_as_likely_the_emergency_is_taken(scales: Scales) -> None:
    calm, alarm = "How do I clean the fryer?", "The fryer is on fire!"
    taken = scales.weighed([Candidate(calm, -0.300), Candidate(alarm, -0.301)])
    assert taken.candidates[0].text == alarm
    assert taken.confidence < 0.6


def test_an_unlikely_alarm_is_no_alternative_either(scales: Scales) -> None:
    calm, alarm = "How do I clean the fryer?", "The fryer is on fire!"
    taken = scales.weighed([Candidate(calm, -0.1), Candidate(alarm, -0.9)])
    assert [one.text for one in taken.candidates] == [calm]


def test_an_emergency_of_the_second_look_is_taken(scales: Scales) -> None:
    first, second = [Candidate("Someone turned his hand", -0.5)], [Candidate("Someone burned his hand", -0.5)]
    assert scales.weighed(first, second, "bias").candidates[0].text == "Someone burned his hand"


@given(st.lists(st.floats(-20, 0), min_size=1, max_size=8))
def test_shares_of_guesses_sum_to_one_and_keep_their_order(chances: list[float]) -> None:
    shares = judging.shares(chances)
    assert sum(shares) == pytest.approx(1)
    assert [shares[n] for n in np.argsort(chances)] == sorted(shares)


def test_guesses_that_mean_different_things_make_it_unsure(scales: Scales) -> None:
    one, two = "I changed the pad on fryer one.", "I changed the pad on fryer two."
    alone = scales.weighed([Candidate(one, -0.1)])
    torn = scales.weighed([Candidate(one, -0.1), Candidate(two, -0.1)])
    assert alone.confidence > 0.8
    assert torn.confidence <= 0.5


# --- languages, with a recogniser that plays a part ---


class Player:
    """Hears in every sound what it was told to."""

    languages = ("en", "es", "fr")

    def __init__(self, chances: dict[str, float], text: str) -> None:
        self.chances = chances
        self.text = text
        self.asked: list[str] = []

    def speech(self, wave: sound.Wave) -> list[sound.Wave]:
        return [wave]

    def encoded(self, wave: sound.Wave) -> Encoded:
        return Encoded(None, len(wave) / sound.RATE)

    def spoken_language(self, encoded: Encoded) -> dict[str, float]:
        return self.chances

    def look(self, encoded: Encoded, language: str, bias: str, guesses: int) -> list[Guess]:
        self.asked.append(language)
        return [Guess(self.text, -0.1)]


def heard_in(understander: Understander, chances: dict[str, float]) -> tuple[str | None, Sequence[str]]:
    player = Player(chances, "La freidora dos no drena.")
    heard = Ear(player, understander, voice_words()).hear(noises.as_wav(np.full(noises.RATE, 0.1)), "en")  # type: ignore[arg-type]
    return heard.trouble, player.asked


def test_a_note_is_heard_in_the_persons_language_unless_it_clearly_is_another_of_ours(
    understander: Understander,
) -> None:
    assert heard_in(understander, {"en": 0.4, "es": 0.6}) == (None, ["en"])
    assert heard_in(understander, {"en": 0.01, "es": 0.98}) == (None, ["es"])


def test_a_foreign_language_is_no_words(understander: Understander) -> None:
    assert heard_in(understander, {"en": 0.01, "es": 0.01, "fr": 0.97}) == ("noise", [])


def test_words_are_compared_without_case_accents_and_marks() -> None:
    assert plain_words("¡Se quemó la MANO, otra vez!") == ("se", "quemo", "la", "mano", "otra", "vez")


def test_words_without_mishearings_change_nothing() -> None:
    words = VoiceWords((), (), frozenset(), {}, {})
    assert words.put_right("Friar two.") == "Friar two."
