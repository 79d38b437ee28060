"""Skies over the instants of a log: stretches without long gaps, each with its Moon, Sun, sites, and who sees the Moon.

By the stages of `planning`, at the log's own dates whatever the season's months.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.ephemeris.refraction import refraction_deg
from pipeline.ephemeris.sky import Sky, covering
from pipeline.ephemeris.tracks import see_moon
from pipeline.pairs.equipment import beam_of, pair_frequency_mhz
from pipeline.record.inputs import Inputs
from pipeline.windows.rules import make_rules
from pipeline.windows.scene import Standpoints, make_standpoints

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

# Room for the window that holds an instant, and for instants a day off.
MARGIN = dt.timedelta(days=3)
# A window that opens at a level horizon has its edge there to 0.1 s, as in `explain`.
SMALL_DEG = 0.001


@dataclass(frozen=True)
class Stretch:
    """Some of the instants, by index, in order of time, with the sky over them; standpoint 0 is home, i partner i."""

    rows: IntArray
    time_s: FloatArray
    standpoints: Standpoints

    @property
    def sky(self) -> Sky:
        """The sky over all stations."""
        return self.standpoints.sky


def stretches(inputs: Inputs, instants: Sequence[dt.datetime]) -> list[Stretch]:
    """Skies that cover all instants (aware). Raises EphemerisUnavailable where the kernel does not reach them."""
    found = []
    for rows, sky in covering(instants, MARGIN, inputs.season.ephemeris.file):
        time_s = np.array([sky.seconds(instants[row]) for row in rows])
        found.append(Stretch(np.array(rows), time_s, make_standpoints(sky, [inputs.home, *inputs.partners])))
    return found


@dataclass(frozen=True)
class Sight:
    """How the Moon stood at times shifted: degrees above each end's skyline (2, n, shifts), and whether it served both.

    The skyline is the surveyed mask and at least the level horizon; elevation is apparent.
    """

    above_deg: FloatArray
    served: npt.NDArray[np.bool_]


def sight(
    inputs: Inputs, stretch: Stretch, partner: IntArray, bands: Sequence[str], time_s: FloatArray, shifts_s: FloatArray
) -> Sight:
    """The Moon at both ends, `partner` (n,) being the site at each of `time_s` (n,); `shifts_s` (n, shifts).

    Shifts are at most two days either way. It serves above the level horizon, but for a small dip above the mask too.
    """
    rules = make_rules([inputs.home, *inputs.partners], horizon_only=True)
    dips = {key: _dips_deg(inputs, *key) for key in set(zip(partner.tolist(), bands, strict=True))}
    dip = np.array([dips[key] for key in zip(partner.tolist(), bands, strict=True)])
    above = np.empty((2, *shifts_s.shape))
    served = np.ones(shifts_s.shape, dtype=bool)
    for end, site in enumerate((np.zeros_like(partner), partner)):
        chosen = stretch.standpoints.sites.take(site).against_times()
        moon = see_moon(stretch.sky, chosen, time_s[:, None] + shifts_s)
        apparent = moon.elevation_deg + refraction_deg(moon.elevation_deg, chosen.height_m)
        mask = rules.mask(site[:, None], moon.azimuth_deg)
        above[end] = apparent - np.maximum(mask, 0.0)
        served &= (apparent >= -SMALL_DEG) & (apparent >= mask - dip[:, end, None])
    return Sight(above, served)


def _dips_deg(inputs: Inputs, site: int, band: str) -> tuple[float, float]:
    """How far behind the mask the Moon may stand at home and at a partner for a record to count.

    A quarter of the beamwidth: there the edge takes 11 dB, and what it takes beyond nobody can predict.
    """
    stations = (inputs.home, inputs.partners[site - 1])
    if any(band not in station.bands for station in stations):
        return SMALL_DEG, SMALL_DEG
    frequency = pair_frequency_mhz(inputs, band)
    home, partner = (beam_of(station, band, frequency).beamwidth_deg / 4.0 for station in stations)
    return SMALL_DEG + home, SMALL_DEG + partner
