"""Files that the commands write read back as what was meant, and a fault leaves nothing behind."""

# ruff: noqa: E501 - a fault a line reads as a table
from __future__ import annotations

import os
import re
from pathlib import Path

import pytest

from pipeline.inputs import writing
from pipeline.inputs.atomic_writing import clear_unfinished
from pipeline.inputs.faults import InputFaults
from pipeline.inputs.kinds import fields_of
from pipeline.inputs.laying_out import new_folder
from pipeline.inputs.lengths import AssumedSkyline, SlotMinutes
from pipeline.inputs.letter_keys import Letters
from pipeline.inputs.model import Antenna, BandEquipment, Battery, Landmark, Mount, Policy, Season, Station
from pipeline.inputs.roster import import_roster
from pipeline.inputs.station import read_station
from pipeline.inputs.writing import NewPartner, add_partner, station_text, write_all
from pipeline.inputs.yaml_tree import load_tree
from pipeline.record.inputs import read_inputs
from tests.inputs.helpers import HOME, lay_out

ROSTER = """\
call,name,position.locator,position.height_m,time_zone,bands.3cm.antenna.dish_diameter_m,bands.1.25cm.power_w,\
bands.3cm.modes,unavailable_dates,available,checklist
QX6ICE,"Ice, far north",JP99hw,20,Europe/Oslo,3,5,q65 CW,2027-03-01;2027-03-04/2027-03-06,always,level first | plug in
qb2sea/p,null,RE78ir,,,1.2,,,,,
"""


def contents(folder: Path) -> dict[str, str]:
    """All files of a folder, hidden ones included, by name."""
    return {path.name: path.read_text(encoding="utf-8") for path in folder.iterdir()}


def told(caught: pytest.ExceptionInfo[InputFaults]) -> list[str]:
    """The faults as text."""
    return str(caught.value).splitlines()


def test_new_folder_reads_as_laid_out(tmp_path: Path) -> None:
    folder = tmp_path / "mine" / "stations"
    station, season = new_folder(folder)
    inputs = read_inputs(season)
    assert station.name == "my-station.yaml"
    assert inputs.home.call == "QA0NEW"
    assert inputs.partners == ()
    with pytest.raises(InputFaults, match=r"the folder holds my-station\.yaml already; name another folder\."):
        new_folder(folder)


def test_examples_in_the_new_folder_are_right_too(tmp_path: Path) -> None:
    for path in new_folder(tmp_path):
        lines = path.read_text(encoding="utf-8").splitlines()
        # A comment is "# Words"; an example is a line of YAML with # in its first column.
        lines = [re.sub(r"^#(?! [^ ])", "", line) for line in lines]
        text = "\n".join(lines)
        # Alternatives of a line that stands there already.
        text = text.replace("position: {locator: JO22cc, height_m: 12}\n", "")
        text = text.replace("    antenna: {gain_dbi: 36.0, beamwidth_deg: 2.4}\n", "")
        path.write_text(text + "\n", encoding="utf-8")
    add_partner(tmp_path, NewPartner("QF4LUM", locator="JN58td"))
    (tmp_path / "flux.txt").write_text("2027 03 13 150\n")
    for name in ("family.ics", "robin.ics"):
        (tmp_path / name).write_text("BEGIN:VCALENDAR\nVERSION:2.0\nPRODID:-//tests//EN\nEND:VCALENDAR\n")
    inputs = read_inputs(tmp_path / "season.yaml")
    assert inputs.home.assumed == ()
    # The season's example of a site moves home to the station's example of one.
    assert inputs.home.name == "quarry"
    assert [len(site.horizon) for site in inputs.home.sites] == [3, 1]
    assert inputs.home.presence == Policy().presence
    own = Policy(nights=("fri", "sat", "sun"), latest_hour_on_work_nights="01:00", solar_flux_file="flux.txt")
    assert inputs.season.policy == own
    assert inputs.season.letters.closing == "Good echoes"


