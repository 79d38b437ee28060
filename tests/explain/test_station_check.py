"""A station check against published worked values and common practice, and what it raises an eyebrow at."""

from __future__ import annotations

import dataclasses
import math
import re
from typing import Any

import pytest

from pipeline.explain.oddities import SLIPS, BeyondUsual, Odd, PlaceFromLocator, PointingError, PowerGreat
from pipeline.explain.plausibility import is_turned_away, oddities
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


def kinds(station: Station, band: str = "3cm", frequency_mhz: float = 10_368.0) -> list[Odd]:
    return [one.kind for one in oddities(station, band, frequency_mhz, mode_table())]


def test_a_sound_station_has_nothing_odd() -> None:
    assert kinds(station_with()) == []


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


@pytest.mark.parametrize("quantity", ["ground noise rise", "Sun noise rise", "Moon noise rise"])
def test_a_rise_is_one_figure_with_its_doubt(quantity: str) -> None:
    line = next(line for line in checked(station_with()).sections[1].lines if line.quantity == quantity)
    doubt = float(line.formula.split(" dB;")[0].removeprefix("± "))
    assert isinstance(line.value, float)
    assert 0.1 <= doubt < 1.5


def test_rises_of_practice() -> None:
    """Common practice, no source: 3 m at 10 GHz hear the Sun 14 to 19 dB over cold sky, warm ground 5 to 7 dB."""
    figures = checked(station_with()).figures
    assert 14.0 < figures["Sun noise rise"] < 19.0
    assert 5.0 < figures["ground noise rise"] < 7.0


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


@pytest.mark.parametrize("power_w", [7.0, 11.0, 23.0, 50.0, 61.0])
def test_exposure_is_never_printed_nearer_than_it_is(power_w: float) -> None:
    check = checked(station_with(power_w=power_w))
    assert check.exposure is not None
    far = check.exposure.general_public_peak_m, check.exposure.general_public_average_m
    lines = [line for line in station_check_text(check).splitlines() if "general public," in line]
    for line, true in zip(lines, far, strict=True):
        shown = float(re.findall(r"([\d.]+) m\b", line)[0])
        assert true <= shown < true + 0.1 + 1e-6
    row = check_table_text([check]).splitlines()[3]
    assert far[0] <= float(row.split()[-1]) < far[0] + 1.0


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
    ("changes", "kind"),
    [
        ({"antenna": Antenna(dish_diameter_m=3.0, aperture_efficiency=0.85)}, Odd.EFFICIENCY_HIGH),
        ({"antenna": Antenna(dish_diameter_m=3.0, aperture_efficiency=0.2)}, Odd.EFFICIENCY_LOW),
        ({"antenna": Antenna(gain_dbi=50.0, beamwidth_deg=2.0)}, Odd.GAIN_AGAINST_BEAMWIDTH),
        ({"antenna": Antenna(dish_diameter_m=7.0)}, Odd.BEAM_INSIDE_MOON),
        ({"antenna": Antenna(dish_diameter_m=0.12)}, Odd.DISH_SMALL),
        ({"noise_figure_db": 0.0}, Odd.RECEIVER_NOISELESS),
        ({"noise_figure_db": 0.3}, Odd.NOISE_FIGURE_LOW),
        ({"noise_figure_db": 6.0}, Odd.NOISE_FIGURE_HIGH),
        ({"loss_before_preamplifier_db": 2.0}, Odd.LOSS_AHEAD_HIGH),
        ({"spillover_fraction": 0.0}, Odd.SPILLOVER_NONE),
        ({"spillover_fraction": 0.4}, Odd.SPILLOVER_HIGH),
        ({"pointing_error_deg": 1.0}, Odd.POINTING_BEYOND_BEAM),
        ({"pointing_error_deg": 0.3}, Odd.POINTING_COSTS),
        ({"pointing_error_deg": 0.0}, Odd.POINTING_NEVER_ERRS),
        ({"frequency_accuracy_hz": 1000.0}, Odd.OUTSIDE_DECODER_SEARCH),
        ({"frequency_accuracy_hz": 5000.0}, Odd.OUTSIDE_PASSBAND),
        ({"polarization": "circular"}, Odd.CIRCULAR_AMONG_LINEAR),
        ({"modes": ("Q65", "RTTY")}, Odd.MODES_UNKNOWN),
        ({"ground_gain_db": 3.0}, Odd.GROUND_GAIN_UNUSED),
    ],
)
def test_oddities_of_the_equipment(changes: dict[str, Any], kind: Odd) -> None:
    assert kind in kinds(station_with(**changes))
    # Pointed out, not refused: the figures come all the same.
    assert math.isfinite(checked(station_with(**changes)).figures["own echo at mean distance"])


def test_an_oddity_carries_what_would_be_usual() -> None:
    """A fifth of a beamwidth costs 12 / 25 dB, under half a decibel; 0.5 dB at 10 GHz: common practice, no source."""
    assert oddities(station_with(noise_figure_db=0.3), "3cm", 10_368.0) == (
        BeyondUsual(Odd.NOISE_FIGURE_LOW, 0.3, 0.5),
    )
    (error,) = oddities(station_with(pointing_error_deg=0.3), "3cm", 10_368.0)
    assert isinstance(error, PointingError)
    assert (error.usual_deg, error.loss_db) == (
        pytest.approx(0.675 / 5.0, abs=0.001),
        pytest.approx(12.0 * (0.3 / 0.675) ** 2, abs=0.01),
    )


