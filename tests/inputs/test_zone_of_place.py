"""The zone of a place: cities of the IANA database's zone.tab, places near borders, at coasts, at sea."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from pipeline.commands import asking
from pipeline.explain.places import place_oddities
from pipeline.inputs.faults import InputFaults
from pipeline.inputs.laying_out import NewHome, new_folder
from pipeline.inputs.locator import position_of
from pipeline.inputs.station import read_station
from pipeline.inputs.writing import NewPartner, add_partner, with_zone_of_place
from pipeline.inputs.yaml_tree import load_tree
from pipeline.inputs.zone_of_place import clock, clock_told, zone_of, zones_open, zones_told
from pipeline.inputs.zones_said import table
from pipeline.wording.plausibility import oddity_words


def open_at(locator: str) -> tuple[str, ...]:
    return zones_open(*position_of(locator), locator)


def test_each_zones_own_city_goes_by_its_own_clock() -> None:
    """The principal places of zone.tab; Urumqi lives by two clocks, and the country's is named first."""
    others = {name for _, name, north, east in table() if clock(zone_of(north, east)) != clock(name)}
    assert others == {"Asia/Urumqi"}
    assert open_at("NN33") == ("Asia/Shanghai", "Asia/Urumqi")


@pytest.mark.parametrize(
    ("locator", "zone"),
    [
        ("RE54ab", "Pacific/Auckland"), ("RE43en", "Pacific/Auckland"), ("JO31", "Europe/Berlin"),
        ("JN49", "Europe/Berlin"), ("JN48", "Europe/Berlin"), ("EN80", "America/New_York"),
        ("KG50", "Africa/Johannesburg"), ("AE16", "Pacific/Chatham"), ("QD95", "Antarctica/Macquarie"),
        ("HM77", "Atlantic/Azores"), ("IM58", "Europe/Lisbon"), ("QG62lt", "Australia/Brisbane"),
        ("GF25", "America/Montevideo"),
    ],
)  # fmt: skip
def test_a_locator_leaves_no_doubt_of_its_clock(locator: str, zone: str) -> None:
    """Otago and Southland, Germany at its borders, islands, squares whose middle lies in the sea; from an atlas."""
    (found,) = open_at(locator)
    assert clock(found) == clock(zone)
    assert found == zone or locator in ("JN48", "EN80", "KG50")


def test_a_coast_lends_its_zone_and_the_open_sea_goes_by_longitude() -> None:
    """Nautical zones of 15 degrees, named with the sign turned as in the database."""
    coast_deg = 40.0, -9.0  # Portugal, from memory
    assert zone_of(coast_deg[0], coast_deg[1] - 0.9) == "Europe/Lisbon"
    assert zone_of(coast_deg[0], coast_deg[1] - 3.0) == "Etc/GMT+1"
    assert zone_of(-50.0, -1.0) == "Etc/GMT"
    for east in range(-170, 180, 40):
        assert clock(zone_of(-57.9, east))[0] == timedelta(hours=round(east / 15)), east


def test_clocks_are_told_by_what_they_show() -> None:
    """Offsets of the IANA database, from memory."""
    assert clock_told("Pacific/Auckland") == "UTC+13 in January, UTC+12 in July"
    assert clock_told("Pacific/Chatham") == "UTC+13:45 in January, UTC+12:45 in July"
    assert clock_told("America/St_Johns") == "UTC−3:30 in January, UTC−2:30 in July"
    assert clock_told("Atlantic/Reykjavik") == "UTC all year"
    # Alike in January and July, and apart in the weeks of spring: summer time begins on other days.
    assert clock_told("Asia/Hebron") == clock_told("Asia/Jerusalem")
    assert {"Asia/Hebron", "Asia/Jerusalem"} <= set(open_at("KM72"))
    five = zones_told(("Asia/Tokyo",) * 5)
    assert five.endswith("(UTC+9 all year) or one of 1 more")


