"""The board of fields: shared Moon by PyEphem minute by minute, sleep by the Sun, land by the places of time zones."""

import datetime as dt
import re
from importlib.resources import files

import ephem
import numpy as np
import pytest

from pipeline.inputs.locator import locator_of, position_of
from pipeline.outlook.board import STEP_MINUTES, Board, half_way, land_fields, pieces_of, shared_minutes, sleeps
from pipeline.plan.plan import Plan
from tests.conftest import Outside
from tests.plan.months import month_plan

MINUTE = dt.timedelta(minutes=1)


@pytest.fixture(scope="module")
def plan() -> Plan:
    return month_plan()


def height_deg(latitude_deg: float, longitude_deg: float, moment: dt.datetime) -> float:
    """Topocentric geometric elevation of the Moon's centre by PyEphem (Moshier's and Meeus's series)."""
    place = ephem.Observer()
    place.lat, place.lon, place.pressure = str(latitude_deg), str(longitude_deg), 0.0
    place.date = moment.replace(tzinfo=None)
    return float(np.degrees(ephem.Moon(place).alt))


def up(place: tuple[float, float], moments: list[dt.datetime]) -> np.ndarray:
    return np.array([height_deg(*place, moment) > 5.0 for moment in moments])


def free_minutes(plan: Plan, board: Board) -> list[dt.datetime]:
    """The demo's Saturday hours by its file, 16:00 to 03:00, minute by minute."""
    begin = dt.datetime.combine(board.night, dt.time(16, 0), tzinfo=plan.zone).astimezone(dt.UTC)
    return [begin + MINUTE * k + MINUTE / 2 for k in range(11 * 60)]


def test_there_is_a_board_for_each_night_that_is_set_up(plan: Plan) -> None:
    assert [board.night for board in plan.boards] == plan.nights_with_slots
    assert all({one.name for one in board.fields} == set(land_fields()) for board in plan.boards)


def test_shared_time_is_that_of_another_ephemeris(plan: Plan, outside: Outside) -> None:
    """Saturday the 13th: all of home's free hours by its file; edges may stray by a piece at either end."""
    board = next(one for one in plan.boards if one.night == dt.date(2027, 3, 13))
    moments = free_minutes(plan, board)
    home = plan.inputs.home.position
    moments = [
        one for one, seen in zip(moments, up((home.latitude_deg, home.longitude_deg), moments), strict=True) if seen
    ]
    assert board.free is not None
    assert abs(moments[0] - board.free[0]) <= MINUTE * STEP_MINUTES
    assert abs(moments[-1] - board.free[1]) <= MINUTE * STEP_MINUTES
    worst = 0.0
    fields = board.fields[::7]
    for field in fields:
        seen = up(position_of(field.name), moments)
        worst = max(worst, abs(float(seen.sum()) - field.shared_minutes))
        if seen.any():
            halfway = np.array(moments)[seen][int(seen.sum()) // 2]
            assert field.middle is not None
            assert abs(halfway - field.middle) <= 2 * MINUTE * STEP_MINUTES
    assert worst <= 2 * STEP_MINUTES
    outside("PyEphem", len(fields), f"{worst:.1f} minute", "fields' shared Moon")


def test_who_sleeps_goes_by_the_mean_sun(plan: Plan) -> None:
    """Mean solar time runs four minutes a degree ahead of Greenwich; 23 to 7 is common practice, no source."""
    checked = 0
    for board in plan.boards:
        for field in board.fields:
            if field.middle is not None:
                longitude = position_of(field.name)[1]
                sun = (field.middle + dt.timedelta(minutes=4 * longitude)).time()
                # The middle is told to the minute.
                if all(abs(sun.hour * 60 + sun.minute - edge) > 1 for edge in (7 * 60, 23 * 60)):
                    assert field.asleep == (sun >= dt.time(23) or sun < dt.time(7)), field
                    checked += 1
    assert checked > 100
    assert [sleeps(hour * 60.0, 0.0) for hour in (6.99, 7.0, 22.99, 23.0, 24.0)] == [True, False, False, True, True]


def test_pieces_fill_their_stretches_and_half_is_half() -> None:
    middle, length = pieces_of(np.array([[0, 12], [20, 21], [30, 30]]))
    assert length.tolist() == [4.0, 4.0, 4.0, 1.0]
    assert middle.tolist() == [2.0, 6.0, 10.0, 20.5]
    over = np.array([[True, False, True, True], [False, False, False, False]])
    assert shared_minutes(over, length).tolist() == [9.0, 0.0]
    assert half_way(over, length).tolist() == [2, 0]


def test_tones_begin_at_a_quarter_of_an_hour_and_deepen_with_time(plan: Plan) -> None:
    for board in plan.boards:
        for field in board.fields:
            expected = sum(field.shared_minutes >= least for least in (15, 60, 120, 240))
            assert field.tone == expected


def test_every_place_that_names_a_time_zone_stands_in_a_field_of_land(outside: Outside) -> None:
    """The IANA database's zone.tab: principal places in degrees and minutes (ISO 6709), all round the world."""
    text = (files("tzdata") / "zoneinfo" / "zone.tab").read_text(encoding="utf-8")
    places = re.findall(r"^\w\w\t([+-]\d{4,6})([+-]\d{5,7})\t", text, re.MULTILINE)

    def degrees(found: str, whole: int) -> float:
        digits = found[1:]
        value = int(digits[:whole]) + int(digits[whole : whole + 2]) / 60.0
        return -value if found[0] == "-" else value

    fields = {
        locator_of(degrees(latitude, 2), degrees(longitude, 3), 2)
        for latitude, longitude in places
        if degrees(latitude, 2) > -60.0
    }
    assert len(places) > 300
    assert fields <= set(land_fields()), fields - set(land_fields())
    outside("IANA zone.tab", len(places), "0 field", "places on land")


def test_the_open_sea_is_left_out() -> None:
    """By any atlas: the farthest point from land (48.9 S 123.4 W), the middle South Atlantic, south of the Azores."""
    for latitude, longitude in ((-48.9, -123.4), (-35.0, -30.0), (25.0, -45.0)):
        assert locator_of(latitude, longitude, 2) not in land_fields()
    assert len(land_fields()) == len(set(land_fields())) == 194
