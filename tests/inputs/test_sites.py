"""`sites` in home's file and `home_site` in the season: other places for the same equipment."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from pipeline.inputs.faults import InputFaults
from pipeline.inputs.sites import at_site
from pipeline.inputs.what_if import read_changes
from pipeline.record.inputs import read_inputs
from pipeline.record.skyline_writing import standing_points, with_points
from tests.inputs.helpers import HOME, SEASON, faults_of, lay_out, only_fault, swapped
from tests.terrain.made_tiles import SIDE, hgt

SITES = """\
hours_to_get_there: 0.25
sites:
  Quarry Rim:
    position: {latitude_deg: -34.31, longitude_deg: -55.24, height_m: 160}
    horizon: [{azimuth_deg: 230, elevation_deg: 12}]
    mount: {maximum_elevation_deg: 60}
    hours_to_get_there: 1.5
    notes: Key at the farm.
  Salt Beach: {position: {locator: GF25cg}, minimum_elevation_deg: 1}
"""


def test_sites_have_their_own_and_the_rest_of_home(tmp_path: Path) -> None:
    home = read_inputs(lay_out(tmp_path, qm7tor=HOME + SITES)).home
    own, quarry, beach = home.sites
    assert (own.name, own.hours_to_get_there, own.horizon) == ("Basalt Tor", 0.25, home.horizon)
    assert (quarry.name, quarry.notes, quarry.hours_to_get_there) == ("Quarry Rim", "Key at the farm.", 1.5)
    assert quarry.mount is not None
    assert quarry.mount.maximum_elevation_deg == 60.0
    assert (beach.mount, beach.minimum_elevation_deg, beach.hours_to_get_there) == (None, 1.0, 0.0)
    assert quarry.assumed == ()
    assert beach.assumed == ("horizon", "position.height_m")
    assert home.name == "Basalt Tor"


def test_a_season_plans_at_its_site(tmp_path: Path) -> None:
    text = SEASON.replace("band: 3cm", "home_site: Salt Beach\nband: 3cm", 1)
    season = lay_out(tmp_path, qm7tor=HOME + SITES, season=text)
    home = read_inputs(season).home
    assert (home.call, home.name, home.position.locator, home.minimum_elevation_deg) == (
        "QM7TOR",
        "Salt Beach",
        "GF25cg",
        1.0,
    )
    assert home.horizon == ()
    assert {"horizon", "position.height_m"} <= set(home.assumed)
    assert home.landmarks == ()
    assert home.mount.maximum_elevation_deg == 85.0
    assert [site.name for site in home.sites] == ["Basalt Tor", "Quarry Rim", "Salt Beach"]


def test_heights_measured_at_a_site_never_go_into_the_skyline_of_another(tmp_path: Path) -> None:
    text = SEASON.replace("band: 3cm", "home_site: Salt Beach\nband: 3cm", 1)
    home = read_inputs(lay_out(tmp_path, qm7tor=HOME + SITES, season=text)).home
    for asked in (lambda: standing_points(home, tmp_path), lambda: with_points(home, tmp_path, [], "")):
        with pytest.raises(InputFaults, match=r"write its heights into sites\.Salt Beach\.horizon by hand\."):
            asked()


def test_a_site_is_tried_without_touching_a_file(tmp_path: Path) -> None:
    season = lay_out(tmp_path, qm7tor=HOME + SITES)
    home = read_inputs(season, changes=read_changes(["season.home_site=Quarry Rim"])).home
    assert (home.name, home.mount.maximum_elevation_deg) == ("Quarry Rim", 60.0)


def test_from_one_site_to_another_and_back(tmp_path: Path) -> None:
    home = read_inputs(lay_out(tmp_path, qm7tor=HOME + SITES)).home
    own, quarry, beach = home.sites
    there = at_site(home, quarry)
    assert at_site(home, own) is home
    assert at_site(there, quarry) is there
    assert at_site(there, beach) == at_site(home, beach)
    back = at_site(there, own)
    assert (back.title, back.position, back.horizon, back.mount) == (
        home.title,
        home.position,
        home.horizon,
        home.mount,
    )
    assert back.minimum_elevation_deg == home.minimum_elevation_deg
    assert back.hours_to_get_there == 0.25


def test_a_site_of_the_record_that_is_gone_is_told(tmp_path: Path) -> None:
    season = lay_out(tmp_path, qm7tor=HOME + SITES)
    (tmp_path / "record").mkdir()
    line = "  - {{partner: QF4LUM, start: 2027-03-{}T01:15Z, state: confirmed, site: {}}}\n"
    text = "slots:\n" + line.format(13, "Salt Beach") + line.format(14, "Sold Field")
    (tmp_path / "record" / "agenda.yaml").write_text(text)
    (note,) = [one for one in read_inputs(season).warnings if "site" in one]
    assert note.startswith("record/agenda.yaml, line 3: home has no site Sold Field (any more)")


def test_a_site_may_have_terrain_and_its_tiles_count(tmp_path: Path) -> None:
    (tmp_path / "tiles").mkdir()
    heights = np.full((SIDE, SIDE), 30)
    heights[590:594] = 500
    hgt(tmp_path / "tiles", "S35W056", heights)
    sites = "sites: {Field: {position: {latitude_deg: -34.6, longitude_deg: -55.5}, horizon: {terrain: tiles}}}\n"
    inputs = read_inputs(lay_out(tmp_path, qm7tor=HOME + sites))
    field = inputs.home.sites[1]
    assert field.terrain is not None
    assert (field.position.height_m, field.assumed) == (30.0, ())
    assert max(point.elevation_deg for point in field.horizon) > 2.0
    assert "tiles: S35W056.hgt" in inputs.files
    (note,) = inputs.warnings
    assert note.startswith("QM7TOR at Field: no elevation tile covers azimuth ")


def test_all_faults_of_all_sites(tmp_path: Path) -> None:
    sites = """\
