"""Figures that pass every form and imply something else are asked about in the writer's own figures.

What is usual is common practice, no source; factors of units are their definitions (NIST Special Publication 811).
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from functools import cache
from typing import Any

import pytest

from pipeline.commands.remarks import new_lines, slip_lines
from pipeline.explain.digits import with_two_exchanged
from pipeline.explain.frequencies import LOOKED_FOR_MHZ, frequency_oddities
from pipeline.explain.oddities import SLIPS, HoursTurned, Odd
from pipeline.explain.places import place_oddities
from pipeline.explain.plausibility import oddities
from pipeline.explain.season_slips import dates_left, months_over, season_oddities
from pipeline.explain.slip_values import YearLeft
from pipeline.explain.usual_figures import unusual_of_season, unusual_of_station
from pipeline.inputs.bands import band_table
from pipeline.inputs.busy import BusyFile
from pipeline.inputs.model import Antenna, Battery, DateRange, HorizonPoint, Hours, Landmark, Position, SetupMinutes
from pipeline.record.inputs import Inputs, read_inputs
from pipeline.reports.places import demo_folder
from pipeline.wording.plausibility import oddity_words

FIRST, LAST = dt.date(2027, 3, 1), dt.date(2027, 3, 31)


@cache
def demo() -> Inputs:
    return read_inputs(demo_folder() / "season.yaml")


def station(call: str = "QM7TOR", **changes: Any) -> Any:
    one = next(one for one in (demo().home, *demo().partners) if one.call == call)
    return dataclasses.replace(one, **changes)


def on_3cm(**changes: Any) -> Any:
    home = station()
    return dataclasses.replace(home, bands=home.bands | {"3cm": dataclasses.replace(home.bands["3cm"], **changes)})


def policy(**changes: Any) -> Any:
    return dataclasses.replace(demo().season, policy=dataclasses.replace(demo().season.policy, **changes))


def told(found: Any) -> list[str]:
    return [oddity_words(one) for one in found]


def test_the_demo_stays_quiet() -> None:
    assert slip_lines(demo(), True, demo_folder()) == []


@pytest.mark.parametrize(
    ("minutes", "words"),
    [
        ((1.5, 0.7, 0.3), "arrive: 1.5, align: 0.7, check: 0.3, and none of these is usual; are they hours, and is "
         "arrive: 90, align: 42, check: 18 meant?"),
        ((1.5, 40, 20), "setup_minutes.arrive is 1.5, and 10 to 600 is usual; are these hours, and is 90 meant?"),
        ((20, 60, 20), "align is 60 and arrive 20; are the two exchanged, and is align: 20, arrive: 60 meant?"),
    ],
)  # fmt: skip
def test_minutes_of_setting_up(minutes: tuple[float, float, float], words: str) -> None:
    kind: Any = SetupMinutes
    season = policy(setup_minutes=kind(*minutes))
    (one,) = told(unusual_of_season(season))
    assert words in one


def test_costs_that_are_exchanged() -> None:
    (one,) = told(unusual_of_season(policy(night_cost=0.01 * 5, hour_cost=0.5)))
    assert one.endswith("is hour_cost: 0.05, night_cost: 0.5 meant?")
    assert unusual_of_season(policy(night_cost=0.0, hour_cost=0.2)) == ()


def test_currents_that_are_exchanged_are_asked_before_any_efficiency() -> None:
    battery = Battery(voltage_v=12.8, capacity_ah=200, receive_a=18, transmit_a=3, other_a=2)
    one = station(battery=battery)
    assert told((*unusual_of_station(one), *oddities(one, "3cm", 10_368.1))) == [
        "battery.receive_a is 18 and transmit_a 3; are the two exchanged, and is receive_a: 3, transmit_a: 18 meant?"
    ]
    sound = dataclasses.replace(battery, receive_a=3, transmit_a=18)
    assert unusual_of_station(station(battery=sound)) == ()


def test_milliamperes_and_volts_in_the_place_of_ampere_hours() -> None:
    wrong = Battery(voltage_v=200.0, capacity_ah=12.8, receive_a=3, transmit_a=18)
    (one,) = told(unusual_of_station(station(battery=wrong)))
    assert one.endswith("capacity_ah 12.8; are the two exchanged, and is voltage_v: 12.8, capacity_ah: 200 meant?")
    small = Battery(voltage_v=12.8, capacity_ah=200.0, receive_a=350, transmit_a=450, other_a=40)
    (one,) = told(unusual_of_station(station(battery=small)))
    assert "are they milliamperes, and is receive_a: 0.35, transmit_a: 0.45, other_a: 0.04 meant?" in one


@pytest.mark.parametrize(
    ("one", "words"),
    [
        (on_3cm(antenna=Antenna(dish_diameter_m=10.0)), "are these feet, and is 3.048 meant?"),
        (on_3cm(power_w=2.4, antenna=Antenna(dish_diameter_m=50.0)), "is dish_diameter_m: 2.4, power_w: 50 meant?"),
        (on_3cm(noise_figure_db=0.1, loss_before_preamplifier_db=0.8),
         "is loss_before_preamplifier_db: 0.1, noise_figure_db: 0.8 meant?"),
        (on_3cm(antenna=Antenna(gain_dbi=43.2, beamwidth_deg=11.0)), "goes beamwidth_deg 1.1."),
        (on_3cm(antenna=Antenna(gain_dbi=1.1, beamwidth_deg=43.2)),
         "is beamwidth_deg: 1.1, gain_dbi: 43.2 meant?"),
        (on_3cm(frequency_mhz=10386.1), "is 10368.1 meant, with two digits exchanged?"),
        (on_3cm(frequency_mhz=10230.0), "10367 to 10371 and 10449 to 10453 MHz; is it right?"),
    ],
)  # fmt: skip
def test_one_question_of_equipment(one: Any, words: str) -> None:
    found = [
        oddity for oddity in oddities(one, "3cm", 10_368.1) if oddity.kind.name.startswith(("POINT", "BEAM")) is False
    ]
    (sentence,) = told(found)
    assert sentence.endswith(words)


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("noise_figure_db", 8.0, "is a preamplifier at the feed meant, or 0.8?"),
        ("pointing_error_deg", 2.0, "under half a decibel; is 0.2 meant?"),
        ("antenna", Antenna(dish_diameter_m=24.0), "is larger than nearly all; is 2.4 meant?"),
        ("antenna", Antenna(dish_diameter_m=2.4, aperture_efficiency=0.95), "0.5 to 0.7 is usual."),
    ],
)
def test_a_point_that_was_lost(key: str, value: Any, words: str) -> None:
    slips = [one for one in oddities(on_3cm(**{key: value}), "3cm", 10_368.1) if one.kind in SLIPS]
    (sentence,) = told(slips)
    assert sentence.endswith(words)


def test_wishes_beyond_what_is_usual_and_a_battery_of_another_point() -> None:
    wishes: Any = tuple(dataclasses.replace(one, priority=75.0) for one in (demo().season.partners or ())[:1])
    (one,) = told(unusual_of_season(dataclasses.replace(demo().season, partners=wishes)))
    assert one == "partners.1.priority is 75, and 0.05 to 20 is usual."
    assert told(unusual_of_station(station(battery=Battery(voltage_v=128.0, capacity_ah=200.0)))) == [
        "battery.voltage_v is 128, and 5 to 60 is usual; is 12.8 meant?"
    ]
    assert told(unusual_of_station(station(hours_to_get_there=45.0))) == [
        "hours_to_get_there is 45, and 0 to 12 is usual; are these minutes, and is 0.75 meant?"
    ]


def test_new_stations_are_looked_at_as_they_are_written(tmp_path: Any) -> None:
    text = "call: {}\nposition: {{locator: IN51rp, height_m: 320}}\ntime_zone: Europe/Lisbon\n"
    text += "bands:\n  3cm: {{power_w: {}}}\n"
    files = [tmp_path / "qp3alt.yaml", tmp_path / "qc8tin.yaml"]
    for path, power in zip(files, ("0.06", "40"), strict=True):
        path.write_text(text.format(path.stem.upper(), power), "utf-8")
    found = new_lines(files)
    assert [one.partition(": ")[0] for one in found] == ["qp3alt.yaml, line 5", "qc8tin.yaml, line 2"]
    assert "are these kilowatts, and is 60 meant?" in found[0]
    assert "position and time_zone are the very same as in qp3alt.yaml" in found[1]


def test_where_contacts_are_looked_for_holds_the_usual_frequency_of_each_band() -> None:
    for band, pieces in LOOKED_FOR_MHZ.items():
        assert list(frequency_oddities(band_table()[band].typical_mhz, band, "frequency_mhz")) == []
        limits = band_table()[band]
        assert all(limits.lowest_mhz <= first < last <= limits.highest_mhz for first, last in pieces)


def test_neighbours_exchanged() -> None:
    assert list(with_two_exchanged(12.5, 1)) == [21.5, 15.2]
    assert -11.091 in list(with_two_exchanged(-11.901))


def test_a_skyline_from_the_zenith() -> None:
    heights = (87.0, 88.5, 83.5)
    points = tuple(HorizonPoint(azimuth_deg=90.0 * place, elevation_deg=one) for place, one in enumerate(heights))
    found = [one for one in oddities(station(horizon=points), "3cm", 10_368.1) if "zenith" in oddity_words(one)]
    assert "is elevation_deg meant as 3 at azimuth 0, 1.5 at azimuth 90, 6.5 at azimuth 180?" in oddity_words(found[0])
    canyon = (*points[:2], HorizonPoint(azimuth_deg=180.0, elevation_deg=20.0))
    kinds = [one.kind for one in oddities(station(horizon=canyon), "3cm", 10_368.1)]
    assert (Odd.SKYLINE_HIGH in kinds, Odd.ZENITH_ANGLES in kinds) == (True, False)
    low = oddities(station(minimum_elevation_deg=85.0), "3cm", 10_368.1)
    assert next(oddity_words(one) for one in low).endswith("is 8.5 meant, or 5, counted from the zenith?")


@pytest.mark.parametrize(
    ("north", "east", "words"),
    [
        (44.4612, 11.901, "is 68 km away by longitude_deg 11.901; is longitude_deg 11.091 meant, 4.3 km away?"),
        (11.0901, 44.4612, "is latitude_deg 44.4612 and longitude_deg 11.0901 meant, 4.2 km away?"),
        (44.4612, -11.0901, "is longitude_deg 11.0901 meant, 4.2 km away?"),
    ],
)
def test_a_landmark_that_is_near_when_written_otherwise(north: float, east: float, words: str) -> None:
    place = dataclasses.replace(demo().home.position, latitude_deg=44.4386, longitude_deg=11.0472, height_m=640.0)
    mark = Landmark(name="campanile", latitude_deg=north, longitude_deg=east, height_m=410.0)
    (one,) = told(place_oddities(station(position=place, time_zone="Europe/Rome", landmarks=(mark,))))
    assert one.endswith(words)
    peak = Landmark(name="peak", latitude_deg=44.0, longitude_deg=10.3, height_m=1900.0)
    assert place_oddities(station(position=place, time_zone="Europe/Rome", landmarks=(peak,))) == ()


def test_a_file_that_began_as_a_copy() -> None:
    """What two stations hardly share by chance."""
    first = station("QF4LUM")
    copy = dataclasses.replace(station("QJ2KAW"), **{
        key: getattr(first, key) for key in ("position", "time_zone", "horizon", "available", "bands", "assumed")
    })  # fmt: skip
    (one,) = told(place_oddities(copy, demo().home, [demo().home, first]))
    assert one.startswith("position, time_zone, horizon, available and bands are the very same as in qf4lum.yaml")
    mail = dataclasses.replace(station("QJ2KAW"), email="one@lumme.example")
    other = dataclasses.replace(first, email="one@lumme.example")
    assert told(place_oddities(mail, demo().home, [other]))[0].startswith("email is the very same as in qf4lum.yaml")
    home = dataclasses.replace(first, position=demo().home.position)
    found = place_oddities(home, demo().home, [demo().home])
    # A clock of its own beside the copied place is no second slip.
    assert [one.kind for one in found if one.kind is not Odd.PLACE_FROM_LOCATOR] == [Odd.COPIED]


@pytest.mark.parametrize(
    ("stretches", "words"),
    [
        ([("2026-03-05", "2026-03-05"), ("2026-03-20", "2026-03-22")],
         "is [2027-03-05, 2027-03-20/2027-03-22] meant?"),
        ([("2028-03-20", "2028-03-22")], "is [2027-03-20/2027-03-22] meant?"),
        ([("2026-08-05", "2026-08-20")], ""),
        ([("2027-09-03", "2027-09-03")], "is [2027-03-09] meant, with day and month exchanged?"),
        ([("2027-05-05", "2027-05-05")], ""),
        ([("2026-03-05", "2026-03-05"), ("2027-03-20", "2027-03-22")], ""),
        ([("2026-02-20", "2027-03-02")], ""),
    ],
)  # fmt: skip
def test_absences_of_another_year(stretches: list[tuple[str, str]], words: str) -> None:
    kind: Any = DateRange
    ranges = tuple(kind(dt.date.fromisoformat(one), dt.date.fromisoformat(other)) for one, other in stretches)
    found = told(dates_left(station(unavailable_dates=ranges), FIRST, LAST))
    assert [one.endswith(words) for one in found] == ([True] if words else [])


@pytest.mark.parametrize(
    ("due", "meant"),
    [("2026-02-24", "2027-02-24"), ("2028-02-24", "2027-02-24"), ("2026-12-24", ""), ("2027-02-24", "")],
)
def test_answers_of_another_year(due: str, meant: str) -> None:
    letters: Any = dataclasses.replace(demo().season.letters, reply_by=dt.date.fromisoformat(due))
    inputs = dataclasses.replace(demo(), season=dataclasses.replace(demo().season, letters=letters))
    found = told(season_oddities(inputs, FIRST, LAST))
    assert [one.endswith(f"is {meant} meant?") for one in found] == ([True] if meant else [])


def test_a_remark_names_the_line_of_its_key(tmp_path: Any) -> None:
    for path in demo_folder().glob("*.yaml"):
        (tmp_path / path.name).write_bytes(path.read_bytes())
    text = (tmp_path / "qf4lum.yaml").read_text("utf-8")
    power = next(line for line in text.splitlines() if "power_w" in line)
    (tmp_path / "qf4lum.yaml").write_text(text.replace(power, power.split("power_w")[0] + "power_w: 0.04"), "utf-8")
    number = text.splitlines().index(power) + 1
    (one,) = slip_lines(read_inputs(tmp_path / "season.yaml"), True, tmp_path)
    assert one.startswith(f"qf4lum.yaml, line {number}: power_w 0.04 is very little")


ENTRY = "BEGIN:VEVENT\r\nUID:1\r\nDTSTART:{0}T180000Z\r\nDTEND:{0}T200000Z\r\n{1}END:VEVENT\r\n"


@pytest.mark.parametrize(
    ("days", "more", "is_told"),
    [(["20260305"], "", True), (["20260305"], "RRULE:FREQ=WEEKLY\r\n", False), (["20270102"], "", False),
     (["20260305", "20270310"], "", False)],
)  # fmt: skip
def test_a_calendar_of_another_season(days: list[str], more: str, is_told: bool) -> None:
    """RFC 5545; an entry that repeats goes on."""
    text = "BEGIN:VCALENDAR\r\n" + "".join(ENTRY.format(day, more) for day in days) + "END:VCALENDAR\r\n"
    found = told(dates_left(station(busy_files=(BusyFile("ann.ics", text.encode()),)), FIRST, LAST))
    assert [one.startswith("busy: the last entry of ann.ics is of 2026-03-05") for one in found] == [True] * is_told


@pytest.mark.parametrize(
    ("days", "start", "is_told"),
    [
        (("mon", "tue"), "19:00", True),
        (("fri",), "19:00", False),
        (("sat",), "02:00", False),
        (("sat",), "12:00", True),
    ],
)
def test_nights_on_which_home_is_never_there(days: tuple[str, ...], start: str, is_told: bool) -> None:
    kind: Any = Hours
    home = station(available=(kind(days, dt.time.fromisoformat(start), dt.time(23)),))
    inputs: Any = dataclasses.replace(demo(), home=home, season=policy(nights=("fri",)))
    found = told(season_oddities(inputs, FIRST, LAST))
    assert [one.startswith("policy.nights has fri alone") for one in found] == [True] * is_told


def test_azimuths_in_tens_of_degrees() -> None:
    for azimuths, is_told in (
        ((0, 9, 18, 36), True),
        ((0, 9, 18, 37), False),
        ((5, 9, 18, 36), False),
        ((0, 36), False),
    ):
        points = tuple(HorizonPoint(azimuth_deg=one, elevation_deg=3.0) for one in azimuths)
        kinds = [one.kind for one in oddities(station(horizon=points), "3cm", 10_368.1)]
        assert (Odd.AZIMUTHS_IN_TENS in kinds) is is_told


@pytest.mark.parametrize(
    ("north", "east", "locator", "zone", "meant"),
    [
        (-36.215, -16.118, None, "America/Argentina/Buenos_Aires", "or is longitude_deg -61.118 meant?"),
        (60.9, 32.4, None, "Europe/Helsinki", "or is longitude_deg 23.4 meant?"),
        (4.4375, 91.042, "NJ54mk", "Europe/Rome", "or is locator JN54mk meant?"),
        (53.1, 61.0, None, "Europe/Warsaw", "or is longitude_deg 16 meant?"),
        (-12.0, 15.0, None, "Europe/Warsaw", "is the zone."),
    ],
)
def test_a_place_with_two_characters_exchanged_against_its_zone(
    north: float, east: float, locator: str | None, zone: str, meant: str
) -> None:
    """Zones by boundaries on the map; the city of a zone is that of zone.tab (IANA time zone database)."""
    place = Position(latitude_deg=north, longitude_deg=east, height_m=100.0, locator=locator)
    found = place_oddities(station(position=place, time_zone=zone, landmarks=()))
    (sentence,) = [oddity_words(one) for one in found if one.kind is not Odd.PLACE_FROM_LOCATOR]
    assert sentence.endswith(meant)


@pytest.mark.parametrize(
    ("start", "end", "evening"),
    [
        (dt.time(18, 30), dt.time(11, 45), dt.time(23, 45)),
        (dt.time(12), dt.time(9), dt.time(21)),
        (dt.time(18, 30), dt.time(8, 59), None),
        (dt.time(11, 59), dt.time(11), None),
        (dt.time(18, 30), dt.time(12), None),
    ],
)
def test_an_evening_that_ends_before_noon_ended_by_a_clock_of_twelve_hours(
    start: dt.time, end: dt.time, evening: dt.time | None
) -> None:
    hours = (Hours(days=("sat",), start=start, until=end),)
    found = [one for one in unusual_of_station(station(available=hours)) if isinstance(one, HoursTurned)]
    assert [one.evening for one in found] == ([] if evening is None else [evening])


@pytest.mark.parametrize(
    ("today", "years", "meant"),
    [(dt.date(2027, 4, 1), 1, ("2028-03",)), (dt.date(2027, 3, 31), 1, None), (dt.date(2027, 4, 1), -1, None)],
)
def test_months_that_are_over_are_most_likely_last_years(
    today: dt.date, years: int, meant: tuple[str, ...] | None
) -> None:
    due = dt.date(2027 + years, 2, 20)
    left = YearLeft("letters.reply_by", ((due, due),), ((due.replace(year=2027), due.replace(year=2027)),))
    found = months_over(["2027-03"], [left], LAST, today)
    assert (None if found is None else found.meant) == meant
    assert months_over(["2027-03"], [], LAST, dt.date(2027, 4, 1)) is None
