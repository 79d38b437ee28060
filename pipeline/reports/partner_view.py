"""A page a partner: who and where, and every mutual window in UTC, in home's and in the partner's own time."""

from __future__ import annotations

import datetime as dt
import re
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
from markupsafe import Markup

from pipeline.pairs.feed_advice import FeedAdvice, advice_in
from pipeline.reports import charts
from pipeline.reports.learnt import learnt_fact
from pipeline.reports.views import (
    Column,
    Edge,
    PartnerPage,
    PartnerSlot,
    WindowRow,
    clock_notes,
    partner_anchor,
)
from pipeline.windows.frames import as_date, is_missing, records
from pipeline.windows.instants import as_instant
from pipeline.wording import formats
from pipeline.wording.no_windows import no_window_words

if TYPE_CHECKING:
    from pipeline.inputs.model import BandEquipment
    from pipeline.plan.plan import Plan
    from pipeline.plan.views import PartnerView

Row = dict[str, Any]
# As wide as a digit: elevations of one and two digits stand in one column.
FIGURE_SPACE = "\N{FIGURE SPACE}"
RULES = {
    "horizon": "{whose} horizon",
    "minimum elevation": "{whose} minimum",
    "mount elevation": "{whose} mount, height",
    "mount azimuth": "{whose} mount, turn",
}


def partner_pages(plan: Plan) -> tuple[PartnerPage, ...]:
    """One page for each partner, in the season's order, with or without windows."""
    return tuple(_partner_page(plan, plan.for_partner(station.call)) for station in plan.inputs.partners)


def _partner_page(plan: Plan, view: PartnerView) -> PartnerPage:
    station, zone = view.station, view.station.zone
    windows: list[Row] = records(view.windows)
    rows = tuple(_window_row(view, zone, row) for row in windows)
    notes = (
        clock_notes(zone, view.edges, f"at {station.call}")
        if zone
        else (f"The time zone of {station.call} is not known: its times are given in UTC only.",)
    )
    if rows:
        notes += clock_notes(view.home_zone, view.edges, "at home")
    return PartnerPage(
        anchor=partner_anchor(station.call),
        call=station.call,
        name=station.title,
        facts=_facts(plan, view, zone),
        slots=_slots(view, zone),
        summary=_summary(rows, view.summary) + _feed_words(windows, station.call),
        notes=notes,
        columns=_columns(view, zone),
        rows=rows,
        elevation_words="Elevations are apparent: refraction is in them."
        if _apparent(windows)
        else "Elevations are geometric: refraction is not in them.",
        reason=None if rows else _no_window(view),
    )


def _slots(view: PartnerView, zone: ZoneInfo | None) -> tuple[PartnerSlot, ...]:
    """The agenda's slots with this partner, in order of time."""
    found = []
    for slot in view.slots:
        operator = "" if slot.operator == view.home.call else f" by {slot.operator}"
        found.append(
            PartnerSlot(
                label=f"{slot.label}{operator}",
                state=slot.state,
                home=formats.slot_span(slot.start, slot.end, view.home_zone),
                utc=formats.slot_span(slot.start, slot.end, dt.UTC),
                there=formats.slot_span(slot.start, slot.end, zone) if zone else None,
                chance=_chance(view, slot.chance),
            )
        )
    return tuple(found)


def _feed_words(windows: list[Row], call: str) -> str:
    """What to do about the feeds: one sentence for all windows, or the nights on which one is turned."""
    advice = [advice_in(row.get("polarization_advice")) for row in windows]
    turning = [(row, one) for row, one in zip(windows, advice, strict=True) if one is not None and one.one_turns]
    if not turning:
        words = {
            FeedAdvice.RANDOM: " Faraday rotation decides the polarization: 3 dB are reckoned.",
            FeedAdvice.NEITHER: " Neither feed can be turned.",
        }
        return "".join(words[one] for one in dict.fromkeys(advice) if one in words)
    who = {
        FeedAdvice.TURN_HOME: "at home",
        FeedAdvice.TURN_PARTNER: f"at {call}",
        FeedAdvice.TURN_EITHER: f"at home or at {call}",
    }[turning[0][1]]
    if len(turning) == len(windows):
        return f" Turn the feed {who} by 90° for all windows."
    nights = formats.date_runs([as_date(row["night"]) for row, _ in turning])
    return f" Turn the feed {who} by 90° in the nights of {nights}; leave it in the others."


def _no_window(view: PartnerView) -> str:
    return no_window_words(view.no_window, view.home.call, view.call) if view.no_window else ""


def _facts(plan: Plan, view: PartnerView, zone: ZoneInfo | None) -> tuple[str, ...]:
    station, summary, band = view.station, view.summary, view.band
    place = station.position
    where = formats.place(place.latitude_deg, place.longitude_deg)
    if place.locator:
        where += f" (locator {place.locator})"
    facts = [f"operator {station.operator}"] if station.operator else []
    facts.append(where)
    equipment = station.bands.get(band)
    if band != plan.band:
        facts.append(f"on {formats.band(band)}")
    if equipment is not None:
        facts.append(_equipment(equipment, band, station.assumed))
    learnt = learnt_fact(plan.inputs, station.call, band)
    if learnt is not None:
        facts.append(learnt)
    if not is_missing(summary.get("bearing_deg")):
        facts.append(f"bearing from home {formats.bearing(summary['bearing_deg'])}")
    if not is_missing(summary.get("ground_distance_km")):
        facts.append(f"{formats.thousands(summary['ground_distance_km'])} km along the ground")
    facts.append(
        f"local time {zone.key.replace('_', ' ')} ({formats.offsets(zone, *view.edges)})"
        if zone
        else "local time not known"
    )
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


