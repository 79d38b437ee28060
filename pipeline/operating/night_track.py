"""The Moon over home in one night, minute by minute: where the dish points, what stands in the way, how fast it moves.

From the sky of that night alone, home's place, skyline and mount; apparent elevation by ITU-R P.834 (physics of the
plan). Edges come from the same search as the windows' (`moon_passes`), so that both tell the same second.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.ephemeris.refraction import refraction_deg
from pipeline.ephemeris.sky import Sky, make_sky
from pipeline.ephemeris.tracks import Bearing, Sites, see_moon, see_sun, separation_deg
from pipeline.inputs.model import Station
from pipeline.link.doppler import echo_path
from pipeline.pairs.equipment import beam_of, pair_frequency_mhz
from pipeline.record.inputs import Inputs
from pipeline.windows.instants import as_instant, utc
from pipeline.windows.moon_passes import MoonPasses, find_passes, look_at_moon
from pipeline.windows.rules import MOUNT_AZIMUTH, MOUNT_ELEVATION, Rules, make_rules
from pipeline.windows.scene import sites_of

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]
Stretch = tuple[float, float]

MINUTE_S = 60.0
# So far beyond the night its sky is computed.
MARGIN = dt.timedelta(days=1)
# An event this near the rising or the setting is the same one.
SAME_S = 1.0


@dataclass(frozen=True)
class Event:
    """Something that changes what the dish can do; `kind` is one of the module's words below."""

    time_utc: dt.datetime
    kind: str
    azimuth_deg: float
    apparent_elevation_deg: float


RISES, SETS = "rises", "sets"
CLEARS, HIDES = "clears the skyline", "behind the skyline"
REACHED, STOPS = "within the mount's reach", "beyond the mount's reach"
HIGH_ENOUGH, LOW = "above the minimum elevation", "below the minimum elevation"
NORTH = "through north"


@dataclass(frozen=True)
class NightTrack:
    """Home's Moon pass of a night; arrays (m,) stand at whole minutes, and all are empty where the Moon stays down.

    `apparent_elevation_deg` is what the dish points at; `moon.elevation_deg` is geometric. `half_beam_s` is the least
    time in which the Moon moves half a beamwidth over this pass, nan where it does not rise.
    """

    night: dt.date
    sky: Sky
    home: Sites
    time_s: FloatArray
    time_utc: pd.DatetimeIndex
    moon: Bearing
    apparent_elevation_deg: FloatArray
    skyline_deg: FloatArray
    clear: BoolArray
    reached: BoolArray
    high_enough: BoolArray
    sun: Bearing
    sun_apparent_elevation_deg: FloatArray
    sun_separation_deg: FloatArray
    home_echo_doppler_hz: FloatArray
    echo_delay_s: FloatArray
    stretches: tuple[Stretch, ...]
    events: tuple[Event, ...]
    beamwidth_deg: float
    half_beam_s: float

    @property
    def usable(self) -> BoolArray:
        """Clear of the skyline and within the mount's reach; the minimum elevation is a wish and not among them."""
        return self.clear & self.reached


def make_night_track(
    inputs: Inputs,
    night: dt.date,
    edges: tuple[dt.datetime, dt.datetime],
    slots: Sequence[tuple[dt.datetime, dt.datetime]] = (),
    bands: Sequence[str] = (),
) -> NightTrack:
    """The Moon over home between the edges (UTC) of a night; where it rises twice, what holds slots or is the longest.

    `bands` are those in use tonight, the season's where none is named: the narrowest beam counts. A Moon that does not
    set is cut at the night's edges. Raises EphemerisUnavailable.
    """
    bands = bands or [inputs.season.band]
    begin, end = (instant.replace(second=0, microsecond=0) for instant in edges)
    sky = make_sky(begin - MARGIN, end + MARGIN, inputs.season.ephemeris.file)
    bounds = (sky.seconds(edges[0]), sky.seconds(edges[1]))
    wanted = [(sky.seconds(start), sky.seconds(end)) for start, end in slots]
    under = _HomeSky(inputs.home, sky, sites_of(sky, [inputs.home]), inputs.season.policy.refraction)
    risen = _risen(under)
    stretches = _chosen(risen, bounds, wanted)
    cut = {time for one in stretches for time in one} - {time for one in risen for time in one}
    # The sky computed ends a day beyond the night: a Moon that is up there has not risen or set then.
    events = _events(under, stretches, cut | {0.0, sky.duration_s})
    frequency = pair_frequency_mhz(inputs, inputs.season.band)
    equipment = inputs.home.bands[inputs.season.band]
    beamwidth = min(beam_of(inputs.home, band, pair_frequency_mhz(inputs, band)).beamwidth_deg for band in bands)
    return _at_minutes(under, night, stretches, events, beamwidth, equipment.frequency_mhz or frequency)


@dataclass(frozen=True)
class _HomeSky:
    """Home under the night's sky; `refraction` tells whether the rules judge the apparent elevation."""

    home: Station
    sky: Sky
    sites: Sites
    refraction: bool

    def passes(self, rules: Rules) -> MoonPasses:
        """The Moon's passes by some rules of home's."""
        look = look_at_moon(self.sky, self.sites, self.refraction)
        return find_passes(look, rules, 1, 0.0, self.sky.duration_s)[0]


def _risen(under: _HomeSky) -> list[Stretch]:
    """When the Moon stands above 0 degree, or above a skyline that lies lower still (a mountain top)."""
    kinds = [make_rules([under.home], open_sky=True), make_rules([under.home], horizon_only=True)]
    passes = [under.passes(rules) for rules in kinds]
    joined: list[Stretch] = []
    for start, end in sorted((a, b) for one in passes for a, b in zip(one.start_s, one.end_s, strict=True)):
        if joined and start <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], end))
        else:
            joined.append((start, end))
    return joined


