"""The whole link of one pair at one instant, as the plan computes it, with every term behind the figures.

The same stages as a plan, for one partner: inside a window of the season the figures are those of samples.csv, feed
included; at any other instant they are worked out over the nights around it.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.ephemeris.sky import Sky, make_sky
from pipeline.explain.explain_link import link_sections
from pipeline.explain.explain_sky import sky_sections
from pipeline.explain.explanation import Explanation, NotPossible, Section, find_call
from pipeline.explain.remarks import (
    BeyondEphemeris,
    HomeItself,
    InWindow,
    LinkHeadline,
    Missed,
    MoonBehind,
    MoonDown,
    OutsideWindows,
    Remark,
    Sought,
    Way,
)
from pipeline.inputs.season import BEST
from pipeline.pairs.budget import PairLink, doppler_of, work_out_pair
from pipeline.pairs.ends import PairEnd, make_pair
from pipeline.pairs.mode_choice import pair_mode
from pipeline.record.inputs import Inputs
from pipeline.windows.moon_passes import find_passes, look_at_moon, split_at
from pipeline.windows.nights import Nights, make_nights
from pipeline.windows.rules import RULES
from pipeline.windows.samples import Steps
from pipeline.windows.scene import Scene, Standpoints, make_scene, make_standpoints
from pipeline.windows.span import Span, span_of
from pipeline.windows.standing import standing_at
from pipeline.windows.tables import samples_table
from pipeline.windows.windows import Windows, mutual_windows

# Nights looked at to either side of an instant outside the season: enough for the window that holds it and the next.
NIGHTS_AROUND = 2
# A window that opens at a level horizon has its edge there to 0.1 s.
# Behind the skyline by less than this share of a beamwidth something may still be heard.
GRAZE = 0.5
SMALL_DEG = 0.001
# Figures that need no signal: these are given with the Moon below a horizon too.
WITHOUT_LINK = ("_azimuth_deg", "_elevation_deg", "_refraction_deg", "_range_km", "_sun_separation_deg")
ALWAYS = ("time_utc", "partner", "band", "night", "declination_deg", "distance_km", "moon_lit_fraction")


@dataclass(frozen=True)
class PairNights:
    """One pair over some nights: everything the plan's stages need. `windows` are the pair's mutual ones."""

    inputs: Inputs
    period: Nights
    standpoints: Standpoints
    windows: Windows
    band: str

    @property
    def sky(self) -> Sky:
        """The sky over both stations."""
        return self.standpoints.sky

    def holding(self, time_s: float) -> int | None:
        """Index of the window that holds a time, edges included to a microsecond."""
        held = int(self.windows.holding(np.array([time_s]))[0])
        return held if held >= 0 else None

    def instant(self, time_s: float) -> dt.datetime:
        """Seconds of the sky as an instant."""
        return self.sky.instant(time_s)


def explain(inputs: Inputs, partner_call: str, instant: dt.datetime) -> Explanation:
    """The link with a partner at an aware instant, line by line; home stands where it does on that night.

    Raises NotPossible for an unknown partner and EphemerisUnavailable for an instant outside the kernel.
    """
    index = _find_partner(inputs, partner_call)
    try:
        instant = instant.astimezone(dt.UTC)
        mode = pair_mode(inputs, inputs.partners[index], inputs.bands[index])
        moves, (inputs,) = inputs.season.policy.sites == BEST, standing_at(inputs, [instant])
        pair = dataclasses.replace(inputs, partners=(inputs.partners[index],), wishes=(inputs.wishes[index],))
        nights = _nights(pair, instant)
    except OverflowError as error:
        raise NotPossible(BeyondEphemeris(instant.year)) from error
    time_s = nights.sky.seconds(instant)
    window = nights.holding(time_s)
    begin_s = time_s if window is None else float(nights.windows.start_s[window])
    step = Steps(np.array([time_s]), np.zeros(1, dtype=np.int64), np.zeros(1, dtype=np.int64))
    scene = make_scene(nights.standpoints, step, nights.sky.month([begin_s]))
    both = make_pair(nights.inputs, 1, nights.band, scene)
    home, partner = both.home, both.partner
    link = work_out_pair(both, mode, doppler_of(nights.sky, both))
    up = all(_depth(end) <= SMALL_DEG for end in (home, partner))
    sections = sky_sections(nights.inputs, home, partner, scene.centre, instant, scene.sky.kernel)
    sections[0] = dataclasses.replace(sections[0], note=_window_note(nights, home, partner, time_s, window))
    if up:
        sections += link_sections(inputs, nights.band, home, partner, link)
    else:
        sections.append(Section("Link", (), Remark.NO_LINK))
    return Explanation(
        home=inputs.home.call,
        partner=partner.station.call,
        instant=instant,
        headline=_behind(home, partner) or _headline(home, partner, link) if up else _below(home, partner),
        columns=_columns(nights, scene, link, window, up),
        sections=tuple(sections),
        site=inputs.home.title if moves else "",
    )


def _find_partner(inputs: Inputs, call: str) -> int:
    """Place of a partner among the season's."""
    calls = [partner.call for partner in inputs.partners]
    if call.upper() == inputs.home.call.upper():
        raise NotPossible(HomeItself(call, tuple(calls)))
    return calls.index(find_call(call, calls, Sought.PARTNER))


