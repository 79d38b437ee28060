"""What operators write, held against sources outside the project: units, angles, dates, zones."""

from __future__ import annotations

import datetime as dt
import re
from zoneinfo import ZoneInfo

import pandas as pd
import pytest
from astropy import units
from astropy.coordinates import Angle
from icalendar.timezone.windows_to_olson import WINDOWS_TO_OLSON

from pipeline.data.derive_calendar_words import KINDS, words_of
from pipeline.inputs import (
    angles_said,
    clocks_said,
    dates_said,
    days_said,
    keys_said,
    moments_said,
    numbers_said,
    scalars,
    zones_said,
)
from pipeline.inputs.model import Season, Station
from pipeline.inputs.operator_words import words_table
from pipeline.inputs.zone_of_place import zone_of
from tests.conftest import Outside

few_change = 0.02


def told(advice: str | None) -> float:
    """The number that an advice gives."""
    found = re.search(r"(?:write|alone:) (-?[\d.]*\d)", advice or "")
    assert found, advice
    return float(found[1])


# Each with the unit of the package astropy that it is; figures are told to three digits where they are worked out.
QUANTITIES = [
    ("power_w", "0.04 kW", 0.04 * units.kW, units.W),
    ("power_w", "40000 mW", 40000 * units.mW, units.W),
    ("power_w", "46 dBm", 46 * units.dB(units.mW), units.W),
    ("power_w", "16 dBW", 16 * units.dB(units.W), units.W),
    ("dish_diameter_m", "180 cm", 180 * units.cm, units.m),
    ("dish_diameter_m", "6 ft", 6 * units.imperial.ft, units.m),
    ("dish_diameter_m", "5'11\"", 71 * units.imperial.inch, units.m),
    ("dish_diameter_m", "72 in", 72 * units.imperial.inch, units.m),
    ("height_m", "0.2 km", 0.2 * units.km, units.m),
    ("frequency_accuracy_hz", "1,5 kHz", 1.5 * units.kHz, units.Hz),
    ("maximum_wind_m_s", "45 km/h", 45 * units.km / units.h, units.m / units.s),
    ("maximum_wind_m_s", "20 kn", 20 * units.imperial.kn, units.m / units.s),
    ("maximum_wind_m_s", "30 mph", 30 * units.imperial.mile / units.h, units.m / units.s),
    ("aperture_efficiency", "55 %", 55 * units.percent, units.one),
    ("gap_minutes", "0,5 h", 0.5 * units.h, units.min),
    ("pointing_error_deg", "12'", 12 * units.arcmin, units.deg),
    ("capacity_ah", "7200 mAh", 7200 * units.mA * units.h, units.A * units.h),
]


@pytest.mark.parametrize(("key", "text", "amount", "unit"), QUANTITIES)
def test_units_of_the_same_quantity(key: str, text: str, amount: units.Quantity, unit: units.Unit) -> None:
    given = told(numbers_said.advice(key, text, lambda value: True))
    assert given == pytest.approx(float(amount.to_value(unit)), rel=5e-3)


def test_a_noise_temperature_by_the_definition_of_the_noise_figure() -> None:
    """IEEE's reference of 290 K: a figure of 3 dB is 290 K, of 1 dB 75 K (handbook tables, from memory)."""
    for kelvin, figure_db in ((290, 3.01), (75, 1.0), (35, 0.5)):
        advice = numbers_said.advice("noise_figure_db", f"{kelvin} K", lambda value: value < 20)
        assert told(advice) == pytest.approx(figure_db, abs=0.02)


def test_a_number_that_would_be_wrong_is_never_repeated() -> None:
    """Whatever unit stands there, the number before it is given only where the unit is the key's own."""
    for text in ("0.04 kW", "40 hp", "0,04kW", "46 dBm", "0.04 KW RF", "40 mW", "1/25 kW"):
        advice = numbers_said.advice("power_w", text, lambda value: 0 < value <= 5000) or ""
        figure = re.match(r"[\d.,]+", text)
        assert figure is not None
        assert not re.search(rf"(?:write|alone:) {figure[0].replace(',', '.')}\b(?!\.\d)", advice), advice


@pytest.mark.parametrize(
    ("text", "reading"),
    [
        ("52°06'15\"N", "52d06m15s"),
        ("52 06 15", "52d06m15s"),
        ("N 52 06.25", "52d06.25m"),
        ("52:06:15", "52d06m15s"),
        ("34° 30' 4,4\" S", "-34d30m4.4s"),
        ("S34.5", "-34d30m"),
        ("34° 30′ Süd", "-34d30m"),
        ("55° 48,2' s. š. ", None),
    ],
)
def test_latitudes(text: str, reading: str | None) -> None:
    advice = angles_said.advice(angles_said.LATITUDE, text)
    assert (advice is None) if reading is None else told(advice) == pytest.approx(Angle(reading).deg, abs=1e-5)


@pytest.mark.parametrize(
    ("text", "sign"),
    [("5° W", -1), ("5 Ouest", -1), ("5 Oeste", -1), ("5 Ost", 1), ("5 Öst", 1), ("5 з", -1), ("5 西", -1), ("E5", 1)],
)
def test_longitudes_by_the_words_of_several_languages(text: str, sign: int) -> None:
    assert told(angles_said.advice(angles_said.LONGITUDE, text)) == 5 * sign


