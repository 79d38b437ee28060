"""The partners' page: a line a window that both ends can use, a strip of home's sky, a reason where none fits.

From the plan's usable windows, slots and samples. One row header and one pre-formatted cell a row: the PDF engine pays
by the box. Every column of that cell ends before the stop at which the next one begins, in either weight.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np
from markupsafe import Markup

from pipeline.inputs.model import mask_arrays
from pipeline.pairs.corrections import rests_on_assumptions
from pipeline.pairs.outcomes import outcome_words
from pipeline.reports import skylines
from pipeline.reports.charts import outcome_mark
from pipeline.reports.clocks import clock_notes, time_element, timed
from pipeline.reports.learnt import learnt_fact
from pipeline.reports.moon_tracks import MoonTracks
from pipeline.reports.views import (
    LeftOut,
    Paper,
    PartnerBlock,
    Partners,
    UsableRow,
    partner_anchor,
    period_edges,
)
from pipeline.windows.frames import is_missing
from pipeline.windows.instants import as_instant
from pipeline.wording import formats
from pipeline.wording.absences import partner_absence_words
from pipeline.wording.partners import (
    best_lines_words,
    sky_of_words,
    strip_words,
    usable_lead,
    usable_title,
    zone_missing_words,
)
from pipeline.wording.weather import pair_words, shares_words

if TYPE_CHECKING:
    from pipeline.inputs.model import BandEquipment, Station
    from pipeline.plan.plan import Plan
    from pipeline.plan.views import PartnerView

# As wide as a digit: figures of one and two digits stand in one column.
FIGURE_SPACE = "\N{FIGURE SPACE}"
# Points of the night's column and of the cell beside it; the rest of the sheet is the strip's.
NIGHT_WIDTH, CELL_WIDTH = 58.0, 356.0
# A line takes the least where there are many, more where all stands on one sheet.
LEAST_LINE, LARGEST_LINE = 10.4, 13.0
STRIP_HEIGHT, STRIP_GAP, HEAD_HEIGHT = 46.0, 7.0, 17.0
# Title, table head and key, and a line for each partner without a usable time, points.
AROUND_LINES, WITHOUT_HEIGHT = 122.0, 25.0
TRACK_POINTS = 5
# Lines of all partners: about ten sheets.
MOST_LINES = 480


@dataclass(frozen=True)
class Line:
    """One line to be: the row of its window, a slot of the agenda or the best usable one."""

    window: int
    night: dt.date
    start: dt.datetime
    end: dt.datetime
    chance: float
    margin_db: float
    label: str


def partners_view(plan: Plan, paper: Paper) -> Partners:
    """All partners, in the season's order: with their usable windows, or with the reason why they have none."""
    found = lines_of(plan)
    lines, each = _best_lines(found)
    views = {call: plan.for_partner(call) for call in lines}
    tracks = {call: MoonTracks(view.samples) for call, view in views.items()}
    homes = {call: _home_of(plan, own) for call, own in lines.items()}
    here = {
        call: [one for one in own if plan.inputs.home_on(one.night).title == homes[call].title]
        for call, own in lines.items()
    }
    strips = {
        call: [track for one in own if (track := _track(tracks[call], one)) is not None] for call, own in here.items()
    }
    scale = skylines.scale_of([track for some in strips.values() for track in some])
    size = (paper.text_width - NIGHT_WIDTH - CELL_WIDTH - 4.0, STRIP_HEIGHT)
    without = _without(plan, set(lines))
    free = _free([len(own) for own in lines.values()], paper.text_height - WITHOUT_HEIGHT * len(without))
    line = min(max(math.floor(free * 10.0) / 10.0, LEAST_LINE), LARGEST_LINE)
    blocks = []
    for call, own in lines.items():
        shown, horizon = strips[call], mask_arrays(homes[call])
        title = strip_words(call, len(here[call]), [track.highest_deg for track in shown if track.slot])
        strip = skylines.strip(scale, horizon, shown, size, title) if shown else Markup("")
        block = _block(plan, views[call], own, tracks[call], strip)
        whose = (sky_of_words(homes[call].title),) if plan.inputs.sites and strip else ()
        blocks.append(replace(block, facts=(*block.facts, *whose), room=_room(len(own), line) if strip else 0.0))
    usable = sum(len(own) for own in found.values())
    return Partners(
        title=usable_title(usable),
        lead=usable_lead(
            len({one.window for own in found.values() for one in own}),
            len(plan.windows),
            plan.inputs.season.policy.outcome_thresholds.marginal,
        )
        + best_lines_words(each),
        head=_head(plan),
        line=line,
        reasons_first=free < LEAST_LINE,
        blocks=tuple(blocks),
        without=without,
        weather=shares_words([one for one in plan.weather if one.call in lines]),
        clocks=clock_notes(plan.zone, period_edges(plan), "at home") if blocks else (),
    )


