"""What was predicted for each attempt of a log, both ways, at its own minute, beside what was reported.

By the stages of `planning` at the log's instants, whatever the season's months: figures are those of `explain` there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.inputs.modes import Mode
from pipeline.link.chance import chance_of
from pipeline.link.noise import DEGRADATION_PARTS
from pipeline.link.signal import spread_loss_db
from pipeline.pairs.budget import PairLink, doppler_of, work_out_pair
from pipeline.pairs.corrections import pair_spreads_db
from pipeline.pairs.ends import Pair, make_pair
from pipeline.pairs.mode_choice import best_variant, usual_width_hz
from pipeline.pairs.outcomes import opener_of
from pipeline.pairs.slot_chance import period_middles, success_in_slots
from pipeline.record.inputs import Inputs
from pipeline.record.log_csv import GUESSED, PERIODS
from pipeline.record.log_entry import LogEntry
from pipeline.review.moments import SMALL_DEG, Stretch, sight, stretches
from pipeline.windows.moon_passes import find_passes, look_at_moon
from pipeline.windows.rules import make_rules
from pipeline.windows.samples import Steps
from pipeline.windows.scene import Scene, make_scene
from pipeline.windows.standing import standing_at
from pipeline.windows.windows import Windows, mutual_windows

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

ENDS = ("partner", "home")
FIGURES = (
    "home_elevation_deg", "partner_elevation_deg", "declination_deg", "distance_km", "doppler_spread_hz",
    "home_sun_separation_deg", "partner_sun_separation_deg", "predicted_snr_at_partner_db", "predicted_snr_at_home_db",
    "margin_at_partner_db", "margin_at_home_db", "needed_snr_db", "spread_loss_db", "polarization_loss_db",
    "polarization_loss_other_db", "degradation_db", *(f"degradation_{part}_db" for part in DEGRADATION_PARTS),
    "predicted_chance", "slot_minutes",
)  # fmt: skip
# Known with the Moon down too.
WITHOUT_LINK = (
    "home_elevation_deg", "partner_elevation_deg", "declination_deg", "distance_km", "home_sun_separation_deg",
    "partner_sun_separation_deg", "slot_minutes",
)  # fmt: skip
# Points of a slot at which the link is computed; margins between them are straight lines, as in the plan.
SLOT_STEP_S = 300.0
Rows = dict[str, FloatArray]


@dataclass(frozen=True)
class _Group:
    """Entries of one partner and band in one stretch: rows of the log, their times, and the months of their air, (n,).

    `held` is the index of the window that holds each, -1 where none does.
    """

    partner: int
    band: str
    months: IntArray
    rows: IntArray
    time_s: FloatArray
    entries: tuple[LogEntry, ...]
    windows: Windows
    held: IntArray


def compare(entries: Sequence[LogEntry], inputs: Inputs) -> pd.DataFrame:
    """The comparison of `compare_at`, each entry with home where it stood then."""
    places = standing_at(inputs, [entry.time_utc for entry in entries])
    parts = []
    for place in {id(one): one for one in places}.values() or [inputs]:
        rows = [row for row, one in enumerate(places) if one is place]
        parts.append(compare_at([entries[row] for row in rows], place).set_axis(rows))
    return pd.concat(parts).sort_index()


def compare_at(entries: Sequence[LogEntry], inputs: Inputs) -> pd.DataFrame:
    """A row an entry, in their order: prediction, report, residual (reported minus predicted) and circumstances.

    Elevations are geometric. `predicted_chance` is that of the slot the log names, else of a slot of the policy's
    length about the entry's time, inside its window, in the logged mode, the pair's variant; `slot_minutes` is its
    length. `moon_up` says whether the Moon stood above both skylines (see `moments.sight`). `used` is False where it
    did not, where another way was taken, or where a station has no figures on the band. Predictions are NaN with the
    Moon below a level horizon.
    Raises EphemerisUnavailable where the kernel does not reach an entry.
    """
    count = len(entries)
    columns: Rows = {name: np.full(count, np.nan) for name in FIGURES}
    up, known = np.zeros(count, dtype=bool), np.zeros(count, dtype=bool)
    partners = {station.call: index for index, station in enumerate(inputs.partners)}
    mine = [row for row, entry in enumerate(entries) if entry.call in partners]
    for stretch in stretches(inputs, [entries[row].time_utc for row in mine]):
        for group in _groups(inputs, stretch, [(row, entries[row]) for row in mine], partners):
            site, none = np.full(group.rows.size, group.partner + 1), np.zeros((group.rows.size, 1))
            seen = sight(inputs, stretch, site, [group.band] * site.size, group.time_s, none)
            up[group.rows] = seen.served[:, 0]
            if group.band not in inputs.home.bands or group.band not in inputs.partners[group.partner].bands:
                continue
            known[group.rows] = True
            for name, values in _predict(inputs, stretch, group).items():
                columns[name][group.rows] = values
    return _frame(entries, columns, up, known)


def _groups(
    inputs: Inputs,
    stretch: Stretch,
    mine: list[tuple[int, LogEntry]],
    partners: dict[str, int],
) -> list[_Group]:
    """The stretch's entries by partner and band, each with the windows of its pair."""
    places: dict[int, list[int]] = {}
    for place, index in enumerate(stretch.rows):
        places.setdefault(partners[mine[index][1].call], []).append(place)
    windows_of = _windows(inputs, stretch, list(places))
    found: list[_Group] = []
    for partner, of_partner in places.items():
        windows = windows_of[partner]
        held = windows.holding(stretch.time_s[of_partner])
        begin_s = stretch.time_s[of_partner]
        begin_s[held >= 0] = windows.start_s[held[held >= 0]]
        months = stretch.sky.month(begin_s)
        alike: dict[str, list[int]] = {}
        for number, place in enumerate(of_partner):
            alike.setdefault(mine[stretch.rows[place]][1].band, []).append(number)
        for band, numbers in alike.items():
            chosen = [of_partner[number] for number in numbers]
            rows, logged = zip(*(mine[stretch.rows[place]] for place in chosen), strict=True)
            found.append(
                _Group(
                    partner,
                    band,
                    months[numbers],
                    np.array(rows),
                    stretch.time_s[chosen],
                    logged,
                    windows,
                    held[numbers],
                )
            )
    return found


