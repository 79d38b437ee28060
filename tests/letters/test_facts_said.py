"""What mails tell of sky, hours and equipment, in the seven languages of letters: made up, read as their reader would.

Only shown, each as the `answer` that writes it; where a sentence denies, asks or plans nothing is shown.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from pipeline.letters.arcs_said import arcs_in
from pipeline.letters.facts_said import facts_in, without_hours
from pipeline.record.model import AskedSky
from tests.plan.months import month_plan

SKY, HOURS, POWER, DISH, NOISE = (
    "sky=free",
    "hours=18:00-23:00",
    "power_w=120",
    "dish_diameter_m=1.8",
    "noise_figure_db=0.7",
)
TOLD = {
    "My sky is free. Noise figure 0.7 dB, power is 120 W now. I can be there from 18:00 to 23:00.": (
        f"{SKY} {HOURS} {NOISE} {POWER}"
    ),
    "My trees are about 9 degrees in the west.": "sky=9@225-315", "From 6 pm to 11 pm": HOURS,
    "I have a 1.8 m dish": DISH,
    "Der Himmel ist frei": SKY, "Rauschzahl 0,7 dB": NOISE, "Ich kann von 18 bis 23 Uhr.": HOURS,
    "120 W habe ich jetzt": POWER,
    "Im Westen stehen Bäume, 9 Grad": "", "Bäume im Nordwesten 9 Grad hoch": "sky=9@293-337", "Spiegel 1,8 m": DISH,
    "Le ciel est dégagé": SKY, "Facteur de bruit 0,7 dB": NOISE, "De 18h à 23h": HOURS, "J'ai 120 watts": POWER,
    "Des arbres de 9 degrés à l'ouest": "sky=9@225-315", "Parabole de 1,8 m": DISH,
    "El cielo está despejado": SKY, "Figura de ruido 0,7 dB": NOISE, "De 18 a 23 horas": HOURS, "Tengo 120 W": POWER,
    "Árboles de 9 grados al oeste": "sky=9@225-315", "Antena de 1,8 m": DISH,
    "Il cielo è libero": SKY, "Cifra di rumore 0,7 dB": NOISE, "Dalle 18 alle 23 ore": HOURS, "Ho 120 W": POWER,
    "Alberi a ovest di 9 gradi": "sky=9@225-315",
    "O céu está livre": SKY, "Figura de ruído 0,7 dB": NOISE, "Das 18h às 23h": HOURS,
    "Árvores de 9 graus a oeste": "sky=9@225-315",
    "空は開けています": SKY, "雑音指数は0.7 dBです": NOISE, "18時から23時まで": HOURS, "電力は120ワット": POWER,
    "西の木は9度です": "sky=9@225-315",
    # What is denied, asked, planned or no more than half said.
    "The sky is not free": "", "Is the sky free?": "", "I could use 120 W": "", "I will have 120 W": "",
    "120 W hatte ich": "", "Der Himmel ist nicht frei": "",
    "I will have 40 W or 120 W": "", "Saturday from 18:00 to 23:00": "", "18:00 to 23:00 UTC": "",
    "From 18 to 23": "", "9 degrees today": "", "Trees of 9 degrees in the west and in the north": "",
    # Hours of some days only.
    "Any weekday evening from 17:30 to 22:00 is fine": "", "I can be there on weekends from 8:00 to 20:00": "",
    "From 18:00 to 22:00, but not on Wednesdays": "", "On working days from 17:30 to 22:00": "",
    "From 18:00 to 22:00 during the week": "", "From 18:00 to 22:00, never on Sundays": "",
    "Posso só aos fins de semana das 08:00 às 20:00": "", "Am Wochenende von 18:00 bis 22:00 Uhr": "",
    "En semaine de 18:00 à 22:00": "", "Los fines de semana de 8:00 a 20:00 horas": "",
    "The weather is 9 degrees in the west": "", "pas avant, 120 W bientôt": "", "I would like a 1.8 m dish": "",
}  # fmt: skip


@pytest.mark.parametrize("text", TOLD)
def test_a_plain_sentence_is_a_line(text: str) -> None:
    station = month_plan().inputs.partners[0]
    band = next(iter(station.bands))
    station = replace(station, assumed=("horizon", "available", f"bands.{band}"), horizon=(), terrain=None)
    assert " ".join(facts_in([text], station, band, (), AskedSky(103.0, 112.0, 4.0))) == TOLD[text]


def test_directions_are_arcs_around_them() -> None:
    assert arcs_in("in the west") == ["225-315"]
    assert arcs_in("north") == ["315-45"]
    assert arcs_in("Nordwesten, Süden") == ["293-337", "135-225"]
    assert arcs_in("at best, the rest") == []


def test_hours_leave_a_word_that_no_answer_knows() -> None:
    assert without_hours(["Yes, 18:00 to 23:00"], ()) == ("Yes,  (hours) ",)
    assert without_hours(["18:00 to 23:00", "B 2 to 3"], ("18:00-23:00",)) == ("18:00 to 23:00", "B 2 to 3")
