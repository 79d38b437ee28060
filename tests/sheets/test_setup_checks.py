"""Noise checks, own echo, energy and safety against worked examples and plain arithmetic."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
import re
import types

import numpy as np
import pytest

from pipeline.inputs.model import Antenna
from pipeline.link.antenna import Beam, dish_beam, gain_beam
from pipeline.link.noise import Receiver, system_temperature
from pipeline.link.sun_noise import disc_mean_table, sun_antenna_temperature_k, sun_rise_db
from pipeline.sheets.cautions import sector_words
from pipeline.sheets.echo_finding import averaging_minutes, find_echo
from pipeline.sheets.energy import night_energy
from pipeline.sheets.noise_check import SHORTFALLS_DB, moon_check, off_axis_deg, sun_check
from pipeline.sheets.safety import LOW_DEG, distances, low_sectors, lower_edge_m
from tests.link.sun_examples import BY_HAND
from tests.link.what_is_met import high_up
from tests.plan.months import one_station

two_hundredths_db = 0.02


def receiver_of_system(beam: Beam, system_k: float) -> Receiver:
    """A receiver without spill-over whose noise figure fills the system up to that temperature on 3 K of sky."""
    bare = Receiver(beam, 0.0)
    rest = float(system_temperature(bare, high_up(bare)).total_k)
    return dataclasses.replace(bare, noise_figure_db=10.0 * math.log10(1.0 + (system_k - rest) / 290.0))


@pytest.mark.parametrize(
    ("diameter_m", "efficiency", "frequency_mhz", "flux_sfu", "system_k", "rise_db"),
    BY_HAND,
)
def test_sun_against_worked_examples(
    diameter_m: float, efficiency: float, frequency_mhz: float, flux_sfu: float, system_k: float, rise_db: float
) -> None:
    """dT = S G lambda^2 / (8 pi k L), L = x / (1 - e^-x), x = ln 2 (0.533 / HPBW)^2 (ITU-R S.733 form), by hand."""
    receiver = receiver_of_system(dish_beam(diameter_m, efficiency, frequency_mhz), system_k)
    found = sun_check(receiver, frequency_mhz, flux_sfu, 0.10, high_up(receiver), 0.0)
    assert found.rise_db == pytest.approx(rise_db, abs=two_hundredths_db)
    assert 0.3 < found.doubt_db < 1.0


def test_a_low_sun_rises_less() -> None:
    receiver = receiver_of_system(dish_beam(1.8, 0.55, 10368), 120.0)
    high = sun_check(receiver, 10368, 300, 0.10, high_up(receiver, 3.0, 0.05), 0.05)
    low = sun_check(receiver, 10368, 300, 0.10, high_up(receiver, 3.0, 0.9), 0.9)
    assert low.rise_db < high.rise_db - 1.0


@pytest.mark.parametrize("beam", [dish_beam(1.8, 0.55, 10368), dish_beam(6.0, 0.6, 10368), gain_beam(18.0, 144.1)])
@pytest.mark.parametrize("off_deg", [0.1, 0.3, 0.7])
def test_off_pointing_is_the_inverse_of_the_rise(beam: Beam, off_deg: float) -> None:
    """Turn the dish away by a share of its beam, take the rise there, and find the angle again."""
    separation = off_deg * beam.beamwidth_deg
    frequency = 144.1 if beam.array else 10368.0
    nodes_deg, mean_db = disc_mean_table(beam, 0.533)
    centred = sun_antenna_temperature_k(300.0, frequency, beam, 0.0)
    rise = float(sun_rise_db(110.0, centred))
    turned = centred * 10.0 ** ((np.interp(separation, nodes_deg, mean_db) - mean_db[0]) / 10.0)
    short = rise - float(sun_rise_db(110.0, turned))
    assert off_axis_deg(rise, short, beam, 0.533) == pytest.approx(separation, rel=1e-3)


def test_off_pointing_of_a_strong_point_source_by_hand() -> None:
    """A high rise loses what the Gaussian beam loses: 12 (t / HPBW)^2 = 3 dB at half a beamwidth."""
    beam = dish_beam(1.8, 0.55, 10368)
    assert off_axis_deg(40.0, 3.0, beam, 1e-3) == pytest.approx(beam.beamwidth_deg / 2, rel=5e-3)


def test_a_rise_cannot_fall_short_by_more_than_itself() -> None:
    beam = dish_beam(1.8, 0.55, 10368)
    assert off_axis_deg(0.8, 1.0, beam, 0.52) is None
    assert off_axis_deg(0.8, 0.8, beam, 0.52) is None
    assert off_axis_deg(-0.1, 0.5, beam, 0.52) is None


def test_moon_by_hand() -> None:
    """1.8 m at 10.368 GHz, 220 K, 0.518 degree: 30.1 K times the main beam (worked by hand) on 120 K: about 0.7 dB."""
    receiver = receiver_of_system(dish_beam(1.8, 0.55, 10368), 120.0)
    found = moon_check(receiver, 220.0, 0.518, high_up(receiver))
    # Main beam 1.133 HPBW^2 G / 4 pi = 0.731 by hand; the Moon hides 3 K of sky in its part.
    by_hand = 10.0 * math.log10(1.0 + 0.731 * 0.137 * (220.0 - 3.0) / 120.0)
    assert found.rise_db == pytest.approx(by_hand, abs=two_hundredths_db)
    assert found.is_measurable
    assert found.off_axis_deg[SHORTFALLS_DB.index(3.0)] is None


def test_moon_is_lost_in_a_wide_beam() -> None:
    receiver = receiver_of_system(gain_beam(18.0, 144.1), 400.0)
    assert not moon_check(receiver, 225.0, 0.518, high_up(receiver, 200.0)).is_measurable


def test_averaging_time_by_hand() -> None:
    """-27.3 dB in 2500 Hz is x = 0.0582 in 80 Hz; 25 / (x^2 80) = 92 s of listening, half of 185 s of bursts."""
    assert averaging_minutes(-27.3, 80.0) == pytest.approx(185 / 60, rel=0.01)


@pytest.mark.parametrize(("echo_db", "means"), [(-12.0, "by ear"), (-20.0, "averaged"), (-35.0, "not")])
def test_means_of_finding_an_echo(echo_db: float, means: str) -> None:
    """CW needs -15 dB (common practice, no source) and 5 log10(1 + 80 / 50) = 2.1 dB for 80 Hz of spread."""
    found = find_echo(echo_db, 80.0, -15.0, 50.0)
    assert found.means == means
    assert found.ear_limit_db == pytest.approx(-12.9, abs=0.05) or echo_db == -12.0


def test_energy_by_hand() -> None:
    """6.5 hours, 3 of them slots: 2 x 6.5 + 4 x (6.5 - 1.5) + 22 x 1.5 = 66 Ah; 160 Ah x 0.8 = 128 Ah usable."""
    found = night_energy(160.0, 0.8, receive_a=4.0, transmit_a=22.0, other_a=2.0, stay_h=6.5, slots_h=3.0)
    assert found.needed_ah == pytest.approx(66.0)
    assert found.usable_ah == pytest.approx(128.0)
    assert found.verdict == "enough"


@pytest.mark.parametrize(("capacity_ah", "verdict"), [(160.0, "enough"), (100.0, "tight"), (80.0, "not enough")])
def test_energy_verdicts(capacity_ah: float, verdict: str) -> None:
    assert night_energy(capacity_ah, 0.8, 4.0, 22.0, 2.0, 6.5, 3.0).verdict == verdict


@pytest.mark.parametrize(
    ("power_w", "diameter_m", "efficiency", "public_m"),
    # FCC OET Bulletin 65 and 10 W/m2, worked by hand.
    [(100.0, 2.4, 0.60, 180.2), (50.0, 1.8, 0.55, 91.5), (50.0, 3.0, 0.55, 121.0)],
)
def test_distances_of_a_station(power_w: float, diameter_m: float, efficiency: float, public_m: float) -> None:
    antenna = Antenna(dish_diameter_m=diameter_m, aperture_efficiency=efficiency)
    one = one_station("QA1AA", 0.0, 0.0, 0.0, power_w=power_w, antenna=antenna)
    found = distances(one, "3cm", 10_368.0)
    assert found.general_public_peak_m == pytest.approx(public_m, rel=5e-3)
    assert found.general_public_average_m < found.general_public_peak_m
    assert found.occupational_peak_m < found.general_public_peak_m


def test_low_beam_in_the_slots_only() -> None:
    """A Moon that rises from 4 degrees by 0.2 a minute while it crosses north; ten degrees at minute 30."""
    minute = np.arange(60)
    azimuth, elevation = (359.0 + 0.1 * minute) % 360.0, 4.0 + 0.2 * minute
    sectors = low_sectors(azimuth, elevation, [(5, 20), (25, 50), (55, 59)], 1.0)
    assert [(one.first, one.last) for one in sectors] == [(5, 20), (25, 30)]
    assert sectors[0].azimuth_from_deg == pytest.approx(359.0)
    assert sectors[0].azimuth_to_deg == pytest.approx(1.5)
    assert sectors[0].lowest_deg == pytest.approx(5.0)


def test_lower_edge_by_hand() -> None:
    """100 m out at 6 degrees the axis is 10.45 m up; a beam of 1 degree reaches 1.75 m below it, a 4 m dish 2 m."""
    assert lower_edge_m(6.0, 100.0, 1.0, 1.8) == pytest.approx(10.45 - 1.75, abs=0.01)
    assert lower_edge_m(6.0, 100.0, 1.0, 4.0) == pytest.approx(10.45 - 2.0, abs=0.01)
    assert lower_edge_m(0.5, 100.0, 1.0, 1.8) < 0.0


def test_printed_sectors_hold_every_low_minute() -> None:
    """Of Moons at random: bearings outward, the lowest elevation never told higher, heights at the printed distance."""
    rng = np.random.default_rng(11)
    start = dt.datetime(2027, 3, 13, 18, 0, tzinfo=dt.UTC)
    evening = types.SimpleNamespace(instant=lambda index: start + dt.timedelta(minutes=int(index)))
    for _ in range(60):
        minute = np.arange(90)
        azimuth = (rng.uniform(0, 360) + rng.uniform(0.1, 0.3) * minute) % 360.0
        elevation = rng.uniform(1.0, 9.0) + rng.uniform(0.0, 0.2) * minute
        sectors = low_sectors(azimuth, elevation, [(10, 80)], 1.2)
        low = np.flatnonzero(elevation[10:81] < LOW_DEG) + 10
        far = float(rng.uniform(20, 200))
        words = sector_words(sectors, evening, far, 1.2, 1.8, dt.UTC, start.date())  # type: ignore[arg-type]
        if not low.size:
            assert not sectors
            continue
        first, last = (float(one) for one in re.findall(r"towards (\d+)° to (\d+)°", words)[0])
        for at in (azimuth[low[0]], azimuth[low[-1]]):
            assert (at - first) % 360.0 <= (last - first) % 360.0
        begin, end = re.findall(r"\((\d\d:\d\d) to (\d\d:\d\d) UTC\)", words)[0]
        assert begin <= f"{evening.instant(low[0]):%H:%M}"
        assert end >= f"{evening.instant(low[-1]):%H:%M}"
        shown = float(re.findall(r"; at (\d+\.\d)°", words)[0])
        assert elevation[low].min() - 0.1 - 1e-9 < shown <= elevation[low].min() + 1e-9
        distance = float(re.findall(r"(?:at|within) (\d+) m", words)[0])
        assert far <= distance < far + 1.0 + 1e-6
        edge = re.findall(r"passes (\d+) m over", words)
        if edge:
            assert float(edge[0]) <= distance * math.sin(math.radians(shown)) - 0.9
