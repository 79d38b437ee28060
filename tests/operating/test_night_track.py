"""The night's track against PyEphem, and its events against every second of the night looked at one by one."""

from __future__ import annotations

import dataclasses
import datetime as dt
from functools import cache, lru_cache

import ephem
import numpy as np
import pytest

from pipeline.ephemeris.refraction import refraction_deg
from pipeline.ephemeris.tracks import see_moon
from pipeline.inputs.model import HorizonPoint, Mount, Position, Station
from pipeline.operating import night_track
from pipeline.operating.night_track import NightTrack, make_night_track
from pipeline.record.inputs import Inputs
from pipeline.windows.nights import nights_of
from pipeline.windows.span import Span
from tests.conftest import Outside
from tests.plan.months import demo_inputs, month_plan, one_station, small_inputs, with_policy

NIGHT = dt.date(2027, 3, 13)
hundredth_deg = 0.01
two_seconds = 2.0


def _track(
    inputs: Inputs, night: dt.date = NIGHT, slots: tuple[tuple[dt.datetime, dt.datetime], ...] = ()
) -> NightTrack:
    return make_night_track(inputs, night, _edges(inputs, night), slots)


@lru_cache(maxsize=16)
def _edges_at(position: Position, night: dt.date) -> tuple[dt.datetime, dt.datetime]:
    return nights_of(
        small_inputs(
            dataclasses.replace(demo_inputs().home, position=position),
            demo_inputs().partners[0],
            first=night,
            last=night,
        ),
        Span(night, night, month_plan().zone),
    ).edges_of(night)


def _edges(inputs: Inputs, night: dt.date) -> tuple[dt.datetime, dt.datetime]:
    """The lowest points about a night of home's."""
    return _edges_at(inputs.home.position, night)


@cache
def _demo() -> NightTrack:
    return _track(demo_inputs())


def _ephem_moon(station: Station, moment: dt.datetime) -> tuple[float, float]:
    """Azimuth and geometric elevation in radians by PyEphem, an ephemeris of its own."""
    place = ephem.Observer()
    place.lat, place.lon = str(station.position.latitude_deg), str(station.position.longitude_deg)
    place.elevation, place.pressure = station.position.height_m, 0
    place.date = ephem.Date(moment.replace(tzinfo=None))
    moon = ephem.Moon(place)
    return float(moon.az), float(moon.alt)


def _apart_deg(first: tuple[float, float], second: tuple[float, float]) -> float:
    return float(np.degrees(ephem.separation(first, second)))


def test_places_against_ephem(outside: Outside) -> None:
    track, home = _demo(), demo_inputs().home
    worst = 0.0
    for row in range(0, track.time_s.size, 47):
        theirs = _ephem_moon(home, track.time_utc[row].to_pydatetime())
        ours = np.radians(track.moon.azimuth_deg[row]), np.radians(track.moon.elevation_deg[row])
        worst = max(worst, _apart_deg(theirs, (float(ours[0]), float(ours[1]))))
    assert worst < hundredth_deg
    outside("PyEphem", len(range(0, track.time_s.size, 47)), f"{worst:.2g} degree", "minutes of a night's pointing")


def test_half_a_beam_by_ephem() -> None:
    """In the time told the Moon moves half a beamwidth where it is fastest, and nowhere further."""
    track, home = _demo(), demo_inputs().home
    step = dt.timedelta(seconds=track.half_beam_s)
    moved = []
    for row in range(0, track.time_s.size, 20):
        moment = track.time_utc[row].to_pydatetime()
        moved.append(_apart_deg(_ephem_moon(home, moment), _ephem_moon(home, moment + step)))
    half = track.beamwidth_deg / 2
    assert max(moved) == pytest.approx(half, rel=0.01)
    # 70 wavelengths over the diameter: 10368.1 MHz on 1.8 m.
    assert half == pytest.approx(70 * 299.792458 / 10_368.1 / 1.8 / 2, rel=1e-9)


