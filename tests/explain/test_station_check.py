"""A station check against published worked values and common practice, and what it raises an eyebrow at."""

from __future__ import annotations

import dataclasses
import math
import re
from typing import Any

import pytest

from pipeline.explain.plausibility import oddities
from pipeline.explain.station_check import StationCheck, check_station
from pipeline.inputs.model import Antenna, BandEquipment, Battery, HorizonPoint, Mount, Policy, Position, Station
from pipeline.inputs.modes import mode_table
from pipeline.reports.plain import check_table_text, station_check_text

EQUIPMENT = BandEquipment(
    antenna=Antenna(dish_diameter_m=3.0, aperture_efficiency=0.55),
    power_w=50.0,
    noise_figure_db=0.8,
    loss_before_preamplifier_db=0.1,
    spillover_fraction=0.05,
    polarization="rotatable",
    pointing_error_deg=0.1,
    frequency_accuracy_hz=2.0,
    modes=("Q65", "CW"),
)


def station_with(band: str = "3cm", place: dict[str, Any] | None = None, **equipment: Any) -> Station:
    """A sound 3 m station at 10 GHz, with some figures changed."""
    return Station(
        call="QM7TOR",
        position=Position(latitude_deg=-34.5, longitude_deg=-55.8, height_m=212.0),
        bands={band: dataclasses.replace(EQUIPMENT, **equipment)},
        **(place or {}),
    )


def checked(station: Station, band: str = "3cm", frequency_mhz: float = 10_368.0) -> StationCheck:
    return check_station(station, band, frequency_mhz, Policy(), 3, mode_table())


def odd(station: Station, band: str = "3cm", frequency_mhz: float = 10_368.0) -> str:
    return "\n".join(oddities(station, band, frequency_mhz, mode_table()))


def test_a_sound_station_has_nothing_odd() -> None:
    assert odd(station_with()) == ""


def test_gain_and_beamwidth_by_the_formulas_of_handbooks() -> None:
    """3 m at 10368 MHz, by hand: lambda = 28.915 mm, (pi D / lambda)^2 = 1.0624e5; 70 lambda / D = 0.675 degree."""
    figures = checked(station_with()).figures
    assert figures["gain"] == pytest.approx(10.0 * math.log10(0.55 * 1.0624e5), abs=0.01)
    assert figures["beamwidth"] == pytest.approx(0.675, abs=0.001)


def test_own_echo_added_up_by_hand() -> None:
    """The radio equation at 384,400 km. Path loss 289.25 dB is that of the handbooks' tables (albedo 0.065).

    Two gains of 47.66 dBi, 50 W = 16.99 dBW, two pointing losses of 12 (0.1 / 0.675)^2 = 0.26 dB, 0.1 dB ahead of the
    preamplifier, air about 0.06 dB each way (ITU-R P.676), narrow beams: half of 0.518 degree is lit,
    x = ln 2 x 0.259^2 x 2 / 0.675^2 = 0.204, 0.44 dB.
    """
    figures = checked(station_with()).figures
    with_moon = figures["cold sky, whole system"] * 10.0 ** (figures["Moon noise rise"] / 10.0)
    noise_dbw = 10.0 * math.log10(1.380649e-23 * with_moon * 2500.0)
    by_hand = 16.99 + 2 * 47.66 - 289.25 - 2 * 0.26 - 0.1 - 2 * 0.06 - 0.44 - noise_dbw
    assert figures["own echo at mean distance"] == pytest.approx(by_hand, abs=0.1)


def test_cold_sky_is_the_receiver_and_little_else() -> None:
    """290 (10^0.08 - 1) + 290 (1 - 10^-0.01) = 65.3 K (Friis); 5 % of warm ground, 2.7 K of sky and 3 to 8 K of air."""
    figures = checked(station_with()).figures
    assert figures["receiver"] == pytest.approx(65.3, abs=0.1)
    assert 65.3 + 14.2 + 2.5 + 3.0 < figures["cold sky, whole system"] < 65.3 + 14.2 + 2.8 + 8.0


def test_sun_rise_comes_with_its_uncertainty_and_falls_in_it() -> None:
    receiver_section = checked(station_with()).sections[1]
    line = next(line for line in receiver_section.lines if line.quantity == "Sun noise rise")
    low, high = (float(word) for word in line.formula.split(" dB;")[0].removeprefix("expect ").split(" to "))
    assert isinstance(line.value, float)
    assert low < line.value < high
    # Common practice, no source: 3 m at 10 GHz hear the Sun 14 to 19 dB over cold sky.
    assert 14.0 < line.value < 19.0


def test_moon_rise_by_the_share_of_the_beam() -> None:
    """Moon of 210 K (RATAN-600 fit at 2.9 cm) filling 1 - 2^-(0.518 / 0.675)^2 = 0.335 of a main beam of 0.73."""
    figures = checked(station_with()).figures
    moon_k = 0.73 * 0.335 * 207.0 * 10.0 ** (-0.01)
    cold = figures["cold sky, whole system"]
    assert figures["Moon noise rise"] == pytest.approx(10.0 * math.log10(1.0 + moon_k / cold), abs=0.1)


