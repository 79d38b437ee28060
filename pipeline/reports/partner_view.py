"""A page a partner: who and where, and every mutual window in UTC, in home's and in the partner's own time."""

from __future__ import annotations

import datetime as dt
import re
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
import pandas as pd
from markupsafe import Markup

from pipeline.reports import charts, formats
from pipeline.reports.views import Column, Edge, PartnerPage, WindowRow, as_date, clock_notes, period_edges, records

if TYPE_CHECKING:
    from pipeline.inputs.model import BandEquipment, Station
    from pipeline.planning.plan import Plan

Row = dict[str, Any]
# As wide as a digit: elevations of one and two digits stand in one column.
FIGURE_SPACE = "\N{FIGURE SPACE}"
RULES = {
    "mask": "horizon {whose}",
    "minimum elevation": "least elevation {whose}",
    "mount": "mount's reach {whose}",
    "horizon": "horizon {whose}",
}


def partner_pages(plan: Plan) -> tuple[PartnerPage, ...]:
    """One page for each partner, in the season's order, with or without windows."""
    summaries = {row["partner"]: row for row in records(plan.partners)}
    return tuple(_partner_page(plan, station, summaries.get(station.call, {})) for station in plan.inputs.partners)


def _partner_page(plan: Plan, station: Station, summary: Row) -> PartnerPage:
    zone = ZoneInfo(station.time_zone) if station.time_zone else None
    windows: list[Row] = []
    if len(plan.windows):
        windows = records(plan.windows[plan.windows["partner"] == station.call].sort_values("window_start_utc"))
    declinations = _declinations(plan.samples, station.call, windows)
    rows = tuple(_window_row(plan, station, zone, row, declination)
                 for row, declination in zip(windows, declinations, strict=True))  # fmt: skip
    notes = clock_notes(plan, zone, f"at {station.call}") if zone else (
        f"The time zone of {station.call} is not known: its times are given in UTC only.",
    )
    if rows:
        notes += clock_notes(plan, plan.zone, "at home")
    return PartnerPage(
        anchor="partner-" + re.sub(r"[^A-Za-z0-9]+", "-", station.call),
        call=station.call,
        name=station.title,
        facts=_facts(plan, station, zone, summary),
        summary=_summary(rows, summary),
        notes=notes,
        columns=_columns(plan, station, zone),
        rows=rows,
        reason=None if rows else _no_window(summary),
    )


def _no_window(summary: Row) -> str:
    reason = summary.get("no_window_reason")
    return "no common time above both horizons was found" if formats.is_missing(reason) else str(reason)


def _facts(plan: Plan, station: Station, zone: ZoneInfo | None, summary: Row) -> tuple[str, ...]:
    place = station.position
    where = formats.place(place.latitude_deg, place.longitude_deg)
    if place.locator:
        where += f" (locator {place.locator})"
    facts = [f"operator {station.operator}"] if station.operator else []
    facts.append(where)
    equipment = station.bands.get(plan.band)
    if equipment is not None:
        facts.append(_equipment(equipment, plan.band, station.assumed))
    if not formats.is_missing(summary.get("bearing_deg")):
        facts.append(f"bearing from home {formats.bearing(summary['bearing_deg'])}")
    if not formats.is_missing(summary.get("ground_distance_km")):
        facts.append(f"{formats.thousands(summary['ground_distance_km'])} km along the ground")
    facts.append(f"local time {zone.key.replace('_', ' ')} ({formats.offsets(zone, *period_edges(plan))})"
                 if zone else "local time not known")  # fmt: skip
    return tuple(facts)


def _equipment(equipment: BandEquipment, band: str, assumed: tuple[str, ...]) -> str:
    """Dish and power, each marked where it is an assumption."""
    def marked(words: str, key: str) -> str:
        return f"{words} (assumed)" if any(name.startswith(f"bands.{band}.{key}") for name in assumed) else words

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
    if not formats.is_missing(hours):
        words += f", {formats.duration(float(hours or 0.0) * 60)} in all"
    best = summary.get("best_night")
    return words + ("" if formats.is_missing(best) else f"; best night {formats.day_long(as_date(best))}") + "."