def _every_second(inputs: Inputs, track: NightTrack) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Seconds of the pass, azimuth and apparent elevation at each."""
    time = np.arange(track.stretches[0][0] - 60.0, track.stretches[-1][1] + 60.0)
    moon = see_moon(track.sky, track.home, time)
    lift = refraction_deg(moon.elevation_deg, inputs.home.position.height_m) if inputs.season.policy.refraction else 0.0
    return time, moon.azimuth_deg, moon.elevation_deg + lift


def _switches(time: np.ndarray, good: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    change = np.diff(good.astype(int))
    return time[np.flatnonzero(change == 1) + 1], time[np.flatnonzero(change == -1)]


def _seconds(track: NightTrack, kind: str) -> np.ndarray:
    return np.array([track.sky.seconds(event.time_utc) for event in track.events if event.kind == kind])


@pytest.mark.parametrize("refraction", [True, False])
def test_skyline_and_minimum_elevation_second_by_second(refraction: bool) -> None:
    inputs = with_policy(demo_inputs(), refraction=refraction)
    # A ridge in the way of the Moon: it goes behind it and comes out again.
    ridge = tuple(HorizonPoint(a, e) for a, e in ((0, 2), (10, 33), (20, 33), (30, 2), (260, 1)))
    inputs = dataclasses.replace(inputs, home=dataclasses.replace(inputs.home, horizon=ridge))
    track = _track(inputs)
    time, azimuth, elevation = _every_second(inputs, track)
    points = [*ridge, dataclasses.replace(ridge[0], azimuth_deg=360.0)]
    skyline = np.interp(azimuth, [p.azimuth_deg for p in points], [p.elevation_deg for p in points])
    for good, opens, closes in (
        (elevation >= skyline, night_track.CLEARS, night_track.HIDES),
        (elevation >= 5.0, night_track.HIGH_ENOUGH, night_track.LOW),
        (elevation >= 0.0, night_track.RISES, night_track.SETS),
    ):
        begin, end = _switches(time, good)
        assert _seconds(track, opens) == pytest.approx(begin, abs=two_seconds)
        assert _seconds(track, closes) == pytest.approx(end, abs=two_seconds)
    assert len(_seconds(track, night_track.HIDES)) == 2


def test_mount_stops_and_north_second_by_second() -> None:
    inputs = demo_inputs()
    # Stops to both sides of north: the Moon crosses the gap, low enough for the elevation stop never to matter.
    mount = Mount(maximum_elevation_deg=85, azimuth_from_deg=8, azimuth_to_deg=350)
    inputs = dataclasses.replace(inputs, home=dataclasses.replace(inputs.home, mount=mount))
    track = _track(inputs)
    time, azimuth, _ = _every_second(inputs, track)
    begin, end = _switches(time, (azimuth >= 8) & (azimuth <= 350))
    assert _seconds(track, night_track.STOPS) == pytest.approx(end[:1], abs=two_seconds)
    assert _seconds(track, night_track.REACHED) == pytest.approx(begin[-1:], abs=two_seconds)
    jump = time[np.flatnonzero(np.abs(np.diff(azimuth)) > 180)]
    assert _seconds(track, night_track.NORTH) == pytest.approx(jump, abs=two_seconds)
    assert not track.reached[np.abs((track.moon.azimuth_deg + 1) % 360) < 8].any()


def test_events_are_the_edges_of_windows() -> None:
    """Where a window opens or closes by a rule of home, the track tells the same instant."""
    plan = month_plan()
    kinds = {
        ("opens_by", "home horizon"): night_track.CLEARS,
        ("closes_by", "home horizon"): night_track.HIDES,
        ("opens_by", "home minimum elevation"): night_track.HIGH_ENOUGH,
        ("closes_by", "home minimum elevation"): night_track.LOW,
    }
    seen = 0
    for night in (dt.date(2027, 3, 5), NIGHT, dt.date(2027, 3, 19)):
        windows = plan.windows[plan.windows["night"] == night]
        track = _track(
            plan.inputs, night, tuple(zip(windows["window_start_utc"], windows["window_end_utc"], strict=True))
        )
        for row in windows.to_dict("records"):
            for (edge, rule), kind in kinds.items():
                if row[edge] == rule:
                    name = "window_start_utc" if edge == "opens_by" else "window_end_utc"
                    off = _seconds(track, kind) - track.sky.seconds(row[name])
                    assert np.abs(off).min() < 0.3, (row["partner"], edge, rule)
                    seen += 1
    assert seen > 5


def test_one_passage_from_rise_to_set() -> None:
    """The track is what lies between the night's edges, whole: where the Moon sets, no minute up is left out."""
    inputs, night = demo_inputs(), dt.date(2027, 3, 14)
    begin, end = _edges(inputs, night)
    track = _track(inputs, night)
    assert len(track.stretches) == 1
    assert track.sky.seconds(begin) < track.stretches[0][0] < track.stretches[0][1] < track.sky.seconds(end)
    assert [event.kind for event in track.events if event.kind in (night_track.RISES, night_track.SETS)] == [
        night_track.RISES,
        night_track.SETS,
    ]
    # A slot of the passage changes nothing; one of the passage after is not this night's.
    slot = (begin + (end - begin) / 2, begin + (end - begin) / 2 + dt.timedelta(hours=1))
    assert _track(inputs, night, (slot,)).stretches == track.stretches
    later = (end + dt.timedelta(hours=8), end + dt.timedelta(hours=9))
    assert _track(inputs, night, (later,)).stretches == track.stretches


def test_of_two_stretches_in_a_night_the_slots_or_the_length_decide() -> None:
    """Made up: the end of one stretch in sight, a long one and a short one between the edges 0 and 90,000 s."""
    risen, night = [(-5_000.0, 1_000.0), (20_000.0, 50_000.0), (80_000.0, 95_000.0)], (0.0, 90_000.0)
    assert night_track._chosen(risen, night, []) == ((20_000.0, 50_000.0),)
    assert night_track._chosen(risen, night, [(82_000.0, 83_000.0)]) == ((80_000.0, 90_000.0),)
    both = [(500.0, 900.0), (30_000.0, 31_000.0)]
    assert night_track._chosen(risen, night, both) == ((0.0, 1_000.0), (20_000.0, 50_000.0))
    assert night_track._chosen(risen, (51_000.0, 79_000.0), []) == ()


def test_moon_that_stays_down_and_moon_that_stays_up() -> None:
    far_north = one_station("QX6ICE", 84.0, 15.0, 10.0)
    other = one_station("QF4LUM", 60.9, 23.4, 100.0)
    inputs = small_inputs(far_north, other, first=dt.date(2027, 3, 1), last=dt.date(2027, 3, 31))
    down, up = (_track(inputs, night) for night in (dt.date(2027, 3, 1), dt.date(2027, 3, 15)))
    # Declination about -26 and +26 degrees: six degrees from the pole that is under and over the horizon for days.
    assert down.time_s.size == 0
    assert np.isnan(down.half_beam_s)
    assert down.events == ()
    begin, end = _edges(inputs, dt.date(2027, 3, 15))
    assert up.stretches == ((up.sky.seconds(begin), up.sky.seconds(end)),)
    assert abs(up.time_s.size - (end - begin).total_seconds() / 60.0) <= 1
    assert not {event.kind for event in up.events} & {night_track.RISES, night_track.SETS}
    assert up.apparent_elevation_deg.min() > 15