def test_new_folder_explains_every_key(tmp_path: Path) -> None:
    station, season = (path.read_text(encoding="utf-8") for path in new_folder(tmp_path))
    for cls in (Station, BandEquipment, Antenna, Mount, Landmark, Battery):
        assert [key for key in fields_of(cls) if f"{key}:" not in station] == []
    for cls in (Season, Policy, SlotMinutes, AssumedSkyline, Letters):
        assert [key for key in fields_of(cls) if f"{key}:" not in season] == []


def test_add_partner(tmp_path: Path) -> None:
    lay_out(tmp_path)
    path = add_partner(
        tmp_path,
        NewPartner("qx6ice/p", locator="jp99HW", dish_diameter_m=2.4, power_w="30", operator="null", language="DE"),
    )
    assert path.read_text(encoding="utf-8") == (
        "call: QX6ICE/P\n"
        "operator: 'null'\n"
        "position: {locator: JP99hw}\n"
        "language: DE\n"
        "bands:\n"
        "  3cm:\n"
        "    antenna: {dish_diameter_m: 2.4}\n"
        "    power_w: 30\n"
    )
    assert path.name == "qx6ice-p.yaml"
    assert path.stat().st_mode & 0o777 == 0o644 or os.name == "nt"


def test_add_partner_refuses_before_it_writes(tmp_path: Path) -> None:
    lay_out(tmp_path)
    before = contents(tmp_path)
    with pytest.raises(InputFaults) as caught:
        add_partner(tmp_path, NewPartner("QX6ICE", locator="JP9Zhw", power_w=-3))
    assert told(caught) == [
        "add QX6ICE: position.locator is 'JP9Zhw'; character 4 is 'Z', where a digit 0 to 9 is meant.",
        "add QX6ICE: bands.3cm.power_w is -3; a power at the feed in watts is meant, more than 0, at most 5000.",
    ]
    with pytest.raises(InputFaults) as caught:
        add_partner(tmp_path, NewPartner("qf4lum", locator="JN58td"))
    assert told(caught) == [
        "add qf4lum: the call QF4LUM has a file already, qf4lum.yaml; edit that one or take it away first."
    ]
    with pytest.raises(InputFaults) as caught:
        add_partner(tmp_path, NewPartner("../x1", locator="JN58td"))
    assert "letters A to Z, digits and '/'" in told(caught)[0]
    assert contents(tmp_path) == before


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(InputFaults, match="there is no folder"):
        add_partner(tmp_path / "none", NewPartner("QF4LUM", locator="JN58td"))


def test_station_round_trip() -> None:
    tree = load_tree(HOME.encode(), "qm7tor.yaml")
    again = load_tree(station_text(tree.data).encode(), "qm7tor.yaml")
    assert again.data == tree.data
    assert read_station(again).station == read_station(tree).station


@pytest.mark.parametrize(
    "text", ["null", "~", "yes", "18:00", "a: b", "# x", "- x", "{x}", "'", '"', "Ω é", "*a", "&a", "1,8"]
)
def test_odd_texts_survive_writing(text: str) -> None:
    tree = {"call": "QA1AA", "name": text, "position": {"locator": "JN58td"}}
    assert load_tree(station_text(tree).encode(), "x").data == tree


def test_roster(tmp_path: Path) -> None:
    season = lay_out(tmp_path)
    roster = tmp_path / "roster.csv"
    roster.write_text(ROSTER, encoding="utf-8")
    paths = import_roster(roster, tmp_path)
    assert [path.name for path in paths] == ["qx6ice.yaml", "qb2sea-p.yaml"]
    season.write_text("home: QM7TOR\nband: 3cm\n", encoding="utf-8")
    stations = {station.call: station for station in read_inputs(season).partners}
    ice = stations["QX6ICE"]
    assert (ice.name, ice.available, ice.checklist) == ("Ice, far north", "always", ("level first", "plug in"))
    assert ice.bands["3cm"].modes == ("Q65", "CW")
    assert ice.bands["3cm"].antenna.dish_diameter_m == 3
    assert ice.bands["1.25cm"].power_w == 5
    assert len(ice.unavailable_dates) == 2
    assert stations["QB2SEA/P"].name == "null"