sites:
  Quarry:
    position: {latitude_deg: 234}
    hours_to_get_there: -1
  Beach:
    positon: {locator: GF25cg}
  Hill:
    position: {locator: GF25cg}
    horizon: {terrain: hills}
"""
    told = [str(fault) for fault in faults_of(lay_out(tmp_path, qm7tor=HOME + sites))]
    assert any("sites.Quarry.position.latitude_deg is 234; a latitude in degrees" in one for one in told)
    assert any("sites.Quarry.hours_to_get_there is -1; a number of hours, one way is meant," in one for one in told)
    assert any("unknown key 'positon' in sites.Beach; did you mean 'position'?" in one for one in told)
    assert any("sites.Hill.horizon.terrain is 'hills'; there is no such folder or file" in one for one in told)


@pytest.mark.parametrize(
    ("sites", "told"),
    [
        ("sites: [a, b]\n", "sites are names with keys below each; write a name and its keys below it"),
        ("sites: {Quarry: }\n", "sites.Quarry is empty; give it a value or leave it out."),
        (f"sites: {{{'Q' * 41}: {{position: {{locator: GF25cg}}}}}}\n", "has 41 characters; at most 40 are taken."),
        ("sites: {Basalt Tor: {position: {locator: GF25cg}}}\n", "sites.Basalt Tor is the name of home's own place"),
    ],
)
def test_what_is_no_site(tmp_path: Path, sites: str, told: str) -> None:
    assert told in str(only_fault(lay_out(tmp_path, qm7tor=HOME + sites)))


def test_an_unknown_site(tmp_path: Path) -> None:
    text = swapped(SEASON, "home: QM7TOR\n", "home: QM7TOR\nhome_site: Salt Baech\n")
    fault = only_fault(lay_out(tmp_path, qm7tor=HOME + SITES, season=text))
    assert str(fault) == "season.yaml, line 3: home_site is 'Salt Baech'; did you mean 'Salt Beach'?"
    bare = only_fault(lay_out(tmp_path, qm7tor=HOME, season=text))
    assert str(bare) == "season.yaml, line 3: home_site is 'Salt Baech'; home's file has no `sites`."


def test_a_choice_of_sites_needs_sites_and_none_that_is_named(tmp_path: Path) -> None:
    best = SEASON.replace("policy:\n", "policy:\n  sites: best\n", 1)
    assert best != SEASON
    season = lay_out(tmp_path, qm7tor=HOME + SITES, season=best)
    assert read_inputs(season).season.policy.sites == "best"
    fault = only_fault(lay_out(tmp_path, qm7tor=HOME, season=best))
    assert str(fault).endswith(": policy.sites is best; home's file has no `sites`.")
    named = best.replace("band: 3cm", "home_site: Salt Beach\nband: 3cm", 1)
    fault = only_fault(lay_out(tmp_path, qm7tor=HOME + SITES, season=named))
    assert str(fault).endswith(
        ": policy.sites is best and home_site names one for the whole season; keep one of the two."
    )
