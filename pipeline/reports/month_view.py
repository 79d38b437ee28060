"""Page one: the month grid, a cell a night with its slots or its worth, from the plan's nights and agenda.

What stands beside the grid is made in `month_advice`.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from typing import TYPE_CHECKING, Any

import numpy as np

from pipeline.agenda.arrivals import arrival_before
from pipeline.agenda.commitments import PAST
from pipeline.outlook.chosen_nights import good_from, is_good
from pipeline.outlook.facts import NEAR_SUN_DEG
from pipeline.pairs.corrections import rests_on_assumptions
from pipeline.pairs.outcomes import outcome_words
from pipeline.reports import charts
from pipeline.reports.clocks import clock_notes, timed
from pipeline.reports.month_advice import panel_of, slots_by_night
from pipeline.reports.views import (
    Cell,
    CellSlot,
    MonthPage,
    NoNightCell,
    days_between,
    month_edges,
    partner_anchor,
)
from pipeline.windows.frames import as_date, is_missing, records
from pipeline.windows.instants import as_instant
from pipeline.wording import formats
from pipeline.wording.month import (
    arrive_words,
    brings_words,
    by_itself_words,
    closed_words,
    heard_words,
    key_words,
    tint_words,
    would_add_words,
)
from pipeline.wording.nights import no_night_words
from pipeline.wording.sites import places_words

if TYPE_CHECKING:
    from pipeline.plan.plan import Plan

# Points of the month page: the panel, its distance from the grid, and what stands above both.
PANEL_WIDTH, GUTTER, MONTH_HEAD = 156.0, 14.0, 52.0
# Letters of the heading that its line holds on the narrower paper, how many of the season's title one of them is wide,
# and what is shown of that.
HEADING_LETTERS, LETTERS_BESIDE, LEAST_SEASON_LETTERS, MOST_SEASON_LETTERS = 58, 2.2, 12, 48
# Of so many weeks at most a cell holds six lines of slots, else four. Where all have room a slot takes two of them, and
# so does one of more letters than a line has.
ROOMY_WEEKS, ROOMY_LINES, LINES, LETTERS = 5, 6, 4, 16
# Calls of those who can be met, in a cell of so many weeks or fewer, and of six.
CALLS, CALLS_OF_SIX = 5, 3
# Outcomes that the key always explains; a slot that was agreed may have another.
KEYED = ("strong", "workable", "marginal")
Row = dict[str, Any]


def month_pages(plan: Plan) -> tuple[MonthPage, ...]:
    """One page for each calendar month that the period touches."""
    dates = days_between(plan.first_night, plan.last_night)
    months = sorted({(date.year, date.month) for date in dates})
    pages = [_month_page(plan, [date for date in dates if (date.year, date.month) == month]) for month in months]
    return (dataclasses.replace(pages[0], season=_season(plan, f"{pages[0].title} at {pages[0].at}")), *pages[1:])


def _season(plan: Plan, heading: str) -> str:
    """What the season is called, as far as that finds room beside the heading of page one; empty where it is little."""
    room = min(int((HEADING_LETTERS - len(heading)) * LETTERS_BESIDE), MOST_SEASON_LETTERS)
    return formats.short(plan.inputs.season.title or "", room) if room >= LEAST_SEASON_LETTERS else ""


def _month_page(plan: Plan, dates: list[dt.date]) -> MonthPage:
    first, last = dates[0], dates[-1]
    home, southern = plan.inputs.home, plan.inputs.home.position.latitude_deg < 0
    edges = month_edges(first, last, plan.zone)
    limit = good_from(plan.nights["contacts_expected"].to_numpy(float))
    slots, weeks = slots_by_night(plan), week_count(dates)
    rows = {as_date(row["night"]): row for row in records(plan.nights)}
    cells: dict[dt.date, Cell | NoNightCell] = {
        date: _cell(plan, rows[date], slots.get(date, []), weeks, limit) if date in rows else no_night_cell(plan, date)
        for date in dates
    }
    return MonthPage(
        anchor=f"month-{first:%Y-%m}",
        season="",
        title=f"{formats.MONTHS[first.month - 1]} {first.year}",
        at=places_words(plan.inputs),
        subtitle=" · ".join(
            [
                home.call,
                f"{formats.band(plan.band)}, {formats.frequency(plan.frequency_mhz)}",
                "a night is one passage of the Moon, by the date on which it stands highest",
            ]
        ),
        clock=f"times are local ({formats.offsets(plan.zone, *edges)})",
        weeks=_weeks(cells, dates),
        panel=panel_of(plan, dates, slots, PANEL_WIDTH),
        outcomes=(*KEYED, *sorted(_outcomes(cells) - set(KEYED))),
        tint=tint_words(limit) if limit is not None else "",
        key=(*key_words(southern), *clock_notes(plan.zone, edges, "at home")),
    )


def _outcomes(cells: dict[dt.date, Cell | NoNightCell]) -> set[str]:
    """The outcome words of all slots shown."""
    return {slot.outcome for cell in cells.values() if isinstance(cell, Cell) for slot in cell.slots}


def week_count(dates: list[dt.date]) -> int:
    """Weeks from Monday that these dates touch."""
    return (dates[-1] - dates[0] + dt.timedelta(days=dates[0].weekday())).days // 7 + 1


def no_night_cell(plan: Plan, date: dt.date) -> NoNightCell:
    """A date that no passage of the Moon carries, with the next Moonrise after its noon."""
    noon = dt.datetime.combine(date, dt.time(12), tzinfo=plan.zone)
    rises = [
        as_instant(row["home_moonrise_utc"]) for row in records(plan.nights) if not is_missing(row["home_moonrise_utc"])
    ]
    after = min((rise for rise in rises if rise > noon), default=None)
    words = no_night_words(None, date, plan.zone)
    if after is not None:
        words = timed(plan, after, lambda zone: no_night_words(after, date, zone))
    return NoNightCell(date.isoformat(), date.day, formats.WEEKDAYS[date.weekday()], words)


def _weeks(
    by_date: dict[dt.date, Cell | NoNightCell], dates: list[dt.date]
) -> tuple[tuple[Cell | NoNightCell | None, ...], ...]:
    """Cells in weeks from Monday, None where the period has no date."""
    monday = dates[0] - dt.timedelta(days=dates[0].weekday())
    days = [[monday + dt.timedelta(days=7 * week + day) for day in range(7)] for week in range(week_count(dates))]
    return tuple(tuple(by_date.get(date) for date in week) for week in days)


def _cell(plan: Plan, row: Row, slots: list[Row], weeks: int, limit: float | None) -> Cell:
    night, worth = as_date(row["night"]), float(row["contacts_expected"])
    usable, heard = (str(row[f"partners_{what}"]).split() for what in ("usable", "heard"))
    shown = _shown([_slot(plan, slot) for slot in slots], ROOMY_LINES if weeks <= ROOMY_WEEKS else LINES)
    near = float(row["sun_separation_deg"])
    age, is_past = float(row["moon_elongation_deg"]), plan.inputs.is_past(night)
    words: dict[str, Any]
    if slots and is_past:
        words = {"figure": "past"}
    elif slots:
        words = {"figure": brings_words(float(row["contacts_in_agenda"]))}
    elif usable:
        words = _by_itself(row, usable, weeks)
    else:
        is_closed = not row["possible"] and not is_past
        words = {
            "figure": closed_words(plan.inputs.home.is_away(night)) if is_closed else str(row["outcome"]) * is_past
        }
    classes = ["night", "is-good" if is_good(worth, limit) else "", "" if slots or usable else "is-idle"]
    classes += ["is-past"] * is_past
    return Cell(
        night=night.isoformat(),
        number=night.day,
        weekday=formats.WEEKDAYS[night.weekday()],
        disc=charts.moon_disc(age, plan.inputs.home.position.latitude_deg < 0),
        css_class=" ".join(name for name in classes if name),
        slots=shown,
        more=f"and {len(slots) - len(shown)} more" if len(slots) > len(shown) else "",
        arrive=_arrive(plan, slots, night) if slots and not is_past else "",
        heard="" if slots or is_past else heard_words(len(heard), len(usable), int(row["partners_in_reach"])),
        near_sun=f"Sun {near:.0f}° away" if near < NEAR_SUN_DEG and not is_past else "",
        **words,
    )


def _by_itself(row: Row, usable: list[str], weeks: int) -> dict[str, Any]:
    """What a night without a slot is worth by itself, with whom, and what it would add."""
    most = CALLS if weeks <= ROOMY_WEEKS else CALLS_OF_SIX
    named = usable if len(usable) <= most else usable[: most - 1]
    return {
        "figure": by_itself_words(float(row["contacts_expected"])),
        "with_whom": tuple(named),
        "beyond": tuple(usable[len(named) :]),
        "others": f"and {len(usable) - len(named)} more" if len(named) < len(usable) else "",
        "adds": would_add_words(float(row["contacts_if_added"])),
    }


def _arrive(plan: Plan, slots: list[Row], night: dt.date) -> str:
    """The arrival where it falls outside home's hours."""
    arrival = arrival_before(plan.inputs, as_instant(slots[0]["slot_start_utc"]))
    if not arrival.outside_hours:
        return ""
    return timed(plan, arrival.at, lambda zone: arrive_words(arrival.at, zone, night))