def test_roster_with_semicolons(tmp_path: Path) -> None:
    roster = tmp_path / "roster.csv"
    roster.write_text("call;position.locator\nQX6ICE;JP99hw\n", encoding="utf-8")
    assert [path.name for path in import_roster(roster, tmp_path)] == ["qx6ice.yaml"]


ROSTER_FAULTS = [
    ("call,position.locator\n", "roster.csv, line 1: the roster has names of columns but no row; write one row a station."),
    ("name,position.locator\nx,JN58td\n", "roster.csv, line 1: there is no column call (found: name, position.locator); the first line names columns."),
    ("call,call\nQX6ICE,\n", "roster.csv, line 1: the column call stands there twice; keep one."),
    ("call,position.locator,position\nQX6ICE,JN58td,\n", "roster.csv, line 1: the column position stands beside columns that begin with it; keep one kind."),
    ("call,position.locater\nQX6ICE,JN58td\n", "roster.csv, line 1: unknown key 'locater' in position; did you mean 'locator'?"),
    ("call,QX6ICE,QF4LUM\nname,Ice,Lum\nposition.locator,JN58td,KP20lg\n", "roster.csv, line 1: the keys stand in the first column; a row a station is meant: turn the table."),
    ("call,position.locator\nname,JN58td\npower_w,JN58td\n", "roster.csv, line 2: call is 'name'; a call sign has at least one letter and one digit; where the row is no station, take it out."),
    ("call,position.locator\nQX6ICE,JN58td,4\n", "roster.csv, line 2: the row has 3 cells for 2 columns; put text with a comma in quotes."),
    ("call,locator,dish_diameter_m,power_w\nQX6ICE,JN58td,1,8,20\n", "roster.csv, line 2: the row has 5 cells for 4 columns; a decimal comma parts a number in two: write dish_diameter_m 1.8."),
    ("call,latitude_deg,longitude_deg,height_m,power_w\nQX6ICE,-48,51,11,37,540,20\n", "roster.csv, line 2: the row has 7 cells for 5 columns; a decimal comma parts a number in two: write latitude_deg -48.51, longitude_deg 11.37."),
    ("call,locator,dish_diameter_m,noise_figure_db\nQX6ICE,JN58td,1,8,2\n", "roster.csv, line 2: the row has 5 cells for 4 columns; a decimal comma parts a number in two: write dish_diameter_m 1.8 or noise_figure_db 8.2."),
    ("call,locator,dish_diameter_m,power_w\nQX6ICE,JN58td,3,8,5\n", "roster.csv, line 2: the row has 5 cells for 4 columns; a decimal comma parts a number in two: write dish_diameter_m 3.8 or power_w 8.5."),
    ('call,position.locator\nQX6ICE,"JN58td\n', "roster.csv, line 2: the row is no CSV; a quotation mark may be left open."),
    ("call,position.locator\nQX6ICE,JN58td\nqx6ice,JN58te\n", "roster.csv, line 3: the call QX6ICE stands in line 2 as well; keep one of the rows."),
    ('call,position.locator,position.height_m\nQX6ICE,JN58td,"1,5"\n', "roster.csv, line 2: position.height_m is '1,5'; write 1.5 with a decimal point."),
    ("call,position.locator\nQX6ICE,JN58td\nQF4LUM,JN58td\n", "roster.csv, line 3: the call QF4LUM has a file already, qf4lum.yaml; edit that one or take it away first."),
]  # fmt: skip


