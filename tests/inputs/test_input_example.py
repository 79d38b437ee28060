"""A whole example of the YAML contract comes out as written; what is absent comes out assumed."""

from __future__ import annotations

import datetime as dt
import hashlib
from pathlib import Path

import pytest

from pipeline.inputs.bands import band_table
from pipeline.inputs.model import DateRange, HorizonPoint, Hours, Partner, SolarFlux
from pipeline.pairs.equipment import pair_frequency_mhz
from pipeline.record.inputs import read_inputs
from tests.inputs.helpers import HOME, PARTNER, SEASON, lay_out, swapped


def test_everything_that_is_written_arrives(tmp_path: Path) -> None:
    inputs = read_inputs(lay_out(tmp_path))
    home, season = inputs.home, inputs.season
    assert (home.call, home.name, home.operator) == ("QM7TOR", "Basalt Tor", "Ines Calder")
    assert home.email == "ines@basalt-tor.example"
    assert (home.position.latitude_deg, home.position.longitude_deg) == (-34.50121, -55.80342)
    assert (home.position.height_m, home.position.locator) == (212, None)
    assert home.time_zone == "America/Montevideo"
    assert home.minimum_elevation_deg == 5
    assert home.horizon[1] == HorizonPoint(azimuth_deg=95, elevation_deg=7.5)
    assert (home.mount.azimuth_from_deg, home.mount.azimuth_to_deg) == (200, 160)
    assert home.mount.dial_resolution_deg == 0.2
    assert home.available == (
        Hours(days=("mon", "tue", "wed", "thu"), start=dt.time(18), until=dt.time(23, 30)),
        Hours(days=("fri", "sat"), start=dt.time(16), until=dt.time(3)),
    )
    assert home.unavailable_dates == (
        DateRange(first=dt.date(2027, 3, 12), last=dt.date(2027, 3, 12)),
        DateRange(first=dt.date(2027, 3, 20), last=dt.date(2027, 3, 22)),
    )
    assert [mark.name for mark in home.landmarks] == ["lighthouse lantern", "grain silo"]
    assert home.battery is not None
    assert home.battery.transmit_a == 22
    assert home.checklist == ("Set the drive to its lowest before the cable goes on",)
    equipment = home.bands["3cm"]
    assert (equipment.power_w, equipment.noise_figure_db, equipment.polarization) == (40, 0.8, "rotatable")
    assert (equipment.antenna.dish_diameter_m, equipment.antenna.aperture_efficiency) == (1.8, 0.55)
    assert equipment.modes == ("Q65", "CW")
    assert home.assumed == ()
    assert season.months == ("2027-03",)
    assert season.assumed == ()
    assert season.partners == (Partner(call="QF4LUM", contacts_wanted=1, priority=2),)
    assert season.policy.nights == ("fri", "sat", "sun")
    assert season.policy.latest_hour_on_work_nights == dt.time(1)
    assert season.letters.reply_by == dt.date(2027, 2, 20)
    assert season.letters.meet == "chat room or telephone, as you agree"
    assert season.ephemeris.file is None


def test_absent_figures_are_assumed_and_named(tmp_path: Path) -> None:
    partner = "call: qf4lum\nposition: {locator: jn58TD}\nbands: {3cm: {antenna: {dish_diameter_m: 3}, power_w: 12}}\n"
    (station,) = read_inputs(lay_out(tmp_path, qf4lum=partner)).partners
    assert station.call == "QF4LUM"
    assert station.position.locator == "JN58td"
    assert station.position.uncertainty_km > 1
    assert station.available is None
    assert station.time_zone is None
    assert station.bands["3cm"].power_w == 12
    assert station.bands["3cm"].noise_figure_db == float(band_table()["3cm"].equipment["noise_figure_db"])
    assert station.assumed == (
        "time_zone",
        "available",
        "horizon",
        "position.height_m",
        "bands.3cm.antenna.aperture_efficiency",
        "bands.3cm.noise_figure_db",
        "bands.3cm.loss_before_preamplifier_db",
        "bands.3cm.spillover_fraction",
        "bands.3cm.polarization",
        "bands.3cm.pointing_error_deg",
        "bands.3cm.frequency_accuracy_hz",
        "bands.3cm.modes",
    )


def test_a_whole_band_can_be_assumed(tmp_path: Path) -> None:
    season = swapped(SEASON, "priority: 2}", "priority: 2, band: 6cm}")
    inputs = read_inputs(lay_out(tmp_path, season=season))
    assert inputs.partners[0].assumed[-1] == "bands.6cm"
    assert "6cm" in inputs.home.bands
    assert inputs.home.assumed == ("bands.6cm",)
    assert inputs.wishes[0].band == "6cm"


def test_shortest_season_takes_every_other_station(tmp_path: Path) -> None:
    season = lay_out(tmp_path, season="home: QM7TOR\n", other=PARTNER.replace("QF4LUM", "QB2SEA"))
    inputs = read_inputs(season)
    assert [station.call for station in inputs.partners] == ["QB2SEA", "QF4LUM"]
    assert [wish.call for wish in inputs.wishes] == ["QB2SEA", "QF4LUM"]
    assert (inputs.season.band, pair_frequency_mhz(inputs, "3cm")) == ("3cm", 10368.1)
    # The home file has a frequency of its own.
    assert inputs.season.assumed == ("band",)
    assert inputs.season.months == ()