def _windows(inputs: Inputs, stretch: Stretch, partners: list[int]) -> dict[int, Windows]:
    """Mutual windows of home with these partners over the stretch."""
    sites = np.array([0, *(partner + 1 for partner in partners)])
    look = look_at_moon(stretch.sky, stretch.standpoints.sites, inputs.season.policy.refraction)
    stations = [inputs.home, *(inputs.partners[partner] for partner in partners)]
    passes = find_passes(
        lambda station, time_s: look(sites[station], time_s),
        make_rules(stations),
        len(stations),
        0.0,
        stretch.sky.duration_s,
    )
    period = (0.0, stretch.sky.duration_s)
    return {
        partner: mutual_windows(passes[0], other, period) for partner, other in zip(partners, passes[1:], strict=True)
    }


def _predict(inputs: Inputs, stretch: Stretch, group: _Group) -> Rows:
    """The columns of one group; figures of the link are NaN where the Moon was down."""
    scene = _scene(stretch, group, group.time_s, group.months)
    link = _link(inputs, scene, group)
    is_up = _is_up(scene)
    columns = link.columns
    figures: Rows = {
        "home_elevation_deg": scene.home.moon.elevation_deg,
        "partner_elevation_deg": scene.partner.moon.elevation_deg,
        "home_sun_separation_deg": scene.home.sun_separation_deg,
        "partner_sun_separation_deg": scene.partner.sun_separation_deg,
        "declination_deg": scene.centre.declination_deg,
        "distance_km": scene.centre.distance_km,
    }
    for end in ENDS:
        figures[f"predicted_snr_at_{end}_db"] = columns[f"snr_at_{end}_db"].astype(float)
    for name in FIGURES:
        if name in columns and name not in figures:
            figures[name] = columns[name].astype(float)
    width_hz = usual_width_hz(inputs, inputs.partners[group.partner], group.band)
    # The log names no variant: the operators will have used the one that letters and sheets tell.
    modes = [
        best_variant([mode for mode in inputs.modes if mode.mode == entry.mode], width_hz) for entry in group.entries
    ]
    nothing = np.nan
    figures["needed_snr_db"] = np.array([nothing if mode is None else mode.needed_snr_db for mode in modes])
    tones = np.array([nothing if mode is None else mode.tone_spacing_hz for mode in modes])
    figures["spread_loss_db"] = np.asarray(spread_loss_db(link.half_power_width_hz, tones), dtype=float)
    for end in ENDS:
        left = figures[f"predicted_snr_at_{end}_db"] - figures["spread_loss_db"]
        figures[f"margin_at_{end}_db"] = left - figures["needed_snr_db"]
    start, length = _slots(inputs, stretch, group)
    figures["slot_minutes"] = length / 60.0
    figures["predicted_chance"] = _chances(inputs, stretch, group, modes, (start, length))
    for name in set(figures) - set(WITHOUT_LINK):
        figures[name] = np.where(is_up, figures[name], np.nan)
    return figures


