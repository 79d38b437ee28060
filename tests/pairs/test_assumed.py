"""What is assumed of a station adds its doubt, once each; an unknown skyline hides as many Moons as it is said to."""

from __future__ import annotations

import dataclasses
import math
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from pipeline.inputs.bands import band_table
from pipeline.inputs.lengths import AssumedSkyline
from pipeline.pairs.assumed import assumed_figures, clear_share, presence_of, skyline_is_assumed
from pipeline.pairs.corrections import pair_spreads_db, rests_on_assumptions
from pipeline.record.inputs import Inputs, read_inputs
from pipeline.record.model import Correction, Record

STATED = """call: {call}
position: {{latitude_deg: {latitude}, longitude_deg: 10, height_m: 100}}
time_zone: UTC
available: always
horizon: [{{azimuth_deg: 0, elevation_deg: 1}}]
bands:
  3cm:
    antenna: {{dish_diameter_m: 2.4}}
    power_w: 40
    noise_figure_db: 0.7
    loss_before_preamplifier_db: 0.1
"""


def season(folder: Path, partner: str) -> Inputs:
    """A home that states all, and a partner's file."""
    (folder / "season.yaml").write_text("home: QA1HOM\nband: 3cm\nmonths: [2027-03]\n")
    (folder / "home.yaml").write_text(STATED.format(call="QA1HOM", latitude=50))
    (folder / "other.yaml").write_text(partner)
    return read_inputs(folder / "season.yaml", None)


def test_two_decibels_where_everything_is_stated(tmp_path: Path) -> None:
    inputs = season(tmp_path, STATED.format(call="QA2OTH", latitude=-30))
    assert pair_spreads_db(inputs, "QA2OTH", "3cm") == {"home": pytest.approx(2.0), "partner": pytest.approx(2.0)}
    assert not rests_on_assumptions(inputs, 0)


@pytest.mark.parametrize(
    ("left_out", "ways"),
    [
        ("power_w", ("home",)),
        ("antenna", ("home", "partner")),
        ("noise_figure_db", ("partner",)),
        ("loss_before_preamplifier_db", ("partner",)),
    ],
)
def test_each_assumed_figure_adds_its_own_as_root_sum_of_squares(
    tmp_path: Path, left_out: str, ways: tuple[str, ...]
) -> None:
    """`ways` are named by the end that hears: a partner's power counts at home, its noise figure at itself."""
    lines = [line for line in STATED.splitlines() if left_out not in line]
    inputs = season(tmp_path, "\n".join(lines).format(call="QA2OTH", latitude=-30))
    assert assumed_figures(inputs.partners[0], "3cm") == (left_out,)
    more = math.hypot(2.0, band_table()["3cm"].doubt_db[left_out])
    found = pair_spreads_db(inputs, "QA2OTH", "3cm")
    assert found == {way: pytest.approx(more if way in ways else 2.0) for way in ("home", "partner")}
    assert rests_on_assumptions(inputs, 0)


def test_a_station_known_by_its_locator_alone(tmp_path: Path) -> None:
    inputs = season(tmp_path, "call: QA2OTH\nposition: {locator: GF25}\n")
    doubt = band_table()["3cm"].doubt_db
    heard = doubt["antenna"] ** 2 + doubt["noise_figure_db"] ** 2 + doubt["loss_before_preamplifier_db"] ** 2
    assert pair_spreads_db(inputs, "QA2OTH", "3cm") == {
        "home": pytest.approx(math.sqrt(4.0 + doubt["power_w"] ** 2 + doubt["antenna"] ** 2)),
        "partner": pytest.approx(math.sqrt(4.0 + heard)),
    }
    assert skyline_is_assumed(inputs.partners[0])


def test_what_a_log_has_taught_takes_the_place_of_the_doubt(tmp_path: Path) -> None:
    inputs = season(
        tmp_path, "call: QA2OTH\nposition: {locator: GF25}\nhorizon: [{azimuth_deg: 0, elevation_deg: 2}]\n"
    )
    learnt = Correction("QA2OTH", "3cm", -1.0, 0.5, 0.6, 0.7, "")
    inputs = dataclasses.replace(inputs, record=Record(corrections=(learnt,)))
    assert pair_spreads_db(inputs, "QA2OTH", "3cm") == {
        "home": pytest.approx(math.sqrt(2.0 + 0.36)),
        "partner": pytest.approx(math.sqrt(2.0 + 0.49)),
    }
    assert not rests_on_assumptions(inputs, 0)


def test_every_band_says_what_its_figures_are_worth() -> None:
    names = {"power_w", "antenna", "noise_figure_db", "loss_before_preamplifier_db"}
    for band in band_table().values():
        assert set(band.doubt_db) == names
        assert all(doubt > 0.0 for doubt in band.doubt_db.values())


def test_share_of_skylines_below() -> None:
    """Against scipy's log-normal distribution; half below the median, nine in ten below the other."""
    skyline = AssumedSkyline(3.0, 10.0)
    width = math.log(10.0 / 3.0) / stats.norm.ppf(0.9)
    above = np.array([0.5, 1.0, 3.0, 5.0, 10.0, 25.0])
    assert clear_share(skyline, above) == pytest.approx(stats.lognorm(width, scale=3.0).cdf(above), abs=1e-12)
    assert clear_share(skyline, [3.0, 10.0]) == pytest.approx([0.5, 0.9], abs=1e-9)
    assert clear_share(skyline, [-2.0, 0.0]) == pytest.approx([0.0, 0.0], abs=1e-12)


def test_presence_is_the_stations_own_else_the_policys(tmp_path: Path) -> None:
    inputs = season(tmp_path, STATED.format(call="QA2OTH", latitude=-30) + "presence: 0.7\n")
    assert presence_of(inputs, 0) == 0.7
    own = dataclasses.replace(inputs.partners[0], presence=None)
    assert presence_of(dataclasses.replace(inputs, partners=(own,)), 0) == 0.9
