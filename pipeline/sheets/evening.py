"""The sky over home from the crew's arrival to its leaving: Sun, Moon and the own echo, minute by minute.

From a Sky of these hours alone, home's rules and equipment, by the same stages as the plan's link.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.ephemeris.refraction import refraction_deg
from pipeline.ephemeris.sky import make_sky
from pipeline.link.path_loss import moon_disc_deg
from pipeline.link.polarization import polarization_loss
from pipeline.link.spread import half_power_share, limb_to_limb_hz
from pipeline.pairs.budget import path_terms, signal
from pipeline.pairs.ends import PairEnd, home_alone
from pipeline.pairs.equipment import activity_of
from pipeline.pairs.reception import hear
from pipeline.radio_sky.moon_brightness import moon_temperature_k
from pipeline.record.inputs import Inputs
from pipeline.windows.rules import HORIZON, MOUNT_AZIMUTH, MOUNT_ELEVATION, Rules
from pipeline.windows.scene import make_standpoints

FloatArray = npt.NDArray[np.float64]
Stretch = tuple[dt.datetime, dt.datetime]

STEP_S = 60.0
# The main lobe should stand clear of the skyline by a beamwidth, and a wide one at least by this.
CLEAR_AT_MOST_DEG = 5.0


@dataclass(frozen=True)
class Body:
    """Sun or Moon each minute, (n,): where the dish points (refraction included), and height over the skyline.

    `reach_deg` is the least of what the mount leaves in azimuth and elevation; negative where it cannot point there.
    """

    azimuth_deg: FloatArray
    elevation_deg: FloatArray
    clearance_deg: FloatArray
    reach_deg: FloatArray


@dataclass(frozen=True)
class Evening:
    """Home's sky each minute from `start`; `echo_db` is in 2500 Hz and not a number with the Moon down."""

    start: dt.datetime
    minutes: int
    end: PairEnd
    sun: Body
    moon: Body
    sun_separation_deg: FloatArray
    moon_disc_deg: FloatArray
    moon_k: FloatArray
    echo_db: FloatArray
    echo_width_hz: FloatArray

    def index(self, instant: dt.datetime) -> int:
        """The whole minute nearest to an instant."""
        return int(np.clip(round((instant - self.start).total_seconds() / STEP_S), 0, self.minutes - 1))

    def stretches(self, holds: npt.NDArray[np.bool_]) -> tuple[Stretch, ...]:
        """First and last minute of each run of minutes in which something holds."""
        edges = np.diff(np.concatenate([[False], holds, [False]]).astype(np.int8))
        first, last = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1) - 1
        return tuple((self.instant(int(a)), self.instant(int(b))) for a, b in zip(first, last, strict=True))

    def instant(self, index: int) -> dt.datetime:
        """A minute as an instant."""
        return self.start + dt.timedelta(seconds=STEP_S * index)

    def clear_stretches(self, body: Body) -> tuple[Stretch, ...]:
        """When a body stands a beamwidth over the skyline, within the mount's reach."""
        least = min(self.end.receiver.beam.beamwidth_deg, CLEAR_AT_MOST_DEG)
        return self.stretches((body.clearance_deg >= least) & (body.reach_deg >= 0.0))

    def seen_stretches(self, body: Body) -> tuple[Stretch, ...]:
        """When a body's centre stands over the skyline."""
        return self.stretches(body.clearance_deg >= 0.0)


def make_evening(inputs: Inputs, band: str, start: dt.datetime, until: dt.datetime) -> Evening:
    """Every minute from `start` to `until` (aware, whole minutes).

    Raises EphemerisUnavailable where the kernel does not cover the night.
    """
    sky = make_sky(start, until, inputs.season.ephemeris.file)
    minutes = int((until - start).total_seconds() // STEP_S) + 1
    time: FloatArray = np.arange(minutes, dtype=np.float64) * STEP_S
    standpoints = make_standpoints(sky, [inputs.home])
    end, centre = home_alone(inputs, band, standpoints, time)
    seen, rules, frequency, elongation = end.seen, standpoints.rules, end.frequency_mhz, centre.elongation_deg
    height = inputs.home.position.height_m
    sun_elevation = seen.sun.elevation_deg + refraction_deg(seen.sun.elevation_deg, height)
    up = seen.apparent_elevation_deg >= 0.0
    echo = np.where(up, _own_echo_db(inputs, end, elongation, band), np.nan)
    width = limb_to_limb_hz(sky, end.sites, end.sites, time, end.transmit_mhz) * half_power_share(frequency)
    return Evening(
        start=start,
        minutes=minutes,
        end=end,
        sun=_body(rules, seen.sun.azimuth_deg, sun_elevation),
        moon=_body(rules, seen.moon.azimuth_deg, seen.apparent_elevation_deg),
        sun_separation_deg=seen.sun_separation_deg,
        moon_disc_deg=moon_disc_deg(seen.moon.range_km),
        moon_k=np.asarray(moon_temperature_k(frequency, elongation - 180.0)),
        echo_db=echo,
        echo_width_hz=np.asarray(width),
    )


def _body(rules: Rules, azimuth_deg: FloatArray, elevation_deg: FloatArray) -> Body:
    clear = rules.clearances(np.zeros(azimuth_deg.size, dtype=np.int64), azimuth_deg, elevation_deg)
    reach = np.minimum(clear[MOUNT_ELEVATION], clear[MOUNT_AZIMUTH])
    return Body(azimuth_deg, elevation_deg, clear[HORIZON], reach)


def _own_echo_db(inputs: Inputs, end: PairEnd, elongation_deg: FloatArray, band: str) -> FloatArray:
    """Home's own echo in 2500 Hz, as the plan's `home_echo_snr_db`, for any minute."""
    heard = hear(end, elongation_deg, activity_of(inputs.season.policy))
    feed = end.equipment.polarization
    loss = polarization_loss(np.zeros(elongation_deg.size), feed, feed, end.frequency_mhz).for_signal_db()
    return signal(end, end, path_terms(end, end, loss, band), heard.now.total_k)
