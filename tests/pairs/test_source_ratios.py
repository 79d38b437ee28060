"""Rises as source against system, and the own echo: by hand."""

from __future__ import annotations

import dataclasses

import pytest

from pipeline.pairs.noise_rises import Rise
from pipeline.pairs.own_echo import own_echo_db
from pipeline.pairs.source_ratios import Known, ratio_of_db, rise_of_db
from tests.plan.months import demo_inputs


@pytest.mark.parametrize("rise_db", [0.3, 1.0, 6.0, 12.0])
def test_a_rise_and_its_ratio_turn_into_each_other(rise_db: float) -> None:
    """10^(rise / 10) = 1 + source / system."""
    assert 10.0 ** (ratio_of_db(rise_db) / 10.0) == pytest.approx(10.0 ** (rise_db / 10.0) - 1.0)
    assert rise_of_db(ratio_of_db(rise_db)) == pytest.approx(rise_db)


def test_a_strong_rise_moves_decibel_for_decibel() -> None:
    moved = Known(-1.0, 0.5).of(Rise(20.0, 1.0))
    assert moved.rise_db == pytest.approx(19.0, abs=0.02)
    assert moved.doubt_db == pytest.approx(0.5, abs=0.01)


def test_a_weak_rise_moves_in_proportion_to_the_source() -> None:
    """0.3 dB is 7.15 % of the system; 3.01 dB less of the source leave half of it: 0.153 dB."""
    assert Known(-3.0103, 0.0).of(Rise(0.3, 0.1)).rise_db == pytest.approx(0.153, abs=1e-3)


def test_an_echo_doubles_the_decibels_of_the_gain() -> None:
    """The same dish sends and hears; the radar equation takes its gain twice and the power once."""
    home = demo_inputs().home
    band = home.bands["3cm"]
    plain = own_echo_db(home, "3cm", 10368.1, 384_400.0, 0.1, 80.0)
    double = dataclasses.replace(home, bands={"3cm": dataclasses.replace(band, power_w=2.0 * band.power_w)})
    assert own_echo_db(double, "3cm", 10368.1, 384_400.0, 0.1, 80.0) - plain == pytest.approx(3.0103, abs=1e-3)
    assert own_echo_db(home, "3cm", 10368.1, 384_400.0, 0.1, 160.0) - plain == pytest.approx(-3.0103, abs=1e-3)
