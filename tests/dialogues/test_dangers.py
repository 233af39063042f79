"""A message that announces or asks for a dangerous act is answered by its warning, and by nothing that could harm."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest

from bot.app import Helper
from bot.content.catalogue import Content
from bot.core.kitchen import Kitchen
from bot.core.messages import Words
from bot.core.pieces import slot_key
from bot.core.records import Asked, Confirmed, FryerMentioned, IncidentReported, ResetTried, WalkMoved
from intents.phrasebook import BUILT_IN, read

NOON = datetime(2026, 9, 18, 16, 0, tzinfo=UTC)
"""Noon of an open Friday in the demo kitchen."""

SPEAKER = {"en": "ben", "es": "rosa"}

ANNOUNCED = [
    ("en", "water_on_fire", "the oil went up in flames, i'm filling a bucket at the sink"),
    ("en", "water_on_fire", "theres a grease fire in vat 2, do i hose it"),
    ("es", "water_on_fire", "se prendió el aceite, ¿le echo una cubeta de agua?"),
    ("es", "water_on_fire", "agarro la manguera y apago la lumbre de la freidora"),
    ("en", "ice_or_water_in_oil", "oil on 1 is way too hot so im tossing a scoop of ice in it"),
    ("en", "ice_or_water_in_oil", "ok to dump a jug of cold water into the hot vat so it cools down?"),
    ("es", "ice_or_water_in_oil", "el aceite está muy caliente, le aviento unos hielos para bajarlo"),
    ("es", "ice_or_water_in_oil", "voy a vaciar agua fría en la tina que sigue caliente"),
    ("en", "oil_down_drain", "gonna pour the spent oil into the floor drain by the mop sink"),
    ("en", "oil_down_drain", "can the old fryer grease go down the toilet"),
    ("es", "oil_down_drain", "tiro el aceite quemado por la coladera del patio"),
    ("es", "oil_down_drain", "¿el aceite usado se puede ir por el fregadero?"),
    ("en", "bleach_mix", "i want to put bleach in with the boil out stuff so it gets really clean"),
    ("en", "bleach_mix", "can i use degreaser and bleach together in fryer 3"),
    ("es", "bleach_mix", "le agrego un chorro de cloro al agua del boil out"),
    ("es", "bleach_mix", "¿puedo juntar el limpiador de la freidora con cloro?"),
    ("en", "move_hot_fryer", "im going to roll fryer 2 out from the wall while the oil is still hot"),
    ("en", "move_hot_fryer", "can we shove the fryer a foot to the left, its full and running"),
    ("es", "move_hot_fryer", "vamos a empujar la freidora caliente para limpiar detrás"),
    ("es", "move_hot_fryer", "¿puedo rodar la freidora llena de aceite caliente a otro lado?"),
    ("en", "carry_full_pan", "me and jay are carrying the pan of hot oil out the back door"),
    ("en", "carry_full_pan", "ill haul the hot oil to the waste bin in a stock pot"),
    ("es", "carry_full_pan", "entre los dos llevamos la bandeja con el aceite hirviendo al patio"),
    ("es", "carry_full_pan", "voy a cargar una olla de aceite caliente hasta el tanque"),
    ("en", "defeat_cutout", "how can i bypass the high limit so it keeps frying tonight"),
    ("en", "defeat_cutout", "gonna tape the reset button in so it quits tripping"),
    ("es", "defeat_cutout", "voy a puentear el corte de seguridad para seguir friendo"),
    ("es", "defeat_cutout", "le pongo cinta al botón de reset para que no se bote"),
    ("en", "heat_empty_vat", "turning on the burner with the vat empty to burn off the carbon"),
    ("en", "heat_empty_vat", "can i heat fryer 1 while theres no oil in it yet"),
    ("es", "heat_empty_vat", "prendo la freidora vacía mientras llega el aceite"),
    ("es", "heat_empty_vat", "¿la puedo calentar aunque el aceite no llegue a la raya?"),
    ("en", "reset_early", "im not waiting any more, hitting the reset on 2 right now"),
    ("en", "reset_early", "can we skip the cool down and just reset the high limit"),
    ("es", "reset_early", "no voy a esperar, le aprieto el reset ahorita"),
    ("es", "reset_early", "¿me salto el enfriamiento y reinicio de una vez?"),
    ("en", "third_reset", "the pump tripped a third time, ill reset it once more"),
    ("en", "third_reset", "high limit popped again after the reset, pushing it again"),
    ("es", "third_reset", "ya se botó otra vez, la vuelvo a reiniciar por tercera vez"),
    ("es", "third_reset", "no aguantó el reinicio, le doy otra vez al botón"),
    ("en", "open_hot_drain_unattended", "opened the drain on 3, be back after i do the dishes"),
    ("en", "open_hot_drain_unattended", "ok if i walk away while the vat is draining?"),
    ("es", "open_hot_drain_unattended", "dejé el drenaje abierto y me voy a barrer el comedor"),
    ("es", "open_hot_drain_unattended", "¿puedo irme mientras se vacía la tina sola?"),
    ("en", "reach_into_oil", "my thermometer sank in the vat, gonna reach in and grab it"),
    ("en", "reach_into_oil", "can i stick my arm in the hot oil if i wear the long gloves"),
    ("es", "reach_into_oil", "se me cayó la cuchara en el aceite, meto la mano a sacarla"),
    ("es", "reach_into_oil", "con los guantes largos meto la mano a la tina"),
    ("en", "under_16_hot_oil", "the 15 year old is going to drain the hot oil for me"),
    ("en", "under_16_hot_oil", "im 14, boss said i have to filter fryer 2 tonight"),
    ("es", "under_16_hot_oil", "tengo 15 y voy a vaciar el aceite caliente"),
    ("es", "under_16_hot_oil", "el muchacho de catorce va a filtrar la freidora"),
    ("en", "leave_unattended", "im leaving the fryers on and heading home for an hour"),
    ("en", "leave_unattended", "can the fryer stay on with nobody in the kitchen"),
    ("es", "leave_unattended", "dejo las freidoras prendidas y me voy a la tienda un rato"),
    ("es", "leave_unattended", "¿puede quedarse prendida la freidora sin nadie en la cocina?"),
    ("en", "wet_hands_power", "hands are soaked but im going to plug the fryer back in"),
    ("en", "wet_hands_power", "there is a puddle on the floor, can i still press the pump reset"),
    ("es", "wet_hands_power", "con las manos mojadas voy a enchufar la freidora"),
    ("es", "wet_hands_power", "el piso está encharcado, ¿igual subo el interruptor?"),
    ("en", "relight_with_gas_smell", "smells like gas over here but im lighting the pilot again"),
    ("en", "relight_with_gas_smell", "can i relight fryer 2, theres a gas smell around it"),
    ("es", "relight_with_gas_smell", "huele a gas pero voy a prender otra vez el piloto"),
    ("es", "relight_with_gas_smell", "¿puedo encender el quemador con olor a gas?"),
    ("en", "skip_gear", "im going to drain it without gloves, its only a minute"),
    ("en", "skip_gear", "no face shield around so ill filter bare faced"),
    ("es", "skip_gear", "voy a filtrar sin guantes ni careta, es rapidito"),
    ("es", "skip_gear", "¿puedo vaciar el aceite caliente con sandalias?"),
    ("en", "reuse_bad_oil", "the strip says dump it but we're frying in it till tomorrow"),
    ("en", "reuse_bad_oil", "oil smokes and smells rancid, can we push it one more day"),
    ("es", "reuse_bad_oil", "la prueba salió mala pero seguimos friendo con ese aceite hasta mañana"),
    ("es", "reuse_bad_oil", "¿le mezclo aceite nuevo al malo para que dure otro día?"),
    ("en", "water_on_fire", "quick do we splash water on the flaming fryer"),
    ("es", "water_on_fire", "la freidora está en llamas, le aviento agua?"),
    ("en", "ice_or_water_in_oil", "cup of water into the oil to see if its ready, ok?"),
    ("es", "ice_or_water_in_oil", "le echamos agua al aceite caliente para limpiarlo?"),
    ("en", "oil_down_drain", "is it fine to pour leftover fryer oil into the parking lot drain"),
    ("es", "oil_down_drain", "voy a tirar toda la manteca por el lavabo"),
    ("en", "bleach_mix", "adding bleach to the cleaner so the vat comes out shiny"),
    ("es", "bleach_mix", "¿cloro y desengrasante juntos para la tina?"),
    ("en", "move_hot_fryer", "need to wheel fryer 3 out while its hot to find a basket clip"),
    ("es", "move_hot_fryer", "jalamos la freidora hacia afuera, todavía tiene aceite caliente"),
    ("en", "carry_full_pan", "i'm lifting the pan, its full of hot oil"),
    ("es", "carry_full_pan", "voy a llevar el aceite hirviendo en un balde"),
    ("en", "defeat_cutout", "stick a toothpick in the high limit button so it stays in"),
    ("es", "defeat_cutout", "desconecto el high limit para acabar el turno"),
    ("en", "heat_empty_vat", "burners on with no oil, just to dry the vat"),
    ("es", "heat_empty_vat", "¿prendo la tina antes de llenarla?"),
    ("en", "reset_early", "boss wants the reset done now, the timer still says 12 minutes"),
    ("es", "reset_early", "aunque falten diez minutos la voy a resetear"),
    ("en", "third_reset", "reset number three coming up, pump wont stay on"),
    ("es", "third_reset", "otra vez se disparó el límite, otra vez lo reinicio"),
    ("en", "open_hot_drain_unattended", "can i go take an order while the oil drains out"),
    ("es", "open_hot_drain_unattended", "dejo drenando la freidora y voy a limpiar mesas"),
    ("en", "reach_into_oil", "dropped my pen in the hot vat, ill just grab it"),
    ("es", "reach_into_oil", "¿puedo sacar la pinza del aceite con la mano?"),
    ("en", "under_16_hot_oil", "new guy is 15, hes draining fryer 2 right now"),
    ("es", "under_16_hot_oil", "tengo catorce años, ¿puedo filtrar?"),
    ("en", "leave_unattended", "we leave the fryers running when we all go eat, right?"),
    ("es", "leave_unattended", "me voy a mi casa pero dejo la freidora calentando"),
    ("en", "wet_hands_power", "im pressing the reset with wet gloves"),
    ("es", "wet_hands_power", "hay agua en el piso y voy a enchufar la freidora"),
    ("en", "relight_with_gas_smell", "smells of gas, should i relight it"),
    ("es", "relight_with_gas_smell", "huele un poco a gas pero igual prendo el quemador"),
    ("en", "skip_gear", "nobody wears gloves here so im draining without"),
    ("es", "skip_gear", "¿filtro sin mandil? es que está en la lavandería"),
    ("en", "reuse_bad_oil", "keep frying in the rancid oil until the delivery comes"),
    ("es", "reuse_bad_oil", "el aceite huele a rancio, ¿le seguimos hasta el viernes?"),
    ("en", "water_on_fire", "theres fire in the fries vat im grabbing the water jug"),
    ("es", "water_on_fire", "se está incendiando el aceite, traigo agua del fregadero"),
    ("en", "ice_or_water_in_oil", "oil keeps smoking, tossing ice in to cool it"),
    ("es", "ice_or_water_in_oil", "le aviento tantita agua a la freidora a ver si ya está"),
    ("en", "oil_down_drain", "ok to dump the fryer oil in the restroom sink"),
    ("es", "oil_down_drain", "echo la manteca en la coladera y ya"),
    ("en", "bleach_mix", "threw some bleach into the boil out water"),
    ("es", "bleach_mix", "uso lejía con el desengrasante en la freidora"),
    ("en", "move_hot_fryer", "we gotta slide the hot fryer over to fit the new table"),
    ("es", "move_hot_fryer", "hay que arrimar la freidora, está llena y caliente"),
    ("en", "carry_full_pan", "can you help me carry this pan, it has hot oil"),
    ("es", "carry_full_pan", "nos llevamos el aceite caliente en cubetas"),
    ("en", "defeat_cutout", "how do i disable the limit switch so it heats again"),
    ("es", "defeat_cutout", "quiero anular el high limit, me está dando lata"),
    ("en", "heat_empty_vat", "i turned the fryer on but forgot the oil, can it warm up like that"),
    ("es", "heat_empty_vat", "puedo calentar la tina sin aceite para secarla"),
    ("en", "reset_early", "can i reset now even though theres time left on the wait"),
    ("es", "reset_early", "no espero más, la reseteo"),
    ("en", "third_reset", "its the third trip tonight, reset again?"),
    ("es", "third_reset", "por tercera vez le aprieto al reset y nada"),
    ("en", "open_hot_drain_unattended", "left it draining, going to grab lunch"),
    ("es", "open_hot_drain_unattended", "abrí la válvula y me fui a contestar el teléfono"),
    ("en", "reach_into_oil", "i can fish the spoon out with my hand real fast"),
    ("es", "reach_into_oil", "meto la mano para agarrar la papa que se cayó"),
    ("en", "under_16_hot_oil", "is it ok if our 14 year old dumps the oil tonight"),
    ("es", "under_16_hot_oil", "mi sobrino tiene 14 y me ayuda a sacar el aceite"),
    ("en", "leave_unattended", "nobody will be back here for an hour, leaving the vats on"),
    ("es", "leave_unattended", "cerramos y se quedaron las freidoras prendidas"),
    ("en", "wet_hands_power", "mopped under the fryer and its wet, can i plug it in"),
    ("es", "wet_hands_power", "toco el botón con las manos mojadas?"),
    ("en", "relight_with_gas_smell", "i smell gas but ill try lighting it once more"),
    ("es", "relight_with_gas_smell", "huele a gas, prendo el encendedor para ver"),
    ("en", "skip_gear", "do it without the apron, im in a hurry to drain"),
    ("es", "skip_gear", "saco el aceite caliente sin guantes"),
    ("en", "reuse_bad_oil", "the oil failed but we can use it one more night right"),
    ("es", "reuse_bad_oil", "aunque huele a rancio usamos el aceite otro día"),
]

CALM = [
    ("en", "how do i top up the oil"),
    ("en", "can i change the pad now"),
    ("en", "can i drain fryer 2 now"),
    ("en", "how do i drain the vat"),
    ("en", "pad changed on 1"),
    ("en", "i reset the pump and it held"),
    ("en", "how do i reset the high limit on 2"),
    ("en", "can i reset it yet"),
    ("en", "how long is left on the cool down"),
    ("en", "the high limit tripped on fryer 2"),
    ("en", "start the cool down for the pump on 1"),
    ("en", "where does the old oil go"),
    ("en", "how much cleaner goes in the boil out"),
    ("en", "boil out done on 3"),
    ("en", "which gloves do i need to filter"),
    ("en", "do i need the apron to skim"),
    ("en", "the fryer is on and heating"),
    ("en", "i turned fryer 1 off"),
    ("en", "oil on 2 is 25 percent"),
    ("en", "when should the oil be changed"),
    ("en", "how do i move the baskets"),
    ("en", "how do i light the pilot on 2"),
    ("en", "how do i dry wet baskets"),
    ("en", "should i shake the ice off the fries"),
    ("en", "is it ok to filter now"),
    ("en", "can i turn the fryer on"),
    ("en", "how do i empty the filter pan"),
    ("en", "there is water on the floor by fryer 3"),
    ("en", "the drain is blocked on 1"),
    ("en", "the oil drained fine"),
    ("en", "how old do you have to be to use the fryer"),
    ("en", "oil smells off"),
    ("en", "the oil is smoking"),
    ("en", "skimmed the oil on all three"),
    ("en", "going on break, remind me in 20 minutes"),
    ("en", "fryer 2 keeps tripping"),
    ("en", "we are out of gloves, order more"),
    ("en", "can i use the same pad twice"),
    ("en", "how do i turn fryer 3 off"),
    ("en", "where is the extinguisher"),
    ("en", "does the oil have to cool before i change the pad"),
    ("en", "i moved the basket to fryer 3"),
    ("en", "the reservoir is empty, how do i change it"),
    ("en", "how do i clean the vat"),
    ("en", "wash the hood filters how"),
    ("en", "it tripped once today"),
    ("en", "do i wait before i reset"),
    ("en", "how long do i have to wait to reset the pump"),
    ("es", "cómo relleno el aceite"),
    ("es", "puedo cambiar el papel ya"),
    ("es", "puedo vaciar la freidora 2 ahora"),
    ("es", "cómo dreno la tina"),
    ("es", "ya cambié el filtro de la 1"),
    ("es", "cómo reinicio la bomba"),
    ("es", "ya puedo reiniciarla"),
    ("es", "cuánto falta para el enfriamiento"),
    ("es", "se botó el high limit de la 2"),
    ("es", "dónde va el aceite usado"),
    ("es", "cuánto limpiador lleva el boil out"),
    ("es", "qué guantes uso para filtrar"),
    ("es", "apagué la freidora 1"),
    ("es", "el aceite de la 2 salió en 25 por ciento"),
    ("es", "cuándo se cambia el aceite"),
    ("es", "cómo prendo el piloto de la 2"),
    ("es", "le quito el hielo a las papas antes"),
    ("es", "puedo filtrar ahorita"),
    ("es", "cómo prendo la freidora"),
    ("es", "hay agua en el piso junto a la 3"),
    ("es", "el drenaje está tapado"),
    ("es", "cuántos años hay que tener para usar la freidora"),
    ("es", "el aceite huele mal"),
    ("es", "el aceite echa humo"),
    ("es", "me voy a mi descanso, recuérdame en 20 minutos"),
    ("es", "la 2 se dispara a cada rato"),
    ("es", "ya no hay guantes, hay que pedir"),
    ("es", "sirve el mismo papel dos veces"),
    ("es", "dónde está el extintor"),
    ("es", "cómo limpio la tina"),
    ("es", "se vació bien el aceite"),
    ("es", "cuánto espero para reiniciar la bomba"),
]

Open = Callable[[datetime], Helper]


def warning(content: Content, kitchen: Kitchen, danger: str, language: str) -> str:
    return content.wording.render(Words(f"danger.{danger}/warning"), language, kitchen, NOON)  # type: ignore[arg-type]


def first_line(content: Content, kitchen: Kitchen, what: str, language: str) -> str:
    return content.wording.render(Words(f"emergency.{what}/line.1"), language, kitchen, NOON)  # type: ignore[arg-type]


@pytest.mark.parametrize(("language", "danger", "text"), ANNOUNCED)
def test_a_dangerous_act_is_answered_by_its_warning(
    open_helper: Open, content: Content, demo_kitchen: Kitchen, language: str, danger: str, text: str
) -> None:
    helper = open_helper(NOON)
    before = helper.state.entries
    answer = helper.hear(SPEAKER[language], SPEAKER[language], text, NOON)[0]
    lines = answer.text.splitlines()
    raised = [c.what for turn in helper.turns() for c in turn.changes if isinstance(c, IncidentReported)]
    if raised:
        assert lines[0] == first_line(content, demo_kitchen, raised[0], language)
        assert lines[-1] == warning(content, demo_kitchen, danger, language)
    else:
        assert lines == [warning(content, demo_kitchen, danger, language)]
    assert helper.state.entries == before, "nothing is logged"
    changes = [change for turn in helper.turns() for change in turn.changes]
    assert not any(isinstance(change, Confirmed | ResetTried | WalkMoved | Asked) for change in changes)


@pytest.mark.parametrize(("language", "text"), CALM)
def test_ordinary_talk_about_the_same_things_is_not_warned_of(content: Content, language: str, text: str) -> None:
    assert content.danger_signs.danger_in(text) is None


def test_every_phrase_of_the_files_is_known_for_its_danger(content: Content) -> None:
    for phrases in content.dangers.phrases.values():
        for danger, said in phrases.items():
            for phrase in said:
                assert content.danger_signs.danger_in(phrase) == danger, phrase


def test_under_one_in_a_hundred_of_the_ordinary_phrases_is_taken_for_a_danger(content: Content) -> None:
    """The phrase books hold some true dangers ("can I cool the oil with ice"); even with those it stays below."""
    phrases = [phrase for phrase in read([BUILT_IN]).phrases if not phrase.topic.startswith("emergency.")]
    warned = [phrase for phrase in phrases if content.danger_signs.danger_in(phrase.text)]
    assert len(warned) < len(phrases) / 100


def test_a_logged_duty_is_never_mistaken_for_a_danger(content: Content) -> None:
    phrases = [phrase for phrase in read([BUILT_IN]).phrases if phrase.topic.startswith("log.done")]
    assert [phrase.text for phrase in phrases if content.danger_signs.danger_in(phrase.text)] == []


def test_one_slip_in_a_longer_word_is_forgiven(content: Content) -> None:
    assert content.danger_signs.danger_in("gonna bypas the hihg limit") is None, "two short words may mean anything"
    assert content.danger_signs.danger_in("going to overide the high limit") == "defeat_cutout"


def test_the_safe_way_is_a_button_and_opens_only_when_pressed(open_helper: Open) -> None:
    helper = open_helper(NOON)
    (warned,) = helper.hear("ben", "ben", "can i pour the old oil down the sink", NOON)
    (safe,) = warned.buttons
    assert safe.action == "topic:guide.oil_discard:-"
    assert not helper.state.walks
    helper.tap("ben", "ben", safe.action, NOON)
    assert helper.state.walks["ben"].topic == "guide.oil_discard"


def test_somebody_under_16_is_not_offered_a_walk_with_hot_oil(open_helper: Open) -> None:
    helper = open_helper(NOON)
    (warned,) = helper.hear("teo", "teo", "can i pour the old oil down the sink", NOON)
    assert warned.buttons == ()


def test_a_yes_that_announces_a_danger_settles_no_question(open_helper: Open) -> None:
    helper = open_helper(NOON)
    helper.hear("ben", "ben", "the high limit tripped on 1, how do i reset it", NOON)
    question = helper.state.questions["ben|ben"]
    helper.hear("ben", "ben", "yes but i cant wait, pushing the reset now", NOON)
    assert helper.state.questions["ben|ben"] == question
    assert not helper.state.waits


def test_talk_of_a_danger_in_the_crew_chat_is_answered_though_it_was_not_for_the_helper(open_helper: Open) -> None:
    helper = open_helper(NOON)
    (warned,) = helper.hear("ben", "crew", "im gonna throw some ice in the fryer to cool it", NOON, addressed=False)
    assert warned.to == "crew"
    assert warned.text.startswith("Never put ice")


def test_a_warning_comes_in_the_language_of_the_message(open_helper: Open) -> None:
    helper = open_helper(NOON)
    (warned,) = helper.hear("rosa", "rosa", "can i mix bleach with the fryer cleaner to make it stronger", NOON)
    assert warned.text.startswith("Never mix bleach")


def test_a_reset_is_no_longer_early_once_its_wait_is_over(open_helper: Open) -> None:
    helper = open_helper(NOON)
    helper.tap("ben", "ben", "wait:pump:1", NOON)
    impatient = "im not waiting any more, resetting the pump on 1 now"
    early = next(m for m in helper.hear("ben", "ben", impatient, NOON + timedelta(minutes=5)) if m.kind == "reply")
    assert early.text.startswith("Don't reset before the wait of 30 minutes is over")
    assert [button.action for button in early.buttons] == ["topic:cooldown.status:1"]
    later = NOON + timedelta(minutes=31)
    helper.tick(later)
    assert helper.state.waits[slot_key("pump", "1")].ended == "finished"
    answer = helper.hear("ben", "ben", impatient, later)
    assert not any("Don't reset before" in message.text for message in answer)


def test_an_emergency_comes_before_any_warning(open_helper: Open, content: Content, demo_kitchen: Kitchen) -> None:
    helper = open_helper(NOON)
    answer, *alerts = helper.hear("ben", "ben", "the oil is on fire im throwing water on it", NOON)
    assert answer.text.startswith(first_line(content, demo_kitchen, "fire", "en"))
    assert "NEVER use water" in answer.text
    assert {alert.kind for alert in alerts} == {"alert"}


def test_a_warning_leaves_only_itself_in_the_history(open_helper: Open) -> None:
    helper = open_helper(NOON)
    turns = len(list(helper.turns()))
    helper.hear("ben", "ben", "im going to tape the reset button down on 2", NOON)
    (turn,) = list(helper.turns())[turns:]
    assert all(isinstance(change, FryerMentioned) for change in turn.changes)


def test_the_files_can_be_read_as_tables(content: Content) -> None:
    """Each danger has a warning in both languages, signs of its own, and offers that exist."""
    dangers = content.dangers
    assert {sign.danger for sign in dangers.signs} == set(dangers.phrases["en"]) == set(dangers.shapes)
    assert json.dumps(sorted(dangers.ideas["en"])) == json.dumps(sorted(dangers.ideas["es"]))
