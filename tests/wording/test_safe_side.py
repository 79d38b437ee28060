"""Printed figures of safety and deadlines against what they are printed of: never beyond it on the wrong side."""

from __future__ import annotations

import datetime as dt
import math
import re
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

import numpy as np
import pytest

from pipeline.inputs.model import Battery
from pipeline.link.exposure import ExposureDistances
from pipeline.sheets.cautions import distance_words
from pipeline.sheets.energy import Energy
from pipeline.sheets.setup_sheet import _verdict
from pipeline.wording import rises, safe_side
from pipeline.wording.operating import rounded_up

FIGURE = re.compile(r"\d+(?:\.\d+)?")


@pytest.mark.parametrize("digits", [-1, 0, 1, 2])
def test_rounding_is_that_of_the_decimal_module(digits: int) -> None:
    """IEEE 754 directed rounding as `decimal` has it, of figures written with six decimals."""
    rng = np.random.default_rng(3)
    unit = Decimal(1).scaleb(-digits)
    for value in [*rng.uniform(-300, 300, 400).round(6), 2.3, 0.1 + 0.2, 1.1 * 3, 17.0, -17.0, 0.0]:
        exact = Decimal(repr(round(float(value), 9)))
        for way, mode in (("up", ROUND_CEILING), ("down", ROUND_FLOOR)):
            wanted = (exact / unit).to_integral_value(mode) * unit
            assert Decimal(repr(safe_side.rounded(float(value), way, digits))) == pytest.approx(wanted)


def test_words_carry_the_safe_figure_and_no_negative_nought() -> None:
    assert (safe_side.up(0.41, 1), safe_side.down(0.49, 1), safe_side.up(82.001), safe_side.up(2.3, 1)) == (
        "0.5",
        "0.4",
        "83",
        "2.3",
    )
    assert safe_side.up(-0.3) == "0"


def test_deadlines_to_the_minute() -> None:
    whole = dt.datetime(2027, 3, 13, 21, 4, tzinfo=dt.UTC)
    for second in (0.0, 0.1, 29.0, 59.9):
        moment = whole + dt.timedelta(seconds=second)
        assert safe_side.no_later(moment) <= moment <= safe_side.no_sooner(moment)
        assert safe_side.no_sooner(moment) - safe_side.no_later(moment) <= dt.timedelta(minutes=1)
    assert safe_side.no_sooner(whole) == whole


def test_distances_are_never_printed_nearer() -> None:
    rng = np.random.default_rng(5)
    for _ in range(200):
        peak, average, crew, crew_average = (float(one) for one in rng.uniform(0.2, 400.0, 4))
        words = distance_words(ExposureDistances(peak, average, crew, crew_average), "the dish")
        printed = [float(one) for one in re.findall(r"(\d+) m\b", words)]
        assert len(printed) == 4
        for shown, true in zip(printed, (peak, average, crew, crew_average), strict=True):
            assert true <= shown < true + 1.0 + 1e-6


def test_energy_is_never_printed_smaller_and_the_verdict_fits_what_is_printed() -> None:
    rng = np.random.default_rng(8)
    battery = Battery(voltage_v=12.8, capacity_ah=160.0, receive_a=4.0, transmit_a=22.0)
    seen = set()
    for needed, usable, stay in zip(*rng.uniform(20.0, 150.0, (2, 300)), rng.uniform(2, 14, 300), strict=True):
        energy = Energy(float(needed), float(usable), float(stay), float(stay) / 3.0)
        words = _verdict(energy, battery, has_fall_backs=False)
        shown_needed, shown_usable, _, shown_stay, shown_sending = (float(one) for one in FIGURE.findall(words)[:5])
        assert needed <= shown_needed < needed + 1.0 + 1e-6
        assert usable - 1.0 - 1e-6 < shown_usable <= usable
        assert stay <= shown_stay + 1e-9
        assert stay / 3.0 <= shown_sending + 1e-9
        assert words.startswith("NOT ENOUGH") == (shown_needed > shown_usable)
        if words.startswith("NOT ENOUGH"):
            assert float(re.findall(r"(\d+) Ah short", words)[0]) == shown_needed - shown_usable
        seen.add(words.split(".")[0])
    assert seen == {"NOT ENOUGH", "Tight", "Enough"}


def test_doubts_and_search_widths_are_never_printed_smaller() -> None:
    for value in np.random.default_rng(9).uniform(0.01, 4000.0, 300):
        hertz = rounded_up(float(value))
        shown = float(FIGURE.findall(hertz)[0]) * (1000.0 if "kHz" in hertz else 1.0)
        assert value <= shown + 1e-6
        assert shown - value <= 100.0
        doubt = float(value) / 1000.0
        assert doubt <= float(FIGURE.findall(rises.with_doubt(5.0, doubt))[1]) <= max(doubt + 0.1 + 1e-9, 0.1)
        assert not math.isnan(doubt)
