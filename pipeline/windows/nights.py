"""Nights: each one passage of the Moon over home, from one lowest point to the next; so every window lies in one night.

From the sky and home's place: the Moon's transits by its longitude, moved to where its elevation is least or greatest
(declination and parallax change meanwhile). A night carries the local date on which the Moon stands highest, the date
before where that is before six in the morning.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from pipeline.ephemeris.sky import Sky, make_sky
from pipeline.ephemeris.timescale import EphemerisUnavailable
from pipeline.ephemeris.tracks import Sites, make_sites, see_moon
from pipeline.record.inputs import Inputs
from pipeline.windows.span import Span

FloatArray = npt.NDArray[np.float64]

MORNING = dt.timedelta(hours=6)
DAY = dt.timedelta(days=1)
# The Moon's longitude turns by 14.5 degrees an hour: between steps as short as this it is straight to a few seconds.
TRANSIT_STEP_S = 1800.0
# From the transit to the extreme of elevation by parabolas through three points; two rounds leave less than a second.
PARABOLA_STEP_S = 300.0
ROUNDS = 4
# Within two degrees of a pole the elevation follows the declination and has no extreme a day: there the transit stays.
FARTHEST_S = 7200.0


class NoNight(EphemerisUnavailable):
    """The Moon's passages carry none of the dates asked for; the text is one sentence for the user."""


@dataclass(frozen=True)
class Nights(Span):
    """The nights that carry a span's dates, n of them, without gaps between; a date may be without one.

    `edges` are the n + 1 lowest points of the Moon that bound them, `highest` its n highest ones, all UTC.
    """

    dates: tuple[dt.date, ...]
    edges: tuple[dt.datetime, ...]
    highest: tuple[dt.datetime, ...]

    @property
    def start(self) -> dt.datetime:
        """When the first night begins, UTC."""
        return self.edges[0]

    @property
    def end(self) -> dt.datetime:
        """When the last night ends, UTC."""
        return self.edges[-1]

    def edges_of(self, date: dt.date) -> tuple[dt.datetime, dt.datetime]:
        """Begin and end of the night that carries a date, UTC. Raises ValueError for a date without a night."""
        place = self.dates.index(date)
        return self.edges[place], self.edges[place + 1]

    def edges_s(self, origin: dt.datetime) -> FloatArray:
        """The lowest points in seconds from `origin`, (k,), one more than nights."""
        return np.array([(edge - origin).total_seconds() for edge in self.edges])

    def night_index(self, time_s: npt.ArrayLike, origin: dt.datetime) -> npt.NDArray[np.int64]:
        """Which night each time (seconds from `origin`, any shape) falls in; -1 before the first, n after the last."""
        return np.searchsorted(self.edges_s(origin), np.asarray(time_s, dtype=float), side="right").astype(np.int64) - 1


def make_nights(span: Span, sky: Sky, home: Sites) -> Nights:
    """The nights of a span; `home` is one site, the sky must reach over `span.sky_edges`.

    Raises NoNight where none of the dates has one.
    """
    highest, lowest = extreme_points(sky, home)
    # Nights that lie whole in the sky.
    highest = highest[(highest > lowest[0]) & (highest < lowest[-1])]
    instants = [sky.instant(time) for time in highest]
    dates = dates_of(instants, span.zone)
    mine = [place for place, date in enumerate(dates) if span.first_night <= date <= span.last_night]
    if not mine:
        raise NoNight(
            f"{span.first_night} has no night: each is one passage of the Moon, which skips a date about once a month; "
            f"plan {span.first_night - DAY} or {span.first_night + DAY}"
        )
    edges = [sky.instant(time) for time in lowest[mine[0] : mine[-1] + 2]]
    return Nights(
        first_night=span.first_night,
        last_night=span.last_night,
        zone=span.zone,
        dates=tuple(dates[place] for place in mine),
        edges=tuple(edges),
        highest=tuple(instants[place] for place in mine),
    )


def joined(span: Span, parts: Sequence[Nights]) -> Nights:
    """The nights of neighbouring spans, in order, as those of one span."""
    return Nights(
        first_night=span.first_night,
        last_night=span.last_night,
        zone=span.zone,
        dates=tuple(date for part in parts for date in part.dates),
        edges=(parts[0].edges[0], *(edge for part in parts for edge in part.edges[1:])),
        highest=tuple(instant for part in parts for instant in part.highest),
    )


def nights_of(inputs: Inputs, span: Span) -> Nights:
    """The nights of a span at home, from a sky of their own.

    Raises EphemerisUnavailable where the kernel is missing or does not cover the span, NoNight where it has none.
    """
    sky = make_sky(*span.sky_edges, inputs.season.ephemeris.file)
    position = inputs.home.position
    return make_nights(span, sky, make_sites(sky, position.latitude_deg, position.longitude_deg, position.height_m))


def dates_of(highest: Sequence[dt.datetime], zone: ZoneInfo) -> list[dt.date]:
    """The date that each night carries, by when the Moon stands highest in it (UTC, in order).

    Passages lie more than 24 hours apart, so a date comes twice only on a day of 25: the first of both then takes the
    date before, which is free, for the passage before that one came before six.
    """
    dates = [(instant.astimezone(zone).replace(tzinfo=None) - MORNING).date() for instant in highest]
    return [date - DAY if date in dates[place + 1 : place + 2] else date for place, date in enumerate(dates)]


def extreme_points(sky: Sky, site: Sites) -> tuple[FloatArray, FloatArray]:
    """When the Moon stands highest, (n,), and when lowest, (k,), over one site, s of the sky; to 2 h of its edges.

    In order, by geometric elevation of the Moon's centre.
    """
    grid = np.arange(0.0, sky.duration_s, TRANSIT_STEP_S)
    moon = sky.to_earth(sky.to_date(sky.moon_seen_km(grid), grid), grid)
    place = site.place_km.reshape(3)
    # Hour angle of the Moon, rad: rises with time.
    angle = np.unwrap(np.arctan2(place[1], place[0]) - np.arctan2(moon[:, 1], moon[:, 0]))
    found = []
    for half, sign in ((0.0, 1.0), (0.5, -1.0)):
        turns = np.arange(np.ceil(angle[0] / (2 * np.pi) - half), angle[-1] / (2 * np.pi) - half)
        transit = np.interp((turns + half) * 2 * np.pi, angle, grid)
        transit = transit[
            (transit > FARTHEST_S + PARABOLA_STEP_S) & (transit < sky.duration_s - FARTHEST_S - PARABOLA_STEP_S)
        ]
        found.append(_extreme(sky, site, transit, sign))
    return found[0], found[1]


def _extreme(sky: Sky, site: Sites, transit_s: FloatArray, sign: float) -> FloatArray:
    """From each transit to the greatest elevation (`sign` 1) or the least (-1) near it."""
    sites = site.take(np.zeros((3, transit_s.size), dtype=np.int64))
    steps = np.array([-PARABOLA_STEP_S, 0.0, PARABOLA_STEP_S])[:, None]
    time = transit_s
    for _ in range(ROUNDS):
        before, here, after = sign * see_moon(sky, sites, time + steps).elevation_deg
        bend = before - 2.0 * here + after
        shift = np.where(bend < 0.0, 0.5 * PARABOLA_STEP_S * (before - after) / np.where(bend < 0.0, bend, 1.0), np.inf)
        moved = time + shift
        time = np.where(np.abs(moved - transit_s) <= FARTHEST_S, moved, transit_s)
    return time
