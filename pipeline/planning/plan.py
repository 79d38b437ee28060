"""One plan: every stage in order, from the inputs to the tables that reports are made of.

Stations and season → sky → passes → windows → samples → nights → partners. Nothing is read or written here.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from base64 import b32encode
from collections.abc import Callable
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
from geographiclib.geodesic import Geodesic

from pipeline.ephemeris.sky import make_sky
from pipeline.inputs.model import Inputs, Station
from pipeline.inputs.modes import Mode
from pipeline.planning import tables
from pipeline.planning.budget import link_columns
from pipeline.planning.equipment import pair_frequency_mhz, sites_of
from pipeline.planning.moon_passes import Look, find_passes, look_at_moon
from pipeline.planning.nights import advise
from pipeline.planning.no_window import STEP_S, no_window_reason
from pipeline.planning.outcomes import window_figures
from pipeline.planning.period import MARGIN, Period, make_period
from pipeline.planning.rules import Rules, make_rules
from pipeline.planning.samples import make_steps, sample_paths
from pipeline.planning.windows import Windows, mutual_windows

Progress = Callable[[str], None]


@dataclass(frozen=True)
class Plan:
    """All that reports are made of. Frames have the columns of DEVELOPERS.md; quantities not computed are absent."""

    inputs: Inputs
    number: str
    period: Period
    windows: pd.DataFrame
    samples: pd.DataFrame
    nights: pd.DataFrame
    partners: pd.DataFrame
    strip: pd.DataFrame
    modes: tuple[Mode | None, ...]
    notes: tuple[str, ...]
    kernel: str
    clock_note: str

    @property
    def first_night(self) -> dt.date:
        """Date of the first night."""
        return self.period.first_night

    @property
    def last_night(self) -> dt.date:
        """Date of the last night."""
        return self.period.last_night

    @property
    def zone(self) -> ZoneInfo:
        """Home's time zone."""
        return self.period.zone

    @property
    def band(self) -> str:
        """The season's band."""
        return self.inputs.season.band

    @property
    def frequency_mhz(self) -> float:
        """Home's frequency on the season's band."""
        return pair_frequency_mhz(self.inputs, self.band)

    @property
    def assumed(self) -> dict[str, tuple[str, ...]]:
        """Which figures of which station are defaults: call to dotted keys."""
        return {s.call: s.assumed for s in (self.inputs.home, *self.inputs.partners) if s.assumed}


def plan_number(inputs: Inputs, period: Period) -> str:
    """Four characters of the hash over all inputs and the period: the same inputs give the same number."""
    digest = hashlib.sha256(f"{inputs.digest} {period.first_night} {period.last_night}".encode()).digest()
    return b32encode(digest).decode()[:4]


def make_plan(inputs: Inputs, today: dt.date, progress: Progress | None = None) -> Plan:
    """The plan of the season's period.

    Raises EphemerisUnavailable where the kernel is missing or does not cover the period.
    """
    tell = progress or (lambda _: None)
    zone = ZoneInfo(inputs.home.time_zone or "UTC")
    period = make_period(inputs.season, zone, today)
    stations = [inputs.home, *inputs.partners]
    bands = [wish.band or inputs.season.band for wish in inputs.wishes]

    tell("Moon and Sun over the period")
    sky = make_sky(period.start - MARGIN, period.end + MARGIN, inputs.season.ephemeris.file)
    sites = sites_of(sky, stations)
    tell(f"Moon passes of {len(stations)} stations")
    rules = make_rules(stations)
    look = look_at_moon(sky, sites, inputs.season.policy.refraction)
    passes = find_passes(look, rules, len(stations), 0.0, sky.duration_s)
    period_s = (sky.seconds(period.start), sky.seconds(period.end))
    pairs = [mutual_windows(passes[0], other, period_s) for other in passes[1:]]

    tell("Link figures inside the windows")
    pair = np.repeat(np.arange(len(pairs)), [w.start_s.size for w in pairs])
    start = np.concatenate([w.start_s for w in pairs]) if pairs else np.zeros(0)
    end = np.concatenate([w.end_s for w in pairs]) if pairs else np.zeros(0)
    steps = make_steps(start, end, pair, sky.start, inputs.season.policy.step_minutes)
    paths = sample_paths(sky, sites, steps)
    calls = [s.call for s in inputs.partners]
    night = period.night_index(start, sky.start)
    samples = tables.samples_table(sky, paths, period, night, calls, bands)
    links = link_columns(inputs, sky, sites, rules, paths, bands, inputs.modes, period.first_night.month)
    samples = samples.assign(**links.columns)
    windows = tables.windows_table(sky, pairs, paths, period, night, calls, bands)
    windows = windows.assign(**window_figures(samples, steps, inputs, links.modes, pair))

    tell("Nights")
    home_pass = find_passes(look, make_rules(stations[:1], horizon_only=True), 1, 0.0, sky.duration_s)[0]
    nights = tables.nights_table(sky, sites, period, windows, home_pass)
    nights = advise(inputs, period, nights, windows, samples)
    partners = tables.partners_table(windows, calls, bands)
    reasons = _reasons(inputs, look, rules, pairs, period_s)
    partners["no_window_reason"] = [reasons.get(call, "") for call in calls]
    _add_geodesics(partners, inputs.home, inputs.partners)
    return Plan(
        inputs=inputs,
        number=plan_number(inputs, period),
        period=period,
        windows=windows,
        samples=samples,
        nights=nights,
        partners=partners,
        strip=tables.strip_table(sky, sites, period),
        modes=links.modes,
        notes=(f"Moon and Sun from JPL kernel {sky.kernel}", sky.clock_note, *inputs.warnings),
        kernel=sky.kernel,
        clock_note=sky.clock_note,
    )


def _reasons(
    inputs: Inputs, look: Look, rules: Rules, pairs: list[Windows], period_s: tuple[float, float]
) -> dict[str, str]:
    """A sentence for each partner without a window."""
    time = np.arange(period_s[0], period_s[1], STEP_S)
    found: dict[str, str] = {}
    for index, (station, windows) in enumerate(zip(inputs.partners, pairs, strict=True), start=1):
        if windows.start_s.size:
            continue
        seen = [look(np.full(time.size, owner), time) for owner in (0, index)]
        azimuth, elevation = np.stack([s[0] for s in seen]), np.stack([s[1] for s in seen])
        found[station.call] = no_window_reason((inputs.home.call, station.call), rules, (0, index), azimuth, elevation)
    return found


def _add_geodesics(partners: pd.DataFrame, home: Station, others: tuple[Station, ...]) -> None:
    """Great-ellipse distance and bearing from home (WGS84, Karney 2013)."""
    lines = [
        Geodesic.WGS84.Inverse(
            home.position.latitude_deg,
            home.position.longitude_deg,
            other.position.latitude_deg,
            other.position.longitude_deg,
        )
        for other in others
    ]
    partners["ground_distance_km"] = [line["s12"] / 1000.0 for line in lines]
    partners["bearing_deg"] = [line["azi1"] % 360.0 for line in lines]
