"""The open sky under the pattern, the aim that hears best, the skyline's cost: worked values and brute force."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from pipeline.link.antenna import dish_beam, gain_beam, obstruction_loss_db
from pipeline.link.noise import Met, Receiver, system_temperature
from pipeline.pairs.listening_aim import WORTH_DB, listening_lift
from pipeline.pairs.pattern_met import Antenna, cold_sky, pattern_met, shares_of, whole_beam_sky_k, zenith_shares
from pipeline.radio_sky.sky_brightness import mean_sky_k
from tests.plan.months import one_station

two_percent = 0.02
FLAT = ((0.0,), (0.0,))


def array_of_2_m(skyline: tuple[tuple[float, ...], tuple[float, ...]] = FLAT) -> Antenna:
    return Antenna(Receiver(gain_beam(19.0, 144.1, 17.0), 1.0, 0.0, 0.1), 144.1, 0.0, *skyline)


def moon(azimuth_deg: float, elevation_deg: float, right_ascension_deg: float, declination_deg: float) -> Any:
    """What one end sees, as far as the sky under its pattern asks."""
    one = (np.array([angle]) for angle in (azimuth_deg, elevation_deg, right_ascension_deg, declination_deg))
    azimuth, elevation, right_ascension, declination = one
    return SimpleNamespace(
        moon=SimpleNamespace(azimuth_deg=azimuth, elevation_deg=elevation),
        apparent_elevation_deg=elevation,
        right_ascension_deg=right_ascension,
        declination_deg=declination,
    )


@pytest.mark.parametrize(
    ("latitude_deg", "seen", "main_k", "rest_k"),
    [
        (48.14583, moon(153.910, 60.8835, 129.107, 21.138), 206.0, 320.0),
        (41.7292, moon(69.0285, 7.8906, 129.733, 20.943), 207.0, 366.0),
    ],
)
def test_galaxy_on_2_m(latitude_deg: float, seen: Any, main_k: float, rest_k: float) -> None:
    """An array of 19 dBi on 2026-01-05 00h UTC, integrated apart from this code; the whole beam's mean is 203 K."""
    station = one_station("QA1HOM", latitude_deg, 0.0, 0.0)
    met = pattern_met(station, array_of_2_m(), np.array(["standard"], dtype=object), seen)
    assert met.sky_k[0] == pytest.approx(main_k, rel=two_percent)
    assert met.rest_k[0] == pytest.approx(rest_k, rel=two_percent)


def test_a_hill_hides_its_part_of_the_sky() -> None:
    """Behind a wall all round there is no open sky left below its height: what counts stands above it."""
    station, seen = one_station("QA1HOM", 41.7292, 0.0, 0.0), moon(69.0285, 7.8906, 123.35, 21.88)
    air = np.array(["standard"], dtype=object)
    flat, walled = (pattern_met(station, array_of_2_m(sky), air, seen) for sky in (FLAT, ((0.0,), (12.0,))))
    assert walled.sky_k[0] != pytest.approx(flat.sky_k[0], rel=1e-3)
    assert walled.shares.main_open[0] < 0.5 * flat.shares.main_open[0]
    assert walled.flat_shares.ground[0] == flat.shares.ground[0]


def test_above_1_ghz_the_rest_sees_the_whole_sky_s_mean() -> None:
    antenna = Antenna(Receiver(dish_beam(3.0, 0.55, 1296.0), 0.4, 0.0, 0.08), 1296.0, 0.0, *FLAT)
    station, seen = one_station("QA1HOM", 41.7292, 0.0, 0.0), moon(69.0, 7.9, 123.35, 21.88)
    met = pattern_met(station, antenna, np.array(["standard"], dtype=object), seen)
    assert met.rest_k[0] == mean_sky_k(1296.0)
    assert met.sky_k[0] == whole_beam_sky_k(antenna, seen)[0]


def test_zenith_is_flat_whatever_the_skyline() -> None:
    hills = Antenna(Receiver(dish_beam(1.5, 0.6, 10368.0), 0.8, 0.0, 0.06), 10368.0, 0.0, (0.0, 90.0), (20.0, 3.0))
    found = zenith_shares(hills, np.array(["standard", "low", "standard"], dtype=object))
    assert found.ground == pytest.approx(0.06, abs=1e-3)
    assert found.air[0] == found.air[2] != found.air[1]


def test_each_sample_has_its_own_air() -> None:
    antenna = Antenna(Receiver(dish_beam(1.5, 0.6, 24048.0), 1.5, 0.0, 0.06), 24048.0, 0.0, *FLAT)
    aims = (np.full(2, 100.0), np.full(2, 15.0))
    mixed = shares_of(antenna, np.array(["low", "high winter"], dtype=object), *aims)
    for row, name in enumerate(("low", "high winter")):
        assert mixed.air[row] == shares_of(antenna, name, *aims).air[row]
    assert mixed.air[0] > 2.0 * mixed.air[1]


@pytest.mark.parametrize(
    ("beam", "frequency_mhz", "noise_figure_db", "low_db", "high_db"),
    [
        (dish_beam(1.2, 0.55, 1296.0), 1296.0, 0.5, WORTH_DB, 0.6),
        (dish_beam(1.5, 0.60, 10368.0), 10368.0, 0.8, 0.0, 0.12),
        (dish_beam(1.2, 0.55, 24048.0), 24048.0, 1.5, 0.0, 0.02),
        (gain_beam(13.0, 144.1), 144.1, 1.0, 0.0, 0.1),
    ],
)
def test_the_aim_that_hears_best(
    beam: Any, frequency_mhz: float, noise_figure_db: float, low_db: float, high_db: float
) -> None:
    """About 0.46 dB at most for a small dish on 23 cm, 0.1 on 3 cm, nothing on 24 GHz and 2 m; scipy finds the same."""
    antenna = Antenna(Receiver(beam, noise_figure_db, 0.0, 0.08), frequency_mhz, 0.0, *FLAT)
    elevation = np.linspace(0.5, 15.0, 30)
    lift, gain = listening_lift(antenna, "standard", np.full(30, 100.0), elevation)
    assert low_db <= gain.max() <= high_db
    best = int(np.argmax(gain))

    def cost_db(up_deg: float) -> float:
        met = cold_sky(antenna, "standard", 100.0, elevation[best] + up_deg)
        on_moon = Met(met.shares, met.sky_k, met.rest_k, moon_k=225.0, moon_disc_deg=0.518)
        noise_db = 10.0 * np.log10(system_temperature(antenna.receiver, on_moon).total_k[0])
        return float(12.0 * (up_deg / beam.beamwidth_deg) ** 2 + noise_db)

    found = minimize_scalar(cost_db, bounds=(0.0, 0.6 * beam.beamwidth_deg), method="bounded")
    assert gain[best] == pytest.approx(cost_db(0.0) - float(found.fun), abs=0.02)
    assert lift[best] == pytest.approx(found.x, abs=0.05 * beam.beamwidth_deg)


def test_half_the_disc_behind_a_hill_costs_six_decibels_by_the_formula() -> None:
    """-20 log10 Phi(0); a sharp far edge would cost 3 dB: so "3 to 6 dB" is what may be said."""
    assert obstruction_loss_db(0.0, 1.1) == pytest.approx(6.02, abs=0.01)