def test_a_clock_in_doubt_is_asked_for(tmp_path: Path) -> None:
    """Maine and New Brunswick share FN65."""
    home = NewHome("QA1AA", locator="FN65", dish_diameter_m="1.8")
    with pytest.raises(InputFaults) as caught:
        new_folder(tmp_path / "mine", home)
    (fault,) = caught.value.faults
    for word in ("America/Moncton (UTC−4", "America/New_York (UTC−5", "say which: --time-zone America/"):
        assert word in fault.message
    assert not (tmp_path / "mine").exists()
    with pytest.raises(InputFaults, match="at sea"):
        new_folder(tmp_path / "mine", NewHome("QA1AA", locator="IB59"))
    new_folder(tmp_path / "mine", NewHome("QA1AA", locator="FN65", time_zone="America/Moncton"))
    assert "time_zone: America/Moncton" in (tmp_path / "mine" / "my-station.yaml").read_text(encoding="utf-8")


def test_a_terminal_is_asked_again_until_the_clock_is_known(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Where the place leaves no doubt its zone is what Enter takes, with what its clock shows."""
    whole = {"call": "QA1AA", "dish_diameter_m": "1.8", "power_w": "40", "operator": "Mira", "email": "m@oaks.example"}
    prompts: list[tuple[str, str]] = []
    answers = iter(["", "America/Moncton", ""])

    def prompt(question: str, default: str, **_: bool) -> str:
        prompts.append((question, default))
        return next(answers) or default

    monkeypatch.setattr(asking.typer, "prompt", prompt)
    assert asking.asked(NewHome(**whole, locator="FN65")).time_zone == "America/Moncton"
    told = capsys.readouterr().err
    assert told.startswith("By the place your time zone may be America/")
    assert told.endswith("  this is needed\n")
    assert asking.asked(NewHome(**whole, locator="RE54ab")).time_zone == "Pacific/Auckland"
    assert prompts[-1] == ("Your time zone, UTC+13 in January, UTC+12 in July", "Pacific/Auckland")


def test_a_partners_zone_is_taken_by_its_place_and_marked(tmp_path: Path) -> None:
    new_folder(tmp_path, NewHome("QA1AA", locator="RE54ab"))
    told = {}
    for call, locator in (("QB8OHI", "EN80"), ("QB8OHJ", "FN65"), ("QB8OHK", "IB59")):
        partner = with_zone_of_place(NewPartner(call, locator=locator, dish_diameter_m=1.2))
        told[call] = add_partner(tmp_path, partner).read_text(encoding="utf-8")
    mark = "  # by its place, not told: UTC−5 in January, UTC−4 in July"
    assert f"\ntime_zone: America/New_York{mark}\n" in told["QB8OHI"]
    assert "time_zone" not in told["QB8OHJ"] + told["QB8OHK"]
    said = with_zone_of_place(NewPartner("QB8OHI", locator="EN80", time_zone="America/Chicago"))
    assert (said.time_zone, said.zone_is_told) == ("America/Chicago", True)
    read = read_station(load_tree(told["QB8OHI"].encode(), "")).station
    assert read is not None
    assert read.time_zone == "America/New_York"


def test_a_clock_that_the_place_cannot_have_is_told() -> None:
    told = {}
    for locator, zone in (
        ("RE54ab", "Pacific/Auckland"),
        ("RE54ab", "Pacific/Chatham"),
        ("FN65", "America/Moncton"),
        ("FN65", "America/New_York"),
        ("IB59", "Atlantic/Cape_Verde"),
    ):
        text = f"call: QA1AA\nposition: {{locator: {locator}}}\ntime_zone: {zone}\n"
        station = read_station(load_tree(text.encode(), "")).station
        assert station is not None
        told[zone] = [words for one in place_oddities(station) if "(" in (words := oddity_words(one))]
    assert {zone: words for zone, words in told.items() if words} == {
        "Pacific/Chatham": [
            "time_zone is Pacific/Chatham (UTC+13:45 in January, UTC+12:45 in July); by the place it is"
            " Pacific/Auckland (UTC+13 in January, UTC+12 in July)."
        ]
    }
