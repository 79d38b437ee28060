"""Rises over cold sky: ground by plain kelvins, doubts by their parts."""

from __future__ import annotations

import dataclasses
import math

import pytest

from pipeline.link.antenna import dish_beam, gain_beam
from pipeline.link.noise import Receiver, system_temperature
from pipeline.pairs.noise_rises import ground_aim, ground_rise, moon_rise, sun_rise
from pipeline.pairs.pattern_met import Antenna, cold_sky
from tests.link.what_is_met import high_up

tenth_db = 0.1
BEAM = dish_beam(1.8, 0.55, 10368)
RECEIVER = Receiver(BEAM, 0.8, 0.1, 0.05)
FLAT = Antenna(RECEIVER, 10368.0, 0.0, (0.0,), (0.0,))
HILL = dataclasses.replace(FLAT, azimuth_deg=(0.0, 95.0, 190.0), skyline_deg=(1.0, 9.0, 1.0))


def test_ground_by_plain_kelvins() -> None:
    """Receiver 65 K (Friis). Main beam 0.73, half of the side lobes and the spill-over on 290 K; cold sky 86 K.

    By hand: 65 + 0.977 x (0.73 x 290 + 0.22 / 2 x 290 + 0.05 x 290 + 8 K of sky and air) = 331 K: 5.9 dB.
    """
    found = ground_rise(FLAT, "standard")
    cold_k = system_temperature(RECEIVER, cold_sky(FLAT, "standard", 0.0, 90.0)).total_k.item()
    assert found.rise_db == pytest.approx(10.0 * math.log10(331.0 / cold_k), abs=tenth_db)


def test_ground_needs_no_aim() -> None:
    """Under a hill or under flat ground: the same within the doubt."""
    hill, flat = ground_rise(HILL, "standard"), ground_rise(FLAT, "standard")
    assert hill.rise_db == pytest.approx(flat.rise_db, abs=hill.doubt_db)


def test_doubt_of_the_ground_by_its_parts() -> None:
    """By hand on 330 K over 86 K: 0.2 dB of noise figure is 16.4 K on both, 0.54 dB; 10 K of ground 0.11 dB.

    A third of 15 K of ground behind the cold sky is 0.21 dB, of 4 K of air 0.06 dB.
    """
    assert ground_rise(FLAT, "standard").doubt_db == pytest.approx(math.hypot(0.54, 0.11, 0.21, 0.06), abs=0.02)


def test_the_highest_of_the_skyline_is_aimed_under() -> None:
    """Two beamwidths of 1.12 degrees below 9."""
    aim = ground_aim(HILL)
    assert (aim.azimuth_deg, aim.elevation_deg) == (95.0, pytest.approx(9.0 - 2 * 1.12, abs=0.02))
    assert ground_aim(FLAT).elevation_deg < -2.0
    # A beam of a third of a degree: two degrees, for the hill's edge is not surveyed better.
    narrow = dataclasses.replace(HILL, receiver=dataclasses.replace(RECEIVER, beam=dish_beam(6.0, 0.55, 10368)))
    assert ground_aim(narrow).elevation_deg == pytest.approx(7.0)


def test_ground_tells_the_receiver() -> None:
    """A preamplifier worse by 1 dB reads outside the doubt."""
    worse = dataclasses.replace(FLAT, receiver=dataclasses.replace(RECEIVER, noise_figure_db=1.8))
    good, bad = ground_rise(FLAT, "standard"), ground_rise(worse, "standard")
    assert good.rise_db - bad.rise_db > good.doubt_db


def test_an_array_on_a_hot_sky_shows_little() -> None:
    """At 144 MHz the sky is as warm as much of the ground (common practice, no source)."""
    low = Antenna(Receiver(gain_beam(18.0, 144.1), 0.5), 144.1, 0.0, (0.0,), (0.0,))
    assert ground_rise(low, "standard").rise_db < 3.0


def test_doubt_of_the_sun_by_its_parts() -> None:
    """Table 12 % = 0.49 dB, flux 17 % = 0.68 dB, station 0.5 dB, a third of 0.5 dB of air: 0.99 dB at a high rise."""
    receiver = Receiver(dish_beam(6.0, 0.6, 10368), 0.5)
    met = high_up(receiver)
    found = sun_rise(receiver, 10368, 320.0, 0.17, met, 0.5)
    assert found.doubt_db == pytest.approx(math.hypot(0.49, 0.68, 0.5, 0.15), abs=0.02)
    assert sun_rise(receiver, 10368, 320.0, 0.17, met, 3.0).doubt_db > found.doubt_db + 0.2
    assert sun_rise(receiver, 10368, 320.0, 0.05, met, 0.5).doubt_db < found.doubt_db - 0.1


def test_doubt_of_the_moon_is_small_where_its_rise_is() -> None:
    """By hand: hypot(0.19, 0.50) dB is 12.3 % of power, and a rise of 0.42 dB grows by 0.95 of that share."""
    found = moon_rise(Receiver(dish_beam(1.1, 0.55, 10368), 0.8, 0.1, 0.05), 220.0, 0.518, high_up(RECEIVER))
    assert 0.2 < found.rise_db < 0.5
    assert found.doubt_db == pytest.approx(found.rise_db * 0.123 * 0.95, rel=0.02)
    assert found.told_doubt_db == 0.1