def test_great_power_is_pointed_out_at_24_ghz_and_not_at_432_mhz() -> None:
    great = station_with("1.25cm", power_w=1500.0, noise_figure_db=1.5)
    assert PowerGreat(1500.0, 24_048.0, 120.0) in oddities(great, "1.25cm", 24_048.0)
    array = Antenna(gain_dbi=22.0)
    assert Odd.POWER_GREAT not in kinds(station_with("70cm", power_w=1500.0, antenna=array), "70cm", 432.1)


def test_linear_is_odd_where_most_are_circular() -> None:
    assert Odd.LINEAR_AMONG_CIRCULAR in kinds(station_with("23cm", polarization="vertical"), "23cm", 1296.0)
    assert Odd.LINEAR_AMONG_CIRCULAR not in kinds(station_with(polarization="vertical"))


def test_accuracy_does_not_matter_to_one_who_listens_by_ear() -> None:
    assert kinds(station_with(frequency_accuracy_hz=1000.0, modes=("CW",))) == []


@pytest.mark.parametrize(
    ("place", "kind"),
    [
        ({"horizon": (HorizonPoint(azimuth_deg=40.0, elevation_deg=95.0 / 2),)}, Odd.SKYLINE_HIGH),
        ({"horizon": (HorizonPoint(azimuth_deg=40.0, elevation_deg=-6.0),)}, Odd.SKYLINE_DEEP),
        ({"minimum_elevation_deg": 40.0}, Odd.MINIMUM_ELEVATION_HIGH),
        ({"battery": Battery(voltage_v=12.0, capacity_ah=100.0, transmit_a=5.0)}, Odd.POWER_BEYOND_BATTERY),
    ],
)
def test_oddities_of_the_site(place: dict[str, Any], kind: Odd) -> None:
    assert kinds(station_with(place=place)) == [kind]


def test_a_place_by_its_locator_is_told_with_how_well_it_is_known() -> None:
    near = Position(latitude_deg=-34.5, longitude_deg=-55.8, height_m=212.0, locator="GF25cl", uncertainty_km=4.4)
    station = dataclasses.replace(station_with(), position=near)
    assert oddities(station, "3cm", 10_368.0) == (PlaceFromLocator(Odd.PLACE_FROM_LOCATOR, "GF25cl", 4.4),)


def test_a_skyline_is_odd_from_thirty_degrees_on() -> None:
    """A wood beside the dish reaches that; more is a town's canyon or azimuth and elevation changed about."""
    for elevation_deg, told in ((30.0, False), (30.1, True)):
        point = HorizonPoint(azimuth_deg=40.0, elevation_deg=elevation_deg)
        assert (Odd.SKYLINE_HIGH in kinds(station_with(place={"horizon": (point,)}))) == told
        minimum = station_with(place={"minimum_elevation_deg": elevation_deg})
        assert (Odd.MINIMUM_ELEVATION_HIGH in kinds(minimum)) == told
    for maximum_deg, told in ((29.9, True), (30.0, False)):
        mount = Mount(maximum_elevation_deg=maximum_deg)
        assert (Odd.MOUNT_LOW in kinds(station_with(place={"mount": mount}))) == told


def test_a_mount_that_hardly_turns_has_its_ends_swapped() -> None:
    """Told from under 90 degrees, by `check` and before planning; a mount without ends turns all round."""
    for first, last, told in ((160.0, 200.0, True), (340.0, 69.9, True), (340.0, 70.0, False), (200.0, 160.0, False)):
        mount = Mount(azimuth_from_deg=first, azimuth_to_deg=last)
        assert (Odd.MOUNT_NARROW in kinds(station_with(place={"mount": mount}))) == told
    assert Odd.MOUNT_NARROW not in kinds(station_with(place={"mount": Mount()}))
    # Beyond the tropics the Moon stands highest towards the equator, which a mount does not leave out.
    for first, last, latitude_deg, told in (
        (300.0, 60.0, 52.0, True), (60.0, 300.0, 52.0, False), (60.0, 300.0, -35.0, True), (300.0, 60.0, -35.0, False),
        (300.0, 60.0, 28.0, False), (209.0, 160.0, 52.0, False), (211.0, 149.0, 52.0, True), (0.0, 155.0, 52.0, False),
    ):  # fmt: skip
        assert is_turned_away(first, last, latitude_deg) == told, (first, last, latitude_deg)
    assert Odd.MOUNT_NARROW in SLIPS


def test_a_pointing_error_that_nobody_stated_is_nobodys_slip() -> None:
    stated = station_with(pointing_error_deg=0.3)
    assert Odd.POINTING_COSTS in kinds(stated)
    assert Odd.POINTING_COSTS not in kinds(dataclasses.replace(stated, assumed=("bands.3cm.pointing_error_deg",)))