def _home_of(plan: Plan, own: Sequence[Line]) -> Station:
    """Home where the strip of these lines shows it: where it stands for most of the slots, else of the lines."""
    nights = [one.night for one in own if one.label] or [one.night for one in own]
    homes = [plan.inputs.home_on(night) for night in nights] if plan.inputs.sites else [plan.inputs.home]
    titles = [one.title for one in homes]
    return max(homes, key=lambda one: titles.count(one.title))


def _free(lines: Sequence[int], room: float) -> float:
    """Points that each line may take for all partners to stand on one sheet; less than the least where they do not."""
    if not lines:
        return LARGEST_LINE
    return (room - AROUND_LINES - sum(HEAD_HEIGHT + _room(count, LEAST_LINE) for count in lines)) / sum(lines)


def _room(lines: int, line: float) -> float:
    """What the strip of a partner with few lines needs below them, points."""
    return max(STRIP_HEIGHT + STRIP_GAP - HEAD_HEIGHT - line * lines, 0.0)


def lines_of(plan: Plan) -> dict[str, list[Line]]:
    """The lines of each partner that has any, by time: the slots of a window, else its best usable slot."""
    found: dict[str, list[Line]] = {}
    best = {one.window: one for one in plan.usable_windows}
    starts, ends = (
        [as_instant(value) for value in plan.windows[f"window_{edge}_utc"]] if len(plan.windows) else []
        for edge in ("start", "end")
    )
    slots: dict[int, list[Line]] = {}
    calls = plan.windows["partner"].tolist() if len(plan.windows) else []
    for row, call in enumerate(calls):
        for slot in plan.slots:
            if slot.call == call and slot.start < ends[row] and slot.end > starts[row]:
                margin = min(slot.margin_at_partner_db, slot.margin_at_home_db)
                slots.setdefault(row, []).append(
                    Line(row, slot.night, slot.start, slot.end, slot.chance, margin, slot.label)
                )
    for station in plan.inputs.partners:
        own: list[Line] = []
        for row in [row for row, call in enumerate(calls) if call == station.call]:
            if row in slots:
                own += slots[row]
            elif row in best:
                one = best[row]
                own.append(Line(row, one.night, one.slot_start, one.slot_end, one.chance, one.margin_db, ""))
        if own:
            found[station.call] = sorted(own, key=lambda line: line.start)
    return found


def _best_lines(lines: dict[str, list[Line]]) -> tuple[dict[str, list[Line]], int]:
    """Of very many lines the slots and the likeliest of each partner, and how many of each at most; 0 where all."""
    if sum(map(len, lines.values())) <= MOST_LINES:
        return lines, 0
    each = MOST_LINES // len(lines)
    best = {
        call: sorted(own, key=lambda line: (not line.label, -line.chance, line.start))[:each]
        for call, own in lines.items()
    }
    return {call: sorted(own, key=lambda line: line.start) for call, own in best.items()}, each


def _track(moon: MoonTracks, line: Line) -> skylines.Track | None:
    seen = moon.at("home", line.start, line.end, TRACK_POINTS)
    return None if seen is None else skylines.Track(*seen, slot=bool(line.label))


def _without(plan: Plan, shown: set[str]) -> tuple[LeftOut, ...]:
    """Partners without a line, and why."""
    home, limits = plan.inputs.home.call, plan.inputs.season.policy.outcome_thresholds.limits
    return tuple(
        LeftOut(
            station.call, f"{partner_absence_words(absence, home, station.call, plan.zone, limits)}.", (station.call,)
        )
        for station, absence in zip(plan.inputs.partners, plan.absences, strict=True)
        if absence is not None and station.call not in shown
    )


def _block(plan: Plan, view: PartnerView, lines: Sequence[Line], moon: MoonTracks, strip: Markup) -> PartnerBlock:
    zone = view.station.zone
    rows = tuple(_row(plan, one, zone, moon) for one in lines)
    return PartnerBlock(
        anchor=partner_anchor(view.call),
        call=view.call,
        name=formats.short(view.station.title),
        facts=_facts(plan, view, zone),
        rows=rows,
        strip=strip,
        room=0.0,
    )


