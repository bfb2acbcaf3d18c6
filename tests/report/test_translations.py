"""Every translation keeps the places of its sentence, and is one."""

from __future__ import annotations

import re
import string

import pytest

from fanwright.report.say import Reader, say
from fanwright.report.translating import translations
from fanwright.words import Message, chance, fault, outcome, phrase, quantity, verdict
from fanwright.words import test_name as named

PLACES = re.compile(r"{\w*}")
LANGUAGES = ("es", "fr")


@pytest.mark.parametrize("language", LANGUAGES)
def test_places_are_kept(language: str) -> None:
    found = translations(language)
    assert len(found) > 800
    for english, said in found.items():
        assert sorted(PLACES.findall(english)) == sorted(PLACES.findall(said)), english
        if PLACES.search(english):
            list(string.Formatter().parse(said))


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_sentence_was_left_in_english(language: str) -> None:
    same = [english for english, said in translations(language).items() if english == said]
    assert [one for one in same if len(one.split()) > 4] == []


@pytest.mark.parametrize(
    ("language", "expected"),
    [
        (
            "es",
            "Segundos de 90 a 0 psi en el embrague: más del 99 %, no circular, débil o lento, Bobina abierta",
        ),
        (
            "fr",
            "Secondes de 90 à 0 psi à l'embrayage: plus de 99 %, "
            "ne pas rouler, faible ou lent, Bobine coupée",
        ),
    ],
)
def test_names_in_a_sentence_are_translated(language: str, expected: str) -> None:
    message = Message(
        "{test}: {chance}, {verdict}, {outcome}, {fault}",
        {
            "test": named("vent_time"),
            "chance": chance(0.999),
            "verdict": verdict("stand_down"),
            "outcome": outcome("exhaust_puff", "weak_or_slow"),
            "fault": fault("coil_open"),
        },
    )
    assert say(message, Reader(language=language)) == expected


def test_a_quantity_keeps_its_unit() -> None:
    message = Message(
        "{value}: it only informs; {reason}",
        {"value": quantity(813581.36, "pressure"), "reason": phrase("x")},
    )
    assert say(message, Reader(language="es")) == "118 psi: solo informa; x"