def test_noise_is_told_as_noise() -> None:
    """Sunrise and moonrise are other things: the head of each column says noise and stands above its figure."""
    check = checked(station_with())
    upper, lower, _, row = check_table_text([check]).splitlines()[:4]
    for body, quantity in (("Sun", "Sun noise rise"), ("Moon", "Moon noise rise")):
        end = upper.index(body) + len(body)
        assert lower[:end].endswith("noise")
        assert row[:end].endswith(f" {check.figures[quantity]:.1f}")
    for text in (check_table_text([check]), station_check_text(check)):
        assert not re.search(r"(Sun|Moon) ?rise", text, re.IGNORECASE)


def test_exposure_is_the_dish_s_own() -> None:
    """OET Bulletin 65 worked for 50 W in 3 m at 10368 MHz: 10 W/m2 is met at 121 m, in the transition."""
    check = checked(station_with())
    assert check.exposure is not None
    assert check.exposure.general_public_peak_m == pytest.approx(121.0, rel=0.005)
    assert check.exposure.general_public_average_m < check.exposure.general_public_peak_m
    assert check.figures["general public, peak"] == check.exposure.general_public_peak_m


def test_assumed_figures_are_those_of_the_band_and_the_site() -> None:
    station = station_with(place={"assumed": ("horizon", "bands.3cm.antenna.aperture_efficiency", "bands.23cm.modes")})
    check = checked(station)
    assert check.assumed == ("horizon", "bands.3cm.antenna.aperture_efficiency")
    gain = check.sections[0].lines[0]
    assert (gain.quantity, gain.assumed) == ("gain", True)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"antenna": Antenna(dish_diameter_m=3.0, aperture_efficiency=0.85)}, "more than dishes reach"),
        ({"antenna": Antenna(dish_diameter_m=3.0, aperture_efficiency=0.2)}, "aperture_efficiency 0.2 is low"),
        ({"antenna": Antenna(gain_dbi=50.0, beamwidth_deg=2.0)}, "cannot both be"),
        ({"antenna": Antenna(dish_diameter_m=7.0)}, "narrower than the Moon"),
        ({"antenna": Antenna(dish_diameter_m=0.12)}, "wavelengths is small"),
        ({"noise_figure_db": 0.0}, "a receiver without noise"),
        ({"noise_figure_db": 0.3}, "very low"),
        ({"noise_figure_db": 6.0}, "is a preamplifier at the feed meant"),
        ({"loss_before_preamplifier_db": 2.0}, "costs signal and adds noise"),
        ({"spillover_fraction": 0.0}, "sees no ground at all"),
        ({"spillover_fraction": 0.4}, "much warm ground"),
        ({"pointing_error_deg": 1.0}, "no less than the beamwidth"),
        ({"pointing_error_deg": 0.3}, "each way in a beam"),
        ({"pointing_error_deg": 0.0}, "never errs"),
        ({"frequency_accuracy_hz": 1000.0}, "wider than decoders usually search"),
        ({"frequency_accuracy_hz": 5000.0}, "outside the receiver's passband"),
        ({"polarization": "circular"}, "loses 3 dB with linear stations"),
        ({"modes": ("Q65", "RTTY")}, "RTTY has no line in the mode table"),
        ({"ground_gain_db": 3.0}, "is not used on this band"),
    ],
)
def test_oddities_of_the_equipment(changes: dict[str, Any], words: str) -> None:
    found = oddities(station_with(**changes), "3cm", 10_368.0, mode_table())
    assert [text for text in found if words in text], found
    # Pointed out, not refused: the figures come all the same.
    assert math.isfinite(checked(station_with(**changes)).figures["own echo at mean distance"])


def test_great_power_is_pointed_out_at_24_ghz_and_not_at_432_mhz() -> None:
    assert "power_w 1500 is a great deal at 24,048 MHz" in odd(
        station_with("1.25cm", power_w=1500.0, noise_figure_db=1.5), "1.25cm", 24_048.0
    )
    array = Antenna(gain_dbi=22.0)
    assert "power_w" not in odd(station_with("70cm", power_w=1500.0, antenna=array), "70cm", 432.1)


def test_accuracy_does_not_matter_to_one_who_listens_by_ear() -> None:
    assert odd(station_with(frequency_accuracy_hz=1000.0, modes=("CW",))) == ""


@pytest.mark.parametrize(
    ("place", "words"),
    [
        ({"horizon": (HorizonPoint(azimuth_deg=40.0, elevation_deg=95.0 / 2),)}, "47.5 at azimuth 40"),
        ({"horizon": (HorizonPoint(azimuth_deg=40.0, elevation_deg=-6.0),)}, "steep mountain"),
        ({"minimum_elevation_deg": 40.0}, "gives away most"),
        ({"battery": Battery(voltage_v=12.0, capacity_ah=100.0, transmit_a=5.0)}, "efficiency of 83 %"),
    ],
)
def test_oddities_of_the_site(place: dict[str, Any], words: str) -> None:
    assert words in odd(station_with(place=place))


def test_a_skyline_is_odd_from_thirty_degrees_on() -> None:
    """A wood beside the dish reaches that; more is a town's canyon or azimuth and elevation changed about."""
    for elevation_deg, told in ((30.0, False), (30.1, True)):
        point = HorizonPoint(azimuth_deg=40.0, elevation_deg=elevation_deg)
        assert ("in their places" in odd(station_with(place={"horizon": (point,)}))) == told
        assert ("gives away most" in odd(station_with(place={"minimum_elevation_deg": elevation_deg}))) == told
    for maximum_deg, told in ((29.9, True), (30.0, False)):
        mount = Mount(maximum_elevation_deg=maximum_deg)
        assert ("only looks low" in odd(station_with(place={"mount": mount}))) == told
