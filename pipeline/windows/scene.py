"""The scene of the link: all stations under one sky, and what both ends of each pair see at all steps.

From sky, stations and steps; asked of the sky once, so that every stage behind it takes the scene and asks no more.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.ephemeris.sky import Sky
from pipeline.ephemeris.tracks import Bodies, Geocentre, Sites, bodies_at, make_sites, see_from_centre
from pipeline.inputs.model import Station
from pipeline.windows.rules import Rules, make_rules
from pipeline.windows.samples import End, Steps, see_from

IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Standpoints:
    """All stations under one sky: where each stands, and its rules for the Moon. Home is 0, partner i is i + 1."""

    sky: Sky
    sites: Sites
    rules: Rules

    def home_sees(self, bodies: Bodies) -> End:
        """What home sees at times (n,)."""
        return see_from(bodies, self.sites.take(np.zeros(bodies.spin_rad.size, dtype=np.int64)))


@dataclass(frozen=True)
class Scene:
    """Moon and Sun at all steps (n,) as both ends and the Earth's centre see them.

    `months` (n,) pick each step's air: the month (UTC) in which its window begins, outside windows that of the instant.
    So a window has the same figures in whatever period it is planned.
    """

    standpoints: Standpoints
    steps: Steps
    months: IntArray
    home: End
    partner: End
    centre: Geocentre

    @property
    def sky(self) -> Sky:
        """The sky over all stations."""
        return self.standpoints.sky

    def take(self, rows: IntArray) -> Scene:
        """The same scene at some of its steps, by index (m,)."""
        return Scene(
            self.standpoints,
            self.steps.take(rows),
            self.months[rows],
            self.home.take(rows),
            self.partner.take(rows),
            self.centre.take(rows),
        )


def sites_of(sky: Sky, stations: Sequence[Station]) -> Sites:
    """The stations' places as vectors, in their order."""
    places = [station.position for station in stations]
    return make_sites(
        sky,
        [place.latitude_deg for place in places],
        [place.longitude_deg for place in places],
        [place.height_m for place in places],
    )


def make_standpoints(sky: Sky, stations: Sequence[Station]) -> Standpoints:
    """Home and its partners, in this order, under a sky."""
    return Standpoints(sky, sites_of(sky, stations), make_rules(stations))


def make_scene(standpoints: Standpoints, steps: Steps, months: IntArray | None = None) -> Scene:
    """The scene at these steps (n,); `months` (n,) where the windows of the steps do not tell whose air counts."""
    bodies = bodies_at(standpoints.sky, steps.time_s)
    return Scene(
        standpoints=standpoints,
        steps=steps,
        months=steps.months(standpoints.sky) if months is None else months,
        home=standpoints.home_sees(bodies),
        partner=see_from(bodies, standpoints.sites.take(steps.pair + 1)),
        centre=see_from_centre(bodies),
    )