def _chosen(risen: list[Stretch], night: Stretch, slots: list[Stretch]) -> tuple[Stretch, ...]:
    """The night's part of what holds slots, else of the longest stretch in it."""
    mine = [(max(start, night[0]), min(end, night[1])) for start, end in risen]
    mine = [(start, end) for start, end in mine if end > start]
    held = [one for one in mine if any(one[0] < end and start < one[1] for start, end in slots)]
    return tuple(held or sorted(mine, key=lambda one: one[0] - one[1])[:1])


def _events(under: _HomeSky, stretches: tuple[Stretch, ...], cut: set[float]) -> tuple[Event, ...]:
    """All that happens in these stretches, by time; at a `cut` the Moon neither rises nor sets."""
    home, sky, sites = under.home, under.sky, under.sites
    bare = dataclasses.replace(home, horizon=(), minimum_elevation_deg=0.0)
    mount = dataclasses.replace(bare, mount=home.mount)
    low = dataclasses.replace(bare, minimum_elevation_deg=home.minimum_elevation_deg, mount=type(home.mount)())
    rules = [
        (CLEARS, HIDES, make_rules([home], horizon_only=True)),
        (REACHED, STOPS, make_rules([mount])),
        (HIGH_ENOUGH, LOW, make_rules([low])),
    ]
    found: list[tuple[float, str]] = []
    for start, end in stretches:
        found += [(time, kind) for time, kind in ((start, RISES), (end, SETS)) if time not in cut]
        for opens, closes, rule in rules:
            passes = under.passes(rule)
            edges = [(time, opens) for time in passes.start_s] + [(time, closes) for time in passes.end_s]
            found += [(time, kind) for time, kind in edges if start + SAME_S < time < end - SAME_S]
        found += [(time, NORTH) for time in _through_north(sky, sites, start, end)]
    found.sort()
    times = np.array([time for time, _ in found])
    seen = see_moon(sky, sites, times)
    apparent = seen.elevation_deg + refraction_deg(seen.elevation_deg, sites.height_m)
    return tuple(
        Event(as_instant(stamp), kind, float(azimuth), float(elevation))
        for (_, kind), stamp, azimuth, elevation in zip(
            found, utc(sky.start, times), seen.azimuth_deg, apparent, strict=True
        )
    )


def _through_north(sky: Sky, sites: Sites, start_s: float, end_s: float) -> list[float]:
    """When the azimuth passes from 359 to 0 or back, to the second."""
    grid = np.append(np.arange(start_s, end_s, MINUTE_S), end_s)
    azimuth = see_moon(sky, sites, grid).azimuth_deg
    crossings = np.flatnonzero(np.abs(np.diff(azimuth)) > 180.0)
    times = []
    for index in crossings:
        fine = np.arange(grid[index], grid[index + 1] + 1.0)
        jump = np.abs(np.diff(see_moon(sky, sites, fine).azimuth_deg)) > 180.0
        times.append(float(fine[int(np.argmax(jump))]))
    return times


def _at_minutes(
    under: _HomeSky,
    night: dt.date,
    stretches: tuple[Stretch, ...],
    events: tuple[Event, ...],
    beamwidth_deg: float,
    frequency_mhz: float,
) -> NightTrack:
    home, sky, sites = under.home, under.sky, under.sites
    # The sky begins at a whole minute.
    time = np.concatenate(
        [np.zeros(0), *(np.arange(np.ceil(a / MINUTE_S), b / MINUTE_S) * MINUTE_S for a, b in stretches)]
    )
    moon, sun = see_moon(sky, sites, time), see_sun(sky, sites, time)
    apparent, sun_apparent = (
        body.elevation_deg + refraction_deg(body.elevation_deg, sites.height_m) for body in (moon, sun)
    )
    rules, owner = make_rules([home]), np.zeros(time.size, dtype=np.int64)
    judged = apparent if under.refraction else moon.elevation_deg
    clearance = rules.clearances(owner, moon.azimuth_deg, judged)
    skyline = rules.mask(owner, moon.azimuth_deg)
    echo = echo_path(sky, sites, sites, time)
    return NightTrack(
        night=night,
        sky=sky,
        home=sites,
        time_s=time,
        time_utc=utc(sky.start, time),
        moon=moon,
        apparent_elevation_deg=apparent,
        skyline_deg=skyline,
        clear=judged >= skyline,
        reached=clearance[[MOUNT_ELEVATION, MOUNT_AZIMUTH]].min(axis=0) >= 0.0,
        high_enough=judged >= home.minimum_elevation_deg,
        sun=sun,
        sun_apparent_elevation_deg=sun_apparent,
        sun_separation_deg=separation_deg(moon, sun),
        home_echo_doppler_hz=echo.shift_hz(frequency_mhz),
        echo_delay_s=echo.delay_s,
        stretches=stretches,
        events=events,
        beamwidth_deg=beamwidth_deg,
        half_beam_s=_half_beam_s(sky, sites, time, beamwidth_deg),
    )


def _half_beam_s(sky: Sky, sites: Sites, time_s: FloatArray, beamwidth_deg: float) -> float:
    """Half a beamwidth over the Moon's fastest motion across this sky (a wide beam: as if it kept that speed)."""
    if not time_s.size:
        return float("nan")
    half = MINUTE_S / 2
    moved = separation_deg(see_moon(sky, sites, time_s - half), see_moon(sky, sites, time_s + half))
    return float(beamwidth_deg / 2 / moved.max() * MINUTE_S)
