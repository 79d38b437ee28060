"""Expected rises: the Y factor by hand, what doubts leave of them, and that one formula serves check and sheet."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from pipeline.link.antenna import dish_beam
from pipeline.link.noise import Receiver, system_temperature
from pipeline.pairs.noise_rises import (
    SunFlux,
    ground_rise,
    moon_rise,
    off_axis_deg,
    own_echo_db,
    ratio_of_db,
    rise_of_db,
    sun_rise,
)
from tests.link.what_is_met import high_up
from tests.plan.months import demo_inputs

BEAM = dish_beam(1.8, 0.55, 10368)


def test_ground_is_the_y_factor() -> None:
    """Y = (T_hot + T_rx) / (T_cold + T_rx), hot 290 K (Friis; any receiver handbook), without a loss ahead."""
    receiver = Receiver(BEAM, 1.0)
    cold = system_temperature(receiver, high_up(receiver)).total_k.item()
    receiver_k = 290.0 * (10.0**0.1 - 1.0)
    by_hand = 10.0 * math.log10((290.0 + receiver_k) / cold)
    assert ground_rise(receiver, high_up(receiver)).rise_db == pytest.approx(by_hand, abs=1e-9)


def test_a_noisier_receiver_rises_less_and_gain_plays_no_part() -> None:
    rises = [ground_rise(one, high_up(one)).rise_db for one in (Receiver(BEAM, 0.6), Receiver(BEAM, 1.6))]
    assert rises[0] > rises[1] + 1.5
    wide = Receiver(dish_beam(1.2, 0.55, 10368), 0.6)
    assert ground_rise(wide, high_up(wide)).rise_db == pytest.approx(rises[0], abs=0.15)


@pytest.mark.parametrize("rise_db", [0.3, 1.0, 6.0, 12.0])
def test_a_rise_and_its_ratio_turn_into_each_other(rise_db: float) -> None:
    """10^(rise / 10) = 1 + source / system."""
    assert 10.0 ** (ratio_of_db(rise_db) / 10.0) == pytest.approx(10.0 ** (rise_db / 10.0) - 1.0)
    assert rise_of_db(ratio_of_db(rise_db)) == pytest.approx(rise_db)


def test_the_range_of_a_high_rise_is_that_of_its_doubts() -> None:
    """A strong source moves decibel for decibel: flux 10 % (0.41 dB) and half a decibel of station in quadrature."""
    receiver = Receiver(dish_beam(6.0, 0.6, 10368), 0.6)
    rise = sun_rise(receiver, 10368, SunFlux(300.0, 0.10), high_up(receiver), 0.0)
    low, high = rise.within(0.5)
    assert high - rise.rise_db == pytest.approx(np.hypot(10 * np.log10(1.1), 0.5), abs=0.03)
    assert low < rise.rise_db < high
    assert rise.moved(1.0) == pytest.approx(rise.rise_db + 1.0, abs=0.02)


def test_a_weak_rise_moves_in_proportion_to_the_source() -> None:
    """0.3 dB is 7.2 % of the system; 3 dB less of the source leave 3.6 %: 0.15 dB."""
    receiver = Receiver(BEAM, 3.0)
    rise = moon_rise(receiver, 220.0, 0.518, high_up(receiver))
    left = 10.0 * math.log10(1.0 + (10.0 ** (rise.rise_db / 10.0) - 1.0) / 2.0)
    assert rise.moved(-10.0 * math.log10(2.0)) == pytest.approx(left, abs=1e-6)


def test_a_shortfall_of_three_decibels_is_half_a_beamwidth_of_a_point() -> None:
    assert off_axis_deg(40.0, 3.0, BEAM, 1e-3) == pytest.approx(BEAM.beamwidth_deg / 2, rel=5e-3)


def test_an_echo_doubles_the_decibels_of_the_gain() -> None:
    """The same dish sends and hears; the radar equation takes its gain twice and the power once."""
    home = demo_inputs().home
    band = home.bands["3cm"]
    plain = own_echo_db(home, "3cm", 10368.1, 384_400.0, 0.1, 80.0)
    double = dataclasses.replace(home, bands={"3cm": dataclasses.replace(band, power_w=2.0 * band.power_w)})
    assert own_echo_db(double, "3cm", 10368.1, 384_400.0, 0.1, 80.0) - plain == pytest.approx(3.0103, abs=1e-3)
    assert own_echo_db(home, "3cm", 10368.1, 384_400.0, 0.1, 160.0) - plain == pytest.approx(-3.0103, abs=1e-3)