def _row(plan: Plan, line: Line, zone: ZoneInfo | None, moon: MoonTracks) -> UsableRow:
    """Its pieces, each ended by a tab, in the order of `_head`."""
    window = plan.windows.iloc[line.window]
    opens, closes = formats.inward(as_instant(window["window_start_utc"]), as_instant(window["window_end_utc"]))
    policy = plan.inputs.season.policy
    doubtful = rests_on_assumptions(plan.inputs, plan.inputs.place_of(str(window["partner"])))
    word = str(outcome_words(np.array([line.chance]), policy, np.array([doubtful]))[0])
    here = timed(plan, line.start, lambda zone: "\t".join(_clock(line.start, line.end, zone, line.night)))
    between = [
        *_clock(line.start, line.end, zone or dt.UTC, None),
        *(_moon(moon.at(end, line.start, line.end, 3)) for end in ("home", "partner")),
        _margin(line.margin_db),
    ]
    open_hours = timed(plan, opens, lambda zone: _hours(opens, closes, zone))
    plain, switched = (
        Markup("\t").join([shown(here), *between, shown(open_hours), Markup("")]) + outcome_mark(word) + " "
        for shown in (Markup.escape, time_element)
    )
    night = formats.day(line.night)
    return UsableRow(
        night=f"{night} {line.label}" if line.label else night,
        cell=plain,
        switched=switched,
        chance=formats.chance(line.chance, policy.outcome_thresholds.limits),
        slot=bool(line.label),
    )


def _hours(start: dt.datetime, end: dt.datetime, zone: dt.tzinfo) -> str:
    return "–".join(f"{moment.astimezone(zone):%H:%M}" for moment in (start, end))


def _clock(start: dt.datetime, end: dt.datetime, zone: dt.tzinfo, usual: dt.date | None) -> tuple[str, str]:
    """Weekday, where it is not the usual date's, and hours."""
    date = start.astimezone(zone).date()
    return "" if date == usual else formats.WEEKDAYS[date.weekday()], _hours(start, end, zone)


def _moon(seen: tuple[skylines.FloatArray, skylines.FloatArray] | None) -> str:
    """Azimuth and elevation in the middle of the slot, whole degrees."""
    if seen is None:
        return ""
    azimuth, elevation = (float(values[1]) for values in seen)
    height = formats.signed(elevation, 0)
    return f"{round(azimuth) % 360:{FIGURE_SPACE}>3}°{FIGURE_SPACE * 2}{height:{FIGURE_SPACE}>3}°"


def _margin(value_db: float) -> str:
    return "" if is_missing(value_db) else f"{formats.signed(value_db, 1, plus=True):{FIGURE_SPACE}>5}"


def _head(plan: Plan) -> tuple[str, str, Markup]:
    """The two lines above the rows' cells, and the second as it is where readers switch clocks."""
    clock = _offset_words(plan.zone, period_edges(plan))
    below = "\t{}\t\t\ttheir clock\t\tazimuth, elevation\t\t\tdB\t\t{}"
    switched = [Markup('<span class="clock-name">{}</span>').format(words) for words in (clock, "here")]
    return (
        "\tslot here\t\t\tslot there\t\tMoon here\tMoon there\tmargin\twindow\t\tchance",
        below.format(clock, "here"),
        Markup(below).format(*switched),
    )


def _offset_words(zone: dt.tzinfo, edges: tuple[dt.datetime, dt.datetime]) -> str:
    """`UTC−3`; `local` where the clocks change in between."""
    changes = formats.clock_changes(zone, *edges)
    return "local" if changes else formats.offset(edges[0].astimezone(zone).utcoffset())


def _facts(plan: Plan, view: PartnerView, zone: ZoneInfo | None) -> tuple[str, ...]:
    station, summary, band = view.station, view.summary, view.band
    facts = []
    if not is_missing(summary.get("ground_distance_km")) and not is_missing(summary.get("bearing_deg")):
        facts.append(f"{formats.thousands(summary['ground_distance_km'])} km at {summary['bearing_deg']:.0f}°")
    if band != plan.band:
        facts.append(f"on {formats.band(band)}")
    equipment = station.bands.get(band)
    if equipment is not None:
        facts.append(_equipment(equipment, band, station.assumed))
    learnt = learnt_fact(plan.inputs, station.call, band)
    if learnt is not None:
        facts.append(learnt)
    facts.append(formats.offsets(zone, *view.edges) if zone else zone_missing_words(station.call))
    facts += [pair_words(one) for one in plan.weather if one.call == view.call]
    return tuple(facts)


def _equipment(equipment: BandEquipment, band: str, assumed: tuple[str, ...]) -> str:
    """Dish and power, each marked where it is an assumption."""

    def marked(words: str, key: str) -> str:
        whole = f"bands.{band}"
        unknown = whole in assumed or any(name.startswith(f"{whole}.{key}") for name in assumed)
        return f"{words} (assumed)" if unknown else words

    antenna = equipment.antenna
    if antenna.dish_diameter_m is not None:
        words = marked(f"{formats.plain(antenna.dish_diameter_m)} m dish", "antenna.dish_diameter_m")
    else:
        words = marked(f"antenna of {formats.plain(antenna.gain_dbi or 0.0)} dBi", "antenna.gain_dbi")
    return f"{words}, {marked(f'{formats.plain(equipment.power_w)} W', 'power_w')}"