def _nights(inputs: Inputs, instant: dt.datetime) -> PairNights:
    """The season's nights where the instant falls into one; else the nights around the instant."""
    season = span_of(inputs, instant.date())
    if season.sky_edges[0] <= instant < season.sky_edges[1]:
        planned = _over(inputs, season)
        if planned.period.start <= instant < planned.period.end:
            return planned
    night = (instant.astimezone(inputs.zone) - dt.timedelta(hours=12)).date()
    days = dt.timedelta(days=NIGHTS_AROUND)
    return _over(inputs, Span(night - days, night + days, inputs.zone))


def _over(inputs: Inputs, span: Span) -> PairNights:
    policy, stations = inputs.season.policy, [inputs.home, *inputs.partners]
    sky = make_sky(*span.sky_edges, inputs.season.ephemeris.file)
    standpoints = make_standpoints(sky, stations)
    period = make_nights(span, sky, standpoints.sites.take([0]))
    look = look_at_moon(sky, standpoints.sites, policy.refraction)
    passes = find_passes(look, standpoints.rules, len(stations), 0.0, sky.duration_s)
    at_home = split_at(passes[0], period.edges_s(sky.start))
    windows = mutual_windows(at_home, passes[1], (sky.seconds(period.start), sky.seconds(period.end)))
    return PairNights(inputs, period, standpoints, windows, inputs.bands[0])


def _columns(nights: PairNights, scene: Scene, link: PairLink, window: int | None, up: bool) -> dict[str, object]:
    """One row of samples.csv; None where the Moon is down and the figure is one of a link."""
    start = scene.steps.time_s if window is None else nights.windows.start_s[window : window + 1]
    frame = samples_table(
        scene,
        nights.period,
        nights.period.night_index(start, scene.sky.start),
        [nights.inputs.partners[0].call],
        [nights.band],
    ).assign(**link.columns)
    row = {str(name): plain(frame[name].iloc[0]) for name in frame.columns}
    if not up:
        row = {name: value if _needs_no_link(name) else None for name, value in row.items()}
    return row | {"mode": link.mode.title if link.mode is not None and up else None}


def _needs_no_link(name: str) -> bool:
    return name in ALWAYS or name.endswith(WITHOUT_LINK)


def plain(value: object) -> object:
    """A cell as JSON holds it: instants as ISO 8601 with Z, numbers as numbers, NaN as None."""
    if isinstance(value, dt.datetime):
        return value.isoformat().replace("+00:00", "Z")
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, np.bool_ | bool):
        return bool(value)
    if isinstance(value, np.floating | float):
        return None if np.isnan(value) else float(value)
    return value if isinstance(value, str) else str(value)


def _window_note(
    nights: PairNights, home: PairEnd, partner: PairEnd, time_s: float, window: int | None
) -> InWindow | OutsideWindows:
    """In which mutual window the instant lies, or what keeps it out of one and when the next one opens."""
    windows = nights.windows
    if window is not None:
        start, end = (nights.instant(float(edge[window])) for edge in (windows.start_s, windows.end_s))
        return InWindow(start, end, windows.opens_by[window], windows.closes_by[window])
    later = windows.start_s[windows.start_s > time_s]
    return OutsideWindows(
        missed=tuple(one for index, end in enumerate((home, partner)) for one in _missed(nights, index, end)),
        opens=nights.instant(float(later[0])) if later.size else None,
        last_night=nights.period.last_night,
    )


def _missed(nights: PairNights, index: int, end: PairEnd) -> list[Missed]:
    """The rules of one end that the Moon does not meet."""
    elevation: npt.NDArray[np.float64] = (
        end.seen.apparent_elevation_deg if nights.inputs.season.policy.refraction else end.seen.moon.elevation_deg
    )
    clear = nights.standpoints.rules.clearances(np.array([index]), end.seen.moon.azimuth_deg, elevation)[:, 0]
    return [
        Missed(end.station.call, rule, -float(degrees))
        for rule, degrees in zip(RULES, clear, strict=True)
        if degrees < 0.0
    ]


def _headline(home: PairEnd, partner: PairEnd, link: PairLink) -> LinkHeadline:
    """Reports and margins both ways, and the degradation."""
    ways = []
    for name, receiver, sender in (("partner", partner, home), ("home", home, partner)):
        snr, margin = (float(link.columns[f"{what}_at_{name}_db"][0]) for what in ("snr", "margin"))
        ways.append(Way(receiver.station.call, sender.station.call, snr, None if link.mode is None else margin))
    mode = None if link.mode is None else link.mode.title
    return LinkHeadline(tuple(ways), mode, float(link.columns["degradation_db"][0]))


def _behind(home: PairEnd, partner: PairEnd) -> MoonBehind | None:
    """That the skyline hides the Moon from an end, where it does so by more than a graze; the figures follow below."""
    hidden = tuple(
        (end.station.call, -float(end.clearance_deg[0]))
        for end in (home, partner)
        if float(end.clearance_deg[0]) < -GRAZE * end.receiver.beam.beamwidth_deg
    )
    return MoonBehind(hidden) if hidden else None


def _below(home: PairEnd, partner: PairEnd) -> MoonDown:
    down = [(end.station.call, _depth(end)) for end in (home, partner)]
    return MoonDown(tuple((call, depth) for call, depth in down if depth > SMALL_DEG))


def _depth(end: PairEnd) -> float:
    return -float(end.seen.apparent_elevation_deg[0])