@pytest.mark.parametrize(("text", "sentence"), ROSTER_FAULTS)
def test_roster_fault_leaves_nothing(tmp_path: Path, text: str, sentence: str) -> None:
    folder = tmp_path / "stations"
    folder.mkdir()
    lay_out(folder)
    before = contents(folder)
    roster = tmp_path / "roster.csv"
    roster.write_text(text, encoding="utf-8")
    with pytest.raises(InputFaults) as caught:
        import_roster(roster, folder)
    assert sentence in told(caught)
    assert contents(folder) == before


def without_hard_links(*_: Path) -> None:
    raise PermissionError(1, "Operation not permitted")


@pytest.mark.parametrize("step", ["link", "replace"])
def test_a_disk_that_fails_half_way_leaves_nothing(step: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = getattr(os, step)
    calls: list[Path] = []

    def failing(source: Path, target: Path) -> None:
        calls.append(target)
        if len(calls) == 2:
            raise OSError(28, "No space left on device")
        real(source, target)

    if step == "replace":
        monkeypatch.setattr(os, "link", without_hard_links)
    monkeypatch.setattr(os, step, failing)
    with pytest.raises(InputFaults, match=r"cannot write here \(no space left on device\); nothing was kept"):
        new_folder(tmp_path / "new")
    assert contents(tmp_path / "new") == {}


@pytest.mark.parametrize("links", [True, False])
def test_a_name_that_is_taken_at_the_last_moment_is_not_overwritten(
    links: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also on a file system without hard links; the files placed before go again, and those of others stay."""
    if not links:
        monkeypatch.setattr(os, "link", without_hard_links)
    assert [path.name for path in write_all(tmp_path, {"b.yaml": "b"}, "add")] == ["b.yaml"]
    before = contents(tmp_path)
    with pytest.raises(InputFaults) as caught:
        write_all(tmp_path, {"a.yaml": "new", "b.yaml": "new", "c.yaml": "new"}, "add")
    assert told(caught) == ["add: there is a file b.yaml already; nothing was overwritten."]
    assert contents(tmp_path) == before == {"b.yaml": "b"}


def test_what_a_cut_run_left_of_a_new_file_goes_once_the_file_is_there(tmp_path: Path) -> None:
    """Also where it is there already; what belongs to another file stays, for its run may go on."""
    for name in (".qf4lum.yaml.0a1b2c3d.new", ".qz5kar.yaml.0a1b2c3d.new"):
        (tmp_path / name).write_text("call: Q", "utf-8")
    add_partner(tmp_path, NewPartner("QF4LUM", locator="JN58td"))
    assert {path.name for path in tmp_path.iterdir()} == {"qf4lum.yaml", ".qz5kar.yaml.0a1b2c3d.new"}
    (tmp_path / ".qf4lum.yaml.99999999.new").write_text("call: Q", "utf-8")
    with pytest.raises(InputFaults, match="the call QF4LUM has a file already"):
        add_partner(tmp_path, NewPartner("QF4LUM", locator="JN58td"))
    assert {path.name for path in tmp_path.iterdir()} == {"qf4lum.yaml", ".qz5kar.yaml.0a1b2c3d.new"}


def test_whose_unfinished_file_was_cleared_comes_too_late(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Another run was first with the name, and took away what this one had begun."""
    real = writing.place_new

    def late(finished: Path, path: Path) -> None:
        path.write_text("theirs", "utf-8")
        clear_unfinished(path)
        real(finished, path)

    monkeypatch.setattr(writing, "place_new", late)
    with pytest.raises(InputFaults) as caught:
        write_all(tmp_path, {"b.yaml": "ours"}, "add")
    assert told(caught) == ["add: there is a file b.yaml already; nothing was overwritten."]
    assert contents(tmp_path) == {"b.yaml": "theirs"}


def test_add_partner_with_a_band_alone_still_checks_its_name(tmp_path: Path) -> None:
    with pytest.raises(InputFaults, match="unknown band '10GHz'; did you mean '3cm'"):
        add_partner(tmp_path, NewPartner("QF4LUM", locator="JN58td", band="10GHz"))
    assert not list(tmp_path.iterdir())