def test_partners_may_be_plain_calls_in_the_seasons_order(tmp_path: Path) -> None:
    season = "home: QM7TOR\nband: 3cm\npartners: [qf4lum, QB2SEA]\n"
    inputs = read_inputs(lay_out(tmp_path, season=season, other=PARTNER.replace("QF4LUM", "QB2SEA")))
    assert [station.call for station in inputs.partners] == ["QF4LUM", "QB2SEA"]


def test_home_by_file_name_where_one_call_has_two_sites(tmp_path: Path) -> None:
    season = swapped(SEASON, "home: QM7TOR", "home: qm7tor-hill")
    path = lay_out(tmp_path, **{"season": season, "qm7tor-hill": HOME.replace("Basalt Tor", "Hill")})
    inputs = read_inputs(path)
    assert inputs.home.name == "Hill"
    assert inputs.season.home == "QM7TOR"
    assert [station.call for station in inputs.partners] == ["QF4LUM"]


def test_asked_month_takes_the_place_of_months_and_dates(tmp_path: Path) -> None:
    assert read_inputs(lay_out(tmp_path), "2027-05").season.months == ("2027-05",)
    season = swapped(SEASON, "months: [2027-03]", "dates: 2027-03-05/2027-04-02")
    inputs = read_inputs(lay_out(tmp_path, season=season))
    assert inputs.season.dates == DateRange(first=dt.date(2027, 3, 5), last=dt.date(2027, 4, 2))
    assert read_inputs(tmp_path / "season.yaml", "2027-05").season.dates is None


def test_the_files_used_are_hashed_and_no_others(tmp_path: Path) -> None:
    survey = "azimuth_deg,elevation_deg\n0,2\n90,4.5\n\n"
    home = swapped(HOME, HOME[HOME.index("horizon:") : HOME.index("mount:")], "horizon: {file: survey.csv}\n")
    path = lay_out(tmp_path, qm7tor=home, other=PARTNER.replace("QF4LUM", "QB2SEA"), spring="home: QX1ABC\nodd: 1\n")
    (tmp_path / "survey.csv").write_text(survey, encoding="utf-8")
    (tmp_path / "record").mkdir()
    (tmp_path / "record" / "agenda.yaml").write_text("slots: []\n", encoding="utf-8")
    inputs = read_inputs(path)
    assert [(point.azimuth_deg, point.elevation_deg) for point in inputs.home.horizon] == [(0, 2), (90, 4.5)]
    assert sorted(inputs.files) == [
        "qf4lum.yaml", "qm7tor.yaml", "record/agenda.yaml", "season.yaml", "survey.csv",
    ]  # fmt: skip
    assert inputs.files["survey.csv"] == hashlib.sha256(survey.encode()).hexdigest()
    before = inputs.digest
    (tmp_path / "survey.csv").write_text(survey + "180,3\n", encoding="utf-8")
    assert read_inputs(path).digest != before


def test_all_day_and_every_day(tmp_path: Path) -> None:
    hours = HOME[HOME.index("available:") : HOME.index("unavailable")]
    path = lay_out(tmp_path, qm7tor=swapped(HOME, hours, "available: always\n"))
    assert read_inputs(path).home.available == "always"
    lay_out(tmp_path, qm7tor=swapped(HOME, hours, "available:\n  - {from: 00:00, to: 24:00}\n"))
    (stretch,) = read_inputs(path).home.available
    assert len(stretch.days) == 7
    assert (stretch.start, stretch.until) == (dt.time(0), dt.time(0))


def test_solar_activity_as_a_flux(tmp_path: Path) -> None:
    season = swapped(SEASON, "solar_activity: average", "solar_activity: {flux_10_7_cm: 140}")
    policy = read_inputs(lay_out(tmp_path, season=season)).season.policy
    assert policy.solar_activity == SolarFlux(flux_10_7_cm=140)


def test_windows_line_ends_and_a_byte_order_mark_are_welcome(tmp_path: Path) -> None:
    plain = read_inputs(lay_out(tmp_path)).home
    (tmp_path / "qm7tor.yaml").write_bytes(b"\xef\xbb\xbf" + HOME.replace("\n", "\r\n").encode())
    assert read_inputs(tmp_path / "season.yaml").home == plain


def test_horizon_repeats_and_north_twice_are_one_point(tmp_path: Path) -> None:
    home = swapped(HOME, "  - {azimuth_deg: 260, elevation_deg: 1.0}", "  - {azimuth_deg: 360, elevation_deg: 2}")
    assert len(read_inputs(lay_out(tmp_path, qm7tor=home)).home.horizon) == 2


@pytest.mark.parametrize("name", list(band_table()))
def test_band_table_is_whole(name: str, tmp_path: Path) -> None:
    # Limits of the ADIF band enumeration, from memory, in MHz.
    limits = {
        "6m": (50, 54), "2m": (144, 148), "1.25m": (222, 225), "70cm": (420, 450), "33cm": (902, 928),
        "23cm": (1240, 1300), "13cm": (2300, 2450), "9cm": (3300, 3500), "6cm": (5650, 5925),
        "3cm": (10000, 10500), "1.25cm": (24000, 24250), "6mm": (47000, 47200),
    }  # fmt: skip
    band = band_table()[name]
    assert (band.lowest_mhz, band.highest_mhz) == limits[name]
    assert band.holds(band.typical_mhz)
    inputs = read_inputs(lay_out(tmp_path, season=f"home: QM7TOR\nband: {name.upper()}\n"))
    assert pair_frequency_mhz(inputs, band.name) == band.typical_mhz
    assert inputs.partners[0].bands[name].power_w > 0
