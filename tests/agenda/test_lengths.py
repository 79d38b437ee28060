"""How long slots are, and where they stand when a skyline is unknown or the ground helps: by brute force."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from pipeline.agenda.candidates import LENGTH_STEP_MINUTES, find_slots, with_chances
from pipeline.agenda.slot_grid import SlotGrid
from pipeline.inputs.lengths import SlotMinutes
from pipeline.link.chance import LOSS_NOT_MISSED
from pipeline.record.inputs import Inputs, read_inputs
from tests.agenda.slot_grids import grid_of, march_inputs
from tests.plan.months import agenda_alone, outlook, with_policy

STATION = """call: {call}
position: {{latitude_deg: {latitude}, longitude_deg: {longitude}, height_m: 100}}
time_zone: UTC
available: always
horizon: [{{azimuth_deg: 0, elevation_deg: 0}}]
bands:
"""
BIG_3CM = """  3cm: {antenna: {dish_diameter_m: 6}, power_w: 300, noise_figure_db: 0.6, pointing_error_deg: 0.02,
        loss_before_preamplifier_db: 0.1, polarization: rotatable, modes: [Q65]}
"""


def season(folder: Path, home: str, partner: str, band: str = "3cm") -> Inputs:
    """Ten days between two stations."""
    (folder / "season.yaml").write_text(f"home: QA1HOM\nband: {band}\ndates: 2027-03-08/2027-03-17\n")
    (folder / "home.yaml").write_text(home)
    (folder / "other.yaml").write_text(partner)
    return with_policy(read_inputs(folder / "season.yaml", None), step_minutes=15)


# Lengths


def _every_length(grid: SlotGrid) -> tuple[np.ndarray, np.ndarray]:
    """The chance of each slot at each length, (n, k), and the lengths in minutes; none longer than what is free."""
    policy = grid.inputs.season.policy.slot_minutes
    found = find_slots(grid.minutes, grid.minutes.free, policy, grid.least)
    longest = found["end"] - found["start"]
    lengths = np.minimum(np.arange(policy.least, policy.most + 1, LENGTH_STEP_MINUTES)[None, :], longest[:, None])
    chances = np.stack(
        [
            with_chances(
                grid.inputs, grid.modes, grid.track, found | {"end": found["start"] + lengths[:, place]}
            ).chance
            for place in range(lengths.shape[1])
        ],
        axis=1,
    )
    return chances, lengths


@pytest.mark.parametrize(("least", "most"), [(20, 60), (45, 60), (15, 90)])
def test_the_shortest_that_costs_hardly_any_chance_is_taken(least: int, most: int) -> None:
    """Every slot of the demo's March at every length: within 0.02 of the longest, and nothing shorter is."""
    grid = grid_of(march_inputs(slot_minutes=SlotMinutes(least, most)))
    assert (LOSS_NOT_MISSED, LENGTH_STEP_MINUTES) == (0.02, 5)
    chances, lengths = _every_length(grid)
    enough = chances >= chances[:, -1:] - LOSS_NOT_MISSED - 1e-9
    first = np.argmax(enough, axis=1)
    rows = np.arange(first.size)
    close = np.abs(chances - (chances[:, -1:] - LOSS_NOT_MISSED)).min(axis=1) < 1e-6
    taken = grid.slots.end - grid.slots.start
    assert (taken == lengths[rows, first])[~close].all()
    assert grid.slots.chance == pytest.approx(chances[rows, first], abs=1e-6)
    assert len(set(taken.tolist())) > 2
    assert taken.max() <= most


def test_one_number_fixes_the_length() -> None:
    """As before there was a range: whole slots, and shorter ones only where no more is free."""
    grid = grid_of(march_inputs(slot_minutes=SlotMinutes(40, 40)))
    found = find_slots(grid.minutes, grid.minutes.free, SlotMinutes(40, 40), grid.least)
    assert (grid.slots.end == found["end"]).all()
    taken = grid.slots.end - grid.slots.start
    assert (taken <= 40).all()
    assert (taken == 40).mean() > 0.9


# What is assumed