@pytest.mark.parametrize("letter", ["O", "V", "L"])
def test_a_letter_of_two_directions_is_asked_for(letter: str) -> None:
    advice = angles_said.advice(angles_said.LONGITUDE, f"5.5 {letter}") or ""
    assert f"{letter} is west in " in advice
    assert "write 5.5 for east, -5.5 for west" in advice


def test_dates_that_mean_one_day_are_those_of_another_reader() -> None:
    for text in (
        "20.3.2027",
        "20/03/2027",
        "03/20/2027",
        "March 20, 2027",
        "20 Mar 2027",
        "2027/03/20",
    ):
        day = pd.to_datetime(text, dayfirst="." in text or text.startswith("20/")).date()
        assert dates_said.dates_meant(text) == [day.isoformat()] == ["2027-03-20"]
    both = {pd.to_datetime("03/05/2027", dayfirst=first).date().isoformat() for first in (True, False)}
    assert set(dates_said.dates_meant("03/05/2027")) == both


@pytest.mark.parametrize("text", ["6pm", "6:00 PM", "18h", "18h00", "18.00", "1800", "18 Uhr", "18:00:00", "kl 18"])
def test_times_of_day(text: str) -> None:
    assert clocks_said.clock_meant(text) == "18:00"


def test_instants() -> None:
    advice = moments_said.instant_advice
    assert advice("13.3.2027 01:15 UTC") == "write 2027-03-13T01:15Z."
    assert advice("13 March 2027, 1.15") == "write 2027-03-13T01:15Z if the time is UTC."
    assert advice("03/04/2027 20:00") == "write 2027-04-03T20:00Z or 2027-03-04T20:00Z if the time is UTC."
    assert advice("20 Mar 2027") == "the time of day is missing; write for instance 2027-03-20T01:15Z."
    assert advice("yesterday") is None
    assert advice("14 March 2027, 9 pm MEZ") == "write 2027-03-14T20:00Z."


def test_names_of_another_system_are_those_of_the_public_table() -> None:
    """Unicode CLDR's windowsZones, as another package carries it."""
    ours = zones_said.another_systems()
    assert len(ours) > 130
    for name, zone in WINDOWS_TO_OLSON.items():
        meant = ours.get(name.casefold())
        assert meant is not None, name
        for moment in (dt.datetime(2027, 1, 15), dt.datetime(2027, 7, 15)):
            assert (
                moment.replace(tzinfo=ZoneInfo(meant)).utcoffset() == moment.replace(tzinfo=ZoneInfo(zone)).utcoffset()
            )


def test_abbreviations_name_zones_that_are_there() -> None:
    known = set(scalars.zone_names())
    for short, zones in zones_said.abbreviations().items():
        assert known.issuperset(zones), short
    assert zones_said.abbreviations()["JST"] == ("Asia/Tokyo",)
    assert {"Asia/Kolkata", "Europe/Dublin", "Asia/Jerusalem"} <= set(zones_said.abbreviations()["IST"])


@pytest.mark.parametrize(
    ("latitude_deg", "longitude_deg", "zone"),
    [
        (-34.50, -55.80, "America/Montevideo"),
        (52.10, 5.18, "Europe/Amsterdam"),
        (60.90, 23.40, "Europe/Helsinki"),
        (35.60, 139.70, "Asia/Tokyo"),
        (-37.80, 145.00, "Australia/Melbourne"),
        (40.70, -74.00, "America/New_York"),
    ],
)
def test_a_zone_by_its_place(latitude_deg: float, longitude_deg: float, zone: str) -> None:
    assert zone_of(latitude_deg, longitude_deg) == zone


def test_days_are_never_guessed_by_their_spelling() -> None:
    advice = days_said.day_advice
    assert [advice(word) for word in ("jue", "mié", "Do.", "pt", "пт")][:2] == [
        "did you mean 'thu'?",
        "did you mean 'wed'?",
    ]
    assert "different days" in str(advice("do"))
    assert advice("tursday") is None
    assert days_said.day_list("Fr–So") == ("fri", "sat", "sun")
    assert days_said.day_list("vie, sáb y dom") == ("fri", "sat", "sun")


def test_every_word_stands_for_a_key_of_the_contract() -> None:
    known = {*keys_said.places(Station), *keys_said.places(Season)}
    assert set(words_table()["keys"]) <= known
    for word, key in (("watts", "power_w"), ("alt", "height_m"), ("lat", "latitude_deg"), ("dish", "dish_diameter_m")):
        assert keys_said.keys_meant(word) == (key,)
    assert keys_said.keys_meant("Power (W)") == ("power_w",)
    assert keys_said.unit_in("Dish [cm]", "dish_diameter_m") == "cm"


@pytest.mark.parametrize("kind", KINDS)
def test_months_and_weekdays_are_called_as_in_cldr(kind: str, outside: Outside) -> None:
    """By the package babel; between its releases a few abbreviations come and go."""
    theirs, ours = words_of(kind), days_said.words(kind)
    assert ours["marz" if kind == "months" else "mittwoch"]
    differing = [word for word in theirs | ours if theirs.get(word) != ours.get(word)]
    assert len(differing) <= len(theirs) * few_change
    outside("Unicode CLDR", len(theirs), f"{len(differing)} words", kind)