def _scene(stretch: Stretch, group: _Group, time_s: FloatArray, months: IntArray) -> Scene:
    """The group's pair at these times (n,), each a window of its own; `months` (n,) pick the air."""
    pair = np.full(time_s.size, group.partner)
    return make_scene(stretch.standpoints, Steps(time_s, pair, np.arange(time_s.size)), months)


def _is_up(scene: Scene) -> npt.NDArray[np.bool_]:
    """Whether the Moon stands above both level horizons, (n,)."""
    return np.min([scene.home.apparent_elevation_deg, scene.partner.apparent_elevation_deg], axis=0) >= -SMALL_DEG


def _pair(inputs: Inputs, group: _Group, scene: Scene) -> Pair:
    return make_pair(inputs, group.partner + 1, group.band, scene)


def _link(inputs: Inputs, scene: Scene, group: _Group) -> PairLink:
    pair = _pair(inputs, group, scene)
    return work_out_pair(pair, None, doppler_of(scene.sky, pair))


def _slots(inputs: Inputs, stretch: Stretch, group: _Group) -> tuple[FloatArray, FloatArray]:
    """Start and length of each entry's slot, s: the log's own, else about the entry and inside its window."""
    windows, held = group.windows, group.held
    length = np.full(group.time_s.size, inputs.season.policy.slot_minutes.most * 60.0)
    start = group.time_s - length / 2.0
    inside = held >= 0
    begin, end = windows.start_s[held[inside]], windows.end_s[held[inside]]
    length[inside] = np.minimum(length[inside], end - begin)
    start[inside] = np.clip(start[inside], begin, end - length[inside])
    for row, entry in enumerate(group.entries):
        first, last = entry.slot_start_utc, entry.slot_end_utc
        if first is None:
            continue
        seconds = stretch.sky.seconds(first)
        # A slot hours away from its entry is a slip of the pen; the entry's own time stands.
        if abs(seconds - group.time_s[row]) < 6 * 3600.0:
            start[row] = seconds
            wanted = (last - first).total_seconds() if last else inputs.season.policy.slot_minutes.most * 60.0
            length[row] = wanted if 0.0 < wanted <= 6 * 3600.0 else inputs.season.policy.slot_minutes.most * 60.0
    return start, length