def _columns(plan: Plan, station: Station, zone: ZoneInfo | None) -> dict[str, Column]:
    edges = period_edges(plan)
    columns = {
        "utc": Column("UTC", ""),
        "home": Column("at home", _short_offsets(plan.zone, edges)),
        "home_moon": Column("Moon from home", "azimuth, elevation"),
        "partner_moon": Column(f"Moon from {station.call}", "azimuth, elevation"),
        "rule": Column("decided by", ""),
        "highest": Column("highest", "for both"),
    }
    if zone:
        columns["there"] = Column(f"at {station.call}", _short_offsets(zone, edges))
    return columns


def _short_offsets(zone: dt.tzinfo, edges: tuple[dt.datetime, dt.datetime]) -> str:
    changes = formats.clock_changes(zone, *edges)
    return ", then ".join([formats.offset(edges[0].astimezone(zone).utcoffset()), *(change[2] for change in changes)])


def _window_row(
    plan: Plan, station: Station, zone: ZoneInfo | None, row: Row, declination: float | None
) -> WindowRow:
    night = as_date(row["night"])
    start, end = formats.inward(formats.instant(row["window_start_utc"]), formats.instant(row["window_end_utc"]))
    outcome = row.get("outcome")
    least = row.get("degradation_least_db")
    known = not formats.is_missing(outcome)
    return WindowRow(
        night=formats.day(night),
        length=formats.duration(float(row["duration_min"])),
        mark=charts.outcome_mark(str(outcome)) if known else Markup(""),
        outcome=str(outcome) if known else None,
        degradation=None if formats.is_missing(least) else f"{formats.decibels(float(least or 0.0))} dB",
        edges=(
            _edge(plan, station, zone, row, night, start, "start", "opens"),
            _edge(plan, station, zone, row, night, end, "end", "closes"),
        ),
        highest=formats.elevation(row["maximum_lower_elevation_deg"]),
        declination=None if declination is None else formats.declination(declination, 1),
    )


def _edge(
    plan: Plan, station: Station, zone: ZoneInfo | None, row: Row, night: dt.date, moment: dt.datetime, end: str,
    word: str,
) -> Edge:  # fmt: skip
    def moon(whose: str) -> str:
        return (f"{formats.azimuth(row[f'{whose}_azimuth_{end}_deg'])} "
                f"{formats.elevation(row[f'{whose}_elevation_{end}_deg']).rjust(5, FIGURE_SPACE)}")  # fmt: skip

    return Edge(
        word=word,
        utc=formats.local(moment, dt.UTC, night),
        home=formats.local(moment, plan.zone, night),
        there=formats.local(moment, zone, night) if zone else None,
        home_moon=moon("home"),
        partner_moon=moon("partner"),
        rule=rule_words(str(row[f"{word}_by"]), station.call, word),
    )


def rule_words(rule: str, call: str, word: str) -> str:
    """`home mask` to `horizon at home`; what is not known here is printed as it came."""
    text = rule.replace("_", " ").strip()
    if text in ("month", "period"):
        return "the period begins" if word == "opens" else "the period ends"
    found = re.fullmatch(r"(home|partner) (.+)", text)
    if not found or found[2] not in RULES:
        return text
    return RULES[found[2]].format(whose="at home" if found[1] == "home" else f"at {call}")


def _declinations(samples: pd.DataFrame, call: str, windows: list[Row]) -> list[float | None]:
    """The declination at the sample nearest to each window's middle; None where there is no such column."""
    if "declination_deg" not in samples.columns or not len(samples) or not windows:
        return [None] * len(windows)
    own = samples[samples["partner"] == call].sort_values("time_utc")
    if not len(own):
        return [None] * len(windows)
    epoch = pd.Timestamp("2000-01-01", tz="UTC")

    def seconds(values: pd.Series[Any]) -> npt.NDArray[np.float64]:
        return np.asarray((values - epoch) / pd.Timedelta(seconds=1), dtype=float)

    times = seconds(own["time_utc"])
    starts = seconds(pd.Series([row["window_start_utc"] for row in windows]))
    ends = seconds(pd.Series([row["window_end_utc"] for row in windows]))
    middle = (starts + ends) / 2
    after = np.clip(np.searchsorted(times, middle), 1, max(len(times) - 1, 1))
    before = after - 1
    after = np.minimum(after, len(times) - 1)
    nearest = np.where(np.abs(times[before] - middle) <= np.abs(times[after] - middle), before, after)
    inside = (times[nearest] >= starts - 1) & (times[nearest] <= ends + 1)
    values = own["declination_deg"].to_numpy(dtype=float)[nearest]
    return [float(value) if ok else None for value, ok in zip(values, inside, strict=True)]
