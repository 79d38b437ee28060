"""Files of the YAML contract for the tests of this room, whole and with one line changed."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.inputs.faults import Fault, InputFaults
from pipeline.record.inputs import read_inputs

HOME = """\
call: QM7TOR
name: Basalt Tor
operator: Ines Calder
email: ines@basalt-tor.example
position: {latitude_deg: -34.50121, longitude_deg: -55.80342, height_m: 212}
time_zone: America/Montevideo
minimum_elevation_deg: 5
horizon:
  - {azimuth_deg: 0, elevation_deg: 2.0}
  - {azimuth_deg: 95, elevation_deg: 7.5}
  - {azimuth_deg: 260, elevation_deg: 1.0}
mount: {maximum_elevation_deg: 85, azimuth_from_deg: 200, azimuth_to_deg: 160,
        inclinometer_offset_deg: 0.0, dial_resolution_deg: 0.2}
available:
  - {days: [mon, tue, wed, thu], from: 18:00, to: 23:30}
  - {days: [fri, sat], from: 16:00, to: 03:00}
unavailable_dates: [2027-03-12, 2027-03-20/2027-03-22]
landmarks:
  - {name: lighthouse lantern, latitude_deg: -34.61035, longitude_deg: -55.70112, height_m: 48}
  - {name: grain silo, azimuth_deg: 231.4}
battery: {voltage_v: 12.8, capacity_ah: 160, usable_fraction: 0.8, receive_a: 4, transmit_a: 22, other_a: 2}
checklist:
  - Set the drive to its lowest before the cable goes on
bands:
  3cm:
    antenna: {dish_diameter_m: 1.8, aperture_efficiency: 0.55}
    power_w: 40
    noise_figure_db: 0.8
    loss_before_preamplifier_db: 0.1
    spillover_fraction: 0.05
    polarization: rotatable
    pointing_error_deg: 0.2
    frequency_mhz: 10368.1
    frequency_accuracy_hz: 2
    ground_gain_db: 0
    modes: [Q65, CW]
"""

PARTNER = """\
call: QF4LUM
position: {locator: JN58td, height_m: 520}
time_zone: Europe/Berlin
bands:
  3cm:
    antenna: {dish_diameter_m: 3}
"""

SEASON = """\
title: Autumn round
home: QM7TOR
band: 3cm
frequency_mhz: 10368.1
months: [2027-03]
partners:
  - {call: QF4LUM, contacts_wanted: 1, priority: 2}
operators: [{call: QM7TOR, name: Ines Calder}]
policy:
  refraction: true
  atmosphere: seasonal
  step_minutes: 5
  slot_minutes: 60
  gap_minutes: 15
  maximum_slots_per_night: 3
  maximum_nights: 6
  night_cost: 0.3
  nights: [fri, sat, sun]
  latest_hour_on_work_nights: "01:00"
  minimum_sun_separation_deg: 5
  solar_activity: average
  outcome_thresholds: {strong: 0.9, workable: 0.6, marginal: 0.25}
  setup_minutes: {arrive: 120, align: 45, check: 30}
  first_to_transmit: partner
  dialing: each-follows-what-it-hears
report: {paper: A4}
letters: {sender: {name: Ines Calder, email: ines@basalt-tor.example}, greeting: "Dear {operator}",
          reply_by: 2027-02-20, meet: "chat room or telephone, as you agree"}
ephemeris: {file: null}
"""


def lay_out(folder: Path, **files: str) -> Path:
    """Write the three usual files, or others given by stem, and return the season's path."""
    for stem, text in ({"qm7tor": HOME, "qf4lum": PARTNER, "season": SEASON} | files).items():
        (folder / f"{stem}.yaml").write_bytes(text.encode() if isinstance(text, str) else text)
    return folder / "season.yaml"


def faults_of(season_file: Path, month: str | None = None) -> tuple[Fault, ...]:
    """The faults of reading."""
    with pytest.raises(InputFaults) as caught:
        read_inputs(season_file, month)
    return caught.value.faults


def only_fault(season_file: Path, month: str | None = None) -> Fault:
    """The one fault of reading."""
    faults = faults_of(season_file, month)
    assert len(faults) == 1, [str(fault) for fault in faults]
    return faults[0]


def swapped(text: str, old: str, new: str) -> str:
    """The text with one stretch changed, which must be there once."""
    assert text.count(old) == 1
    return text.replace(old, new)


def line_of(text: str, part: str) -> int:
    """1-based line of the first line that holds a part."""
    return next(number for number, line in enumerate(text.splitlines(), 1) if part in line)