def _chances(
    inputs: Inputs,
    stretch: Stretch,
    group: _Group,
    modes: list[Mode | None],
    slots: tuple[FloatArray, FloatArray],
) -> FloatArray:
    """Chance of a contact in each entry's slot, by the margins along it; NaN where the mode is not in the table."""
    start, length = slots
    points = max(2, int(np.ceil(length.max() / SLOT_STEP_S)) + 1)
    time_s = start[:, None] + length[:, None] * np.linspace(0.0, 1.0, points)
    flat = time_s.ravel()
    scene = _scene(stretch, group, flat, np.repeat(group.months, points))
    link = _link(inputs, scene, group)
    up = _is_up(scene)
    snr = {
        end: np.where(up, link.columns[f"snr_at_{end}_db"].astype(float), np.nan).reshape(time_s.shape) for end in ENDS
    }
    width = link.half_power_width_hz.reshape(time_s.shape)
    home_opens = opener_of(inputs, group.partner) == "home"
    spreads = pair_spreads_db(inputs, inputs.partners[group.partner].call, group.band)
    chances = np.full(start.size, np.nan)
    for mode in dict.fromkeys(mode for mode in modes if mode is not None):
        rows = np.array([one == mode for one in modes])
        middle_s, inside = period_middles(length[rows], mode.period_s)
        position = middle_s / length[rows, None] * (points - 1)
        at = {}
        for end in ENDS:
            margin = snr[end][rows] - spread_loss_db(width[rows], mode.tone_spacing_hz) - mode.needed_snr_db
            at[end] = np.where(inside, _between(margin, position), np.nan)
        chances[rows] = chance_of(success_in_slots(mode, at, spreads, home_opens))
    return chances


def _between(values: FloatArray, position: FloatArray) -> FloatArray:
    """Values (n, points) at positions (n, k) counted in points, by straight lines; NaN beside a NaN."""
    index = np.clip(position.astype(np.int64), 0, values.shape[1] - 2)
    share = np.clip(position - index, 0.0, 1.0)
    before = np.take_along_axis(values, index, axis=1)
    after = np.take_along_axis(values, index + 1, axis=1)
    return before + share * (after - before)


def _frame(
    entries: Sequence[LogEntry], columns: Rows, up: npt.NDArray[np.bool_], known: npt.NDArray[np.bool_]
) -> pd.DataFrame:
    """The table, with reports and residuals beside the predictions."""
    said = {
        "partner": np.array([_number(entry.report_received_db) for entry in entries], dtype=float),
        "home": np.array([_number(entry.report_sent_db) for entry in entries], dtype=float),
    }
    moonbounce = np.array([entry.moonbounce for entry in entries], dtype=bool)
    table: dict[str, object] = {
        name: np.array([getattr(entry, name) for entry in entries], dtype=object)
        for name in ("file", "line", "call", "operator")
    }
    table["line"] = np.array([entry.line for entry in entries], dtype=np.int64)
    table["time_utc"] = pd.DatetimeIndex([entry.time_utc for entry in entries], tz="UTC")
    table |= {name: np.array([getattr(entry, name) for entry in entries], dtype=object) for name in ("band", "mode")}
    table["completed"] = np.array([entry.completed for entry in entries], dtype=bool)
    for name in ("silent", "absent"):
        table[name] = np.array([getattr(entry, name) for entry in entries], dtype=bool)
    table["heard"] = np.array([entry.heard for entry in entries], dtype=object)
    for name in PERIODS:
        table[name] = np.array([_number(getattr(entry, name)) for entry in entries], dtype=float)
    table |= {name: np.array([getattr(entry, name) for entry in entries], dtype=bool) for name in GUESSED}
    for end in ENDS:
        table[f"reported_snr_at_{end}_db"] = said[end]
        table[f"residual_at_{end}_db"] = said[end] - columns[f"predicted_snr_at_{end}_db"]
    table |= columns
    table["moon_up"] = up
    table["used"] = up & known & moonbounce
    return pd.DataFrame(table)


def _number(value: float | None) -> float:
    return float("nan") if value is None else value