def _shown(slots: list[CellSlot], room: int) -> tuple[CellSlot, ...]:
    """The slots that so many lines hold, each of one line or two; where some are left out a line is kept to say so."""
    if 2 * len(slots) <= room == ROOMY_LINES:
        return tuple(dataclasses.replace(slot, roomy=True) for slot in slots)
    ends = np.cumsum([1 + slot.roomy for slot in slots])
    fit = len(slots) if not slots or ends[-1] <= room else int(np.searchsorted(ends, room - 1, side="right"))
    return tuple(slots[:fit])


def _slot(plan: Plan, slot: Row) -> CellSlot:
    policy, chance = plan.inputs.season.policy, float(slot["chance"])
    pair = [station.call for station in plan.inputs.partners].index(slot["partner"])
    outcome = str(outcome_words(np.array([chance]), policy, rests_on_assumptions(plan.inputs, pair))[0])
    start, night, over = as_instant(slot["slot_start_utc"]), as_date(slot["night"]), str(slot["slot_outcome"])
    begins = timed(plan, start, lambda zone: formats.clock_of_night(start, zone, night))
    return CellSlot(
        begins=begins,
        partner=str(slot["partner"]),
        anchor=partner_anchor(slot["partner"]),
        mark=charts.outcome_mark(outcome),
        outcome=outcome,
        odds=formats.odds(chance, policy.outcome_thresholds.limits) if not over else over * (over != PAST),
        roomy=len(f"{begins} {slot['partner']}") > LETTERS,
    )
