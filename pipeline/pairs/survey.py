"""The survey of a period, what the sky gives it: mutual windows of home with every partner and the link inside them.

Stations and season → sky → passes → windows → samples. The stages that a month's plan and a year's outlook share.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from pipeline.ephemeris.sky import Sky, make_sky
from pipeline.inputs.model import Station
from pipeline.inputs.modes import Mode
from pipeline.pairs.budget import link_columns, pair_modes
from pipeline.pairs.outcomes import window_figures
from pipeline.record.inputs import Inputs
from pipeline.windows import tables
from pipeline.windows.moon_passes import Look, MoonPasses, find_passes, look_at_moon, split_at
from pipeline.windows.nights import Nights, make_nights
from pipeline.windows.rules import make_rules
from pipeline.windows.samples import make_steps
from pipeline.windows.scene import Standpoints, make_scene, make_standpoints
from pipeline.windows.span import Span
from pipeline.windows.windows import Windows, in_order, mutual_windows

Progress = Callable[[str], None]


@dataclass(frozen=True, eq=False)
class Survey:
    """A span's nights, standpoints, passes and windows. Standpoint and pass 0 are home's, i + 1 those of partner i.

    Home's passes are parted at the lowest points that bound the nights. `stays` are by night, where home moves.
    """

    period: Nights
    standpoints: Standpoints
    look: Look
    passes: list[MoonPasses]
    pairs: list[Windows]
    windows: pd.DataFrame
    samples: pd.DataFrame
    modes: tuple[Mode | None, ...]
    stays: tuple[Survey, ...] = ()

    def on(self, night: int) -> Survey:
        """The survey of home where it stands on a night; this one where it does not move."""
        return self.stays[night] if self.stays else self

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


def make_survey(inputs: Inputs, span: Span, progress: Progress, shifts: bool = True, figures: bool = True) -> Survey:
    """Windows and samples of the nights of a span; where home moves each night as it is at its site.

    Without `shifts` samples lack delay and Doppler shifts, which no window, hour or chance asks for. Without `figures`
    windows lack those of their best slot, and samples hold of the link what hours and chances ask.

    Raises EphemerisUnavailable where the kernel is missing or does not cover the period.
    """
    if not inputs.sites:
        return site_surveys(inputs, (inputs.home,), span, progress, shifts, figures)[0]
    homes = inputs.homes
    surveys = site_surveys(inputs, homes, span, progress, shifts, figures)
    names = [one.title for one in homes]
    return moving(inputs, surveys, [names.index(inputs.home_on(date).title) for date in surveys[0].period.dates])


def site_surveys(
    inputs: Inputs,
    homes: Sequence[Station],
    span: Span,
    progress: Progress,
    shifts: bool = True,
    figures: bool = True,
) -> list[Survey]:
    """One for home at each of these places, under one sky and with the nights of the first; as `make_survey`."""
    progress("Moon and Sun over the period")
    sky = make_sky(*span.sky_edges, inputs.season.ephemeris.file)
    every = [make_standpoints(sky, [home, *inputs.partners]) for home in homes]
    period = make_nights(span, sky, every[0].sites.take([0]))
    modes = pair_modes(dataclasses.replace(inputs, home=homes[0]))
    return [
        _survey(dataclasses.replace(inputs, home=home), standpoints, period, modes, progress, shifts, figures)
        for home, standpoints in zip(homes, every, strict=True)
    ]


def moving(inputs: Inputs, surveys: Sequence[Survey], at: Sequence[int]) -> Survey:
    """The survey of a home that moves: each night of that survey which `at` (nights,) names by its place.

    Standpoints, look and passes are those of the first; `on` tells a night's own.
    """
    first = surveys[0]
    dates, calls = list(first.period.dates), [one.call for one in inputs.partners]
    edges = first.period.edges_s(first.sky.start)

    def joined(frames: Sequence[pd.DataFrame], time: str) -> pd.DataFrame:
        here = [
            frame[[at[dates.index(night)] == place for night in frame["night"]]] for place, frame in enumerate(frames)
        ]
        whole = pd.concat([one for one in here if len(one)] or frames[:1], ignore_index=True)
        pair = whole["partner"].map({call: number for number, call in enumerate(calls)})
        order = np.lexsort((whole[time], whole["night"].map(dates.index), pair))
        return whole.iloc[order].reset_index(drop=True)

    def of_pair(pair: int) -> Windows:
        parts = []
        for place, survey in enumerate(surveys):
            one = survey.pairs[pair]
            night = np.searchsorted(edges, one.start_s, side="right") - 1
            parts.append(one.take(np.flatnonzero([at[number] == place for number in night])))
        return in_order(parts)

    return Survey(
        first.period,
        first.standpoints,
        first.look,
        first.passes,
        [of_pair(pair) for pair in range(len(calls))],
        joined([one.windows for one in surveys], "window_start_utc"),
        joined([one.samples for one in surveys], "time_utc"),
        first.modes,
        tuple(surveys[place] for place in at),
    )


def _survey(
    inputs: Inputs,
    standpoints: Standpoints,
    period: Nights,
    modes: tuple[Mode | None, ...],
    progress: Progress,
    shifts: bool,
    figures: bool,
) -> Survey:
    """The survey of home at one place."""
    sky, stations = standpoints.sky, 1 + len(inputs.partners)
    progress(f"Moon passes of {stations} stations")
    look = look_at_moon(sky, standpoints.sites, inputs.season.policy.refraction)
    passes = find_passes(look, standpoints.rules, stations, 0.0, sky.duration_s)
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
    samples = samples.assign(**link_columns(inputs, scene, modes, shifts, figures))
    windows = tables.windows_table(scene, pairs, period, night, calls, inputs.bands)
    if figures:
        windows = windows.assign(**window_figures(samples, steps, inputs, modes, pair))
    return Survey(period, standpoints, look, passes, pairs, windows, samples, modes)