def _summary(rows: tuple[WindowRow, ...], summary: Row) -> str:
    if not rows:
        return ""
    hours = summary.get("hours")
    words = formats.count(len(rows), "mutual window")
    if not is_missing(hours):
        words += f", {formats.duration(float(hours or 0.0) * 60)} in all"
    best = summary.get("best_night")
    return words + ("" if is_missing(best) else f"; best night {formats.day_long(as_date(best))}") + "."


def _columns(view: PartnerView, zone: ZoneInfo | None) -> dict[str, Column]:
    edges = view.edges
    columns = {
        "utc": Column("UTC", ""),
        "home": Column("at home", _short_offsets(view.home_zone, edges)),
        "home_moon": Column("Moon from home", "azimuth, elevation"),
        "partner_moon": Column(f"Moon from {view.call}", "azimuth, elevation"),
        "rule": Column("decided by", ""),
    }
    if zone:
        columns["there"] = Column(f"at {view.call}", _short_offsets(zone, edges))
    return columns


def _short_offsets(zone: dt.tzinfo, edges: tuple[dt.datetime, dt.datetime]) -> str:
    changes = formats.clock_changes(zone, *edges)
    return ", then ".join([formats.offset(edges[0].astimezone(zone).utcoffset()), *(change[2] for change in changes)])


def _window_row(view: PartnerView, zone: ZoneInfo | None, row: Row) -> WindowRow:
    night = as_date(row["night"])
    start, end = formats.inward(as_instant(row["window_start_utc"]), as_instant(row["window_end_utc"]))
    outcome = row.get("outcome")
    least = row.get("degradation_least_db")
    known = not is_missing(outcome)
    chance = row.get("chance")
    declination, apparent = _inside(view.samples, row)
    highest = apparent if apparent is not None and _apparent([row]) else float(row["maximum_lower_elevation_deg"])
    return WindowRow(
        night=formats.day(night),
        length=formats.duration(float(row["duration_min"])),
        mark=charts.outcome_mark(str(outcome)) if known else Markup(""),
        outcome=str(outcome) if known else None,
        degradation=None if is_missing(least) else f"{formats.decibels(float(least or 0.0))} dB",
        chance=None if is_missing(chance) else _chance(view, float(chance or 0.0)),
        reports=_reports(row),
        edges=(
            _edge(view, row, start, "start", "opens"),
            _edge(view, row, end, "end", "closes"),
        ),
        highest=formats.elevation(highest),
        declination=None if declination is None else formats.declination(declination, 1),
    )


def _edge(view: PartnerView, row: Row, moment: dt.datetime, end: str, word: str) -> Edge:
    night, zone = as_date(row["night"]), view.station.zone
    height = "apparent_elevation" if _apparent([row]) else "elevation"

    def moon(whose: str) -> str:
        pointing = formats.azimuth(row[f"{whose}_azimuth_{end}_deg"])
        return f"{pointing} {formats.elevation(row[f'{whose}_{height}_{end}_deg']).rjust(5, FIGURE_SPACE)}"

    return Edge(
        word=word,
        utc=formats.local(moment, dt.UTC, night),
        home=formats.local(moment, view.home_zone, night),
        there=formats.local(moment, zone, night) if zone else None,
        home_moon=moon("home"),
        partner_moon=moon("partner"),
        rule=rule_words(str(row[f"{word}_by"]), view.call, word),
    )


def _chance(view: PartnerView, chance: float) -> str:
    return formats.chance(chance, view.policy.outcome_thresholds.limits)


def _reports(row: Row) -> tuple[str, str] | None:
    """Expected reports in whole decibels: there, then at home."""
    values = [row.get(f"report_at_{end}_db") for end in ("partner", "home")]
    if any(is_missing(value) for value in values):
        return None
    there, here = (formats.signed(float(value or 0.0), 0) for value in values)
    return there, here


def rule_words(rule: str, call: str, word: str) -> str:
    """`partner horizon` to `QF4LUM horizon`; what is not known here is printed as it came."""
    text = rule.replace("_", " ").strip()
    if text in ("month", "period"):
        return "the period begins" if word == "opens" else "the period ends"
    found = re.fullmatch(r"(home|partner) (.+)", text)
    if not found or found[2] not in RULES:
        return text
    return RULES[found[2]].format(whose="home" if found[1] == "home" else call)


def _apparent(windows: list[Row]) -> bool:
    """Whether the table tells apparent elevations at the edges; a dish is pointed by them."""
    return bool(windows) and "home_apparent_elevation_start_deg" in windows[0]


def _inside(own: pd.DataFrame, row: Row) -> tuple[float | None, float | None]:
    """(declination at the window's middle, the most that the lower of the two apparent elevations reaches)."""
    if own.empty:
        return None, None
    times = own["time_utc"]
    low = int(times.searchsorted(row["window_start_utc"], side="left"))
    high = int(times.searchsorted(row["window_end_utc"], side="right"))
    part = own.iloc[low:high]
    if not len(part):
        return None, None
    declination = highest = None
    if "declination_deg" in part.columns:
        declination = float(part["declination_deg"].iloc[len(part) // 2])
    if "home_refraction_deg" in part.columns and "partner_refraction_deg" in part.columns:
        ends = [part[f"{end}_elevation_deg"] + part[f"{end}_refraction_deg"] for end in ("home", "partner")]
        highest = float(np.minimum(*(end.to_numpy(dtype=float) for end in ends)).max())
    return declination, highest
