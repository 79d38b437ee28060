"""The survey of a period, what the sky gives it: mutual windows of home with every partner and the link inside them.

Stations and season → sky → passes → windows → samples. The stages that a month's plan and a year's outlook share.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.ephemeris.sky import Sky, make_sky
from pipeline.inputs.model import Station
from pipeline.inputs.modes import Mode
from pipeline.pairs.budget import link_columns
from pipeline.pairs.outcomes import window_figures
from pipeline.record.inputs import Inputs
from pipeline.windows import tables
from pipeline.windows.moon_passes import Look, MoonPasses, find_passes, look_at_moon, split_at
from pipeline.windows.nights import Nights, make_nights
from pipeline.windows.rules import make_rules
from pipeline.windows.samples import make_steps
from pipeline.windows.scene import Standpoints, make_scene, make_standpoints
from pipeline.windows.span import Span
from pipeline.windows.windows import Windows, mutual_windows

Progress = Callable[[str], None]


@dataclass(frozen=True)
class Survey:
    """A span's nights, standpoints, passes and windows. Standpoint and pass 0 are home's, i + 1 those of partner i.

    Home's passes are parted at the lowest points that bound the nights.
    """

    period: Nights
    standpoints: Standpoints
    look: Look
    passes: list[MoonPasses]
    pairs: list[Windows]
    windows: pd.DataFrame
    samples: pd.DataFrame
    modes: tuple[Mode | None, ...]

    @property
    def sky(self) -> Sky:
        """The sky over all stations."""
        return self.standpoints.sky

    @property
    def period_s(self) -> tuple[float, float]:
        """Begin of the first night and end of the last in seconds of the sky."""
        return self.sky.seconds(self.period.start), self.sky.seconds(self.period.end)

    def home_above_horizon(self, home: Station) -> MoonPasses:
        """From Moonrise to Moonset at home: the Moon's centre at geometric elevation 0, no skyline, no refraction."""
        look = look_at_moon(self.sky, self.standpoints.sites, refraction=False)
        return find_passes(look, make_rules([home], open_sky=True), 1, 0.0, self.sky.duration_s)[0]


def make_survey(inputs: Inputs, span: Span, progress: Progress) -> Survey:
    """Windows and samples of the nights of a span.

    Raises EphemerisUnavailable where the kernel is missing or does not cover the period.
    """
    stations = [inputs.home, *inputs.partners]

    progress("Moon and Sun over the period")
    sky = make_sky(*span.sky_edges, inputs.season.ephemeris.file)
    standpoints = make_standpoints(sky, stations)
    period = make_nights(span, sky, standpoints.sites.take([0]))
    progress(f"Moon passes of {len(stations)} stations")
    look = look_at_moon(sky, standpoints.sites, inputs.season.policy.refraction)
    passes = find_passes(look, standpoints.rules, len(stations), 0.0, sky.duration_s)
    passes[0] = split_at(passes[0], period.edges_s(sky.start))
    period_s = (sky.seconds(period.start), sky.seconds(period.end))
    pairs = [mutual_windows(passes[0], other, period_s) for other in passes[1:]]

    progress("Link figures inside the windows")
    pair = np.repeat(np.arange(len(pairs)), [w.start_s.size for w in pairs])
    start = np.concatenate([w.start_s for w in pairs]) if pairs else np.zeros(0)
    end = np.concatenate([w.end_s for w in pairs]) if pairs else np.zeros(0)
    steps = make_steps(start, end, pair, sky.start, inputs.season.policy.step_minutes)
    scene = make_scene(standpoints, steps)
    calls = [s.call for s in inputs.partners]
    night = period.night_index(start, sky.start)
    samples = tables.samples_table(scene, period, night, calls, inputs.bands)
    links = link_columns(inputs, scene)
    samples = samples.assign(**links.columns)
    windows = tables.windows_table(scene, pairs, period, night, calls, inputs.bands)
    windows = windows.assign(**window_figures(samples, steps, inputs, links.modes, pair))
    return Survey(period, standpoints, look, passes, pairs, windows, samples, links.modes)