def test_a_partner_known_by_its_locator_alone_is_never_strong(tmp_path: Path) -> None:
    """However big home's dish: the chance may say 0.95, the word does not; with every figure stated it does."""
    home = STATION.format(call="QA1HOM", latitude=50, longitude=10) + BIG_3CM.replace("meter_m: 6", "meter_m: 15")
    bare = outlook(season(tmp_path, home, "call: QA2OTH\nposition: {locator: GF25}\n"))
    assert bare.windows["chance"].max() > 0.9
    assert "strong" not in set(bare.windows["outcome"]) | set(bare.nights["outcome"])
    assert "workable" in set(bare.nights["outcome"])
    told = STATION.format(call="QA2OTH", latitude=-34, longitude=-55) + BIG_3CM
    stated = outlook(season(tmp_path, home, told))
    assert {"strong"} <= set(stated.windows["outcome"]) & set(stated.nights["outcome"])


def test_of_two_equal_slots_the_higher_moon_where_the_skyline_is_unknown(tmp_path: Path) -> None:
    """Links so good that every slot is as sure: the clearest is taken where no file states the skyline."""
    home = STATION.format(call="QA1HOM", latitude=50, longitude=10) + BIG_3CM
    told = STATION.format(call="QA2OTH", latitude=-34, longitude=-55) + BIG_3CM
    silent = told.replace("horizon: [{azimuth_deg: 0, elevation_deg: 0}]\n", "")
    found = []
    for partner in (told, silent):
        inputs = with_policy(season(tmp_path, home, partner), night_cost=0.0)
        shown = outlook(inputs)
        slots = shown.worth.usable
        chosen = [
            np.flatnonzero((slots.start * 60 == row.slot_start_utc.timestamp()) & (slots.pair == 0))[0]
            for row in agenda_alone(inputs).itertuples()
        ]
        found.append((slots, chosen))
    (known, _), (unknown, chosen) = found
    assert (known.clear == 1.0).all()
    assert (unknown.clear < 1.0).all()
    assert chosen
    for row in chosen:
        equal = unknown.chance >= unknown.chance[row] - 1e-3
        assert equal.sum() > 10
        assert unknown.clear[row] * unknown.chance[row] >= (unknown.clear * unknown.chance)[equal].max() - 2e-3
    assert unknown.clear[chosen].min() > np.quantile(unknown.clear, 0.8)


# The ground


def test_where_the_ground_helps_a_slot_may_stand_low(tmp_path: Path) -> None:
    """On 2 m a beam of 20 degrees was asked to clear the horizon by half: with ground gain its middle is enough."""
    band = """  2m: {antenna: {gain_dbi: 18.5, beamwidth_deg: 20}, power_w: 800, noise_figure_db: 0.5,
       loss_before_preamplifier_db: 0.2, polarization: horizontal, ground_gain_db: %s, modes: [Q65]}
"""
    low = []
    for gain in ("0", "5"):
        home = STATION.format(call="QA1HOM", latitude=50, longitude=10) + "minimum_elevation_deg: 1\n" + band % gain
        partner = home.replace("QA1HOM", "QA2OTH").replace("latitude_deg: 50", "latitude_deg: 35")
        home, partner = (_moved(text) for text in (home, partner))
        grid = outlook(season(tmp_path, home, partner, "2m")).worth.grid
        start = grid.track.at(grid.samples["home_elevation_deg"].to_numpy(float), grid.slots.start, grid.slots.window)
        low.append(float(start.min()))
        share = (start < 9.0).mean()
        assert (share == 0.0) == (gain == "0")
    assert low[0] >= 9.5
    assert low[1] < 3.0


def _moved(text: str) -> str:
    """The bands last, as the keys of the station stand before them."""
    lines = text.splitlines(keepends=True)
    key = next(line for line in lines if line.startswith("minimum_elevation_deg"))
    lines.remove(key)
    return key + "".join(lines)


def test_a_shorter_least_never_costs_a_place() -> None:
    """Whatever stands on the grid at 60 minutes stands there at 45 to 60 as well."""
    fixed, range_ = (grid_of(march_inputs(slot_minutes=SlotMinutes(*edges))).slots for edges in ((60, 60), (45, 60)))
    places = [set(zip(one.pair.tolist(), one.start.tolist(), strict=True)) for one in (fixed, range_)]
    on_grid = {(pair, start) for pair, start in places[0] if start % 15 == 0}
    assert on_grid <= places[1]
    assert len(places[1]) > len(places[0])
    assert dataclasses.asdict(SlotMinutes()) == {"least": 45, "most": 60}
