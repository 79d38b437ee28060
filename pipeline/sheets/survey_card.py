"""The survey card: which azimuths the low Moon crosses, what a degree of skyline costs there, blanks for its height.

From the cost of the skyline over a period; the compass by the World Magnetic Model. How to measure is common practice,
no source.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from pipeline.inputs.model import Station
from pipeline.outlook.skyline_cost import SkylineCost
from pipeline.record.skyline_heights import AZIMUTH, CALL, MEASURED
from pipeline.reports.leaflet import Leaflet, leaflet_files
from pipeline.reports.views import PAPERS
from pipeline.sheets.alignment import align, compass_words
from pipeline.sheets.compass import Declination, declination
from pipeline.windows.nights import Nights
from pipeline.wording import formats

NAME = "survey_card"
COLUMNS = (
    CALL, AZIMUTH, "compass_deg", "counts_now_deg", "rank", "usable_minutes_lost", "usable_minutes_lost_by_5_deg",
    "window_minutes_lost", "window_minutes_lost_by_5_deg", MEASURED,
)  # fmt: skip
# The dearest stand in bold, the first to be measured.
FIRST = 12
# Columns of the page, and lines that each paper holds in one.
BLOCKS = 3
ROWS_A_BLOCK = {"A4": 40, "letter": 36}

HOW = (
    "Stand where the dish stands, your eye as high as its middle. Read the inclinometer twice, the second time turned "
    "end for end: the mean of both has no offset of its own.",
    "Write the highest edge within half a degree to either side, trees to their tops as in full leaf. Where two "
    "neighbours differ by more than a degree, measure between them too.",
    "Compass in hand ten metres from mast, car and wire. Before the first and after the last sight one landmark: what "
    "the ring shows there less the card's bearing is the day's error.",
)
CARE = (
    "By daylight, two people. Nobody climbs or leans out for a height. Drive off while anyone stands before the dish.",
    "Never sight towards the Sun, with no glass and no camera; take those azimuths at another hour. Thunder: leave.",
)


@dataclass(frozen=True)
class CardRow:
    """A printed line; `is_first` where it is among the dearest."""

    azimuth: str
    compass: str
    counts: str
    usable: str
    usable_trees: str
    any_trees: str
    is_first: bool


@dataclass(frozen=True)
class SurveyCard(Leaflet):
    """All that the template prints."""

    head: str
    period: str
    lead: str
    first: str
    left: str
    blocks: tuple[tuple[CardRow, ...], ...]
    landmarks: tuple[str, ...]
    compass: str
    how: tuple[str, ...]
    care: tuple[str, ...]


@dataclass(frozen=True)
class Surveyed:
    """Whose skyline it is, over which nights, by which plan number, and what it costs."""

    station: Station
    period: Nights
    number: str
    cost: SkylineCost
    beamwidth_deg: float

    @property
    def field(self) -> Declination:
        """The compass at the station in the middle of the period."""
        place, dates = self.station.position, self.period.dates
        return declination(place.latitude_deg, place.longitude_deg, place.height_m, dates[len(dates) // 2])


def survey_card(found: Surveyed, paper: str) -> SurveyCard:
    """The page."""
    station, cost, period = found.station, found.cost, found.period
    title = formats.period_title(period.first_night, period.last_night)
    order = cost.order
    shown = np.sort(order[: BLOCKS * ROWS_A_BLOCK[paper]])
    rows = [_row(found, int(azimuth), int(azimuth) in order[:FIRST]) for azimuth in shown]
    high = -(-len(rows) // BLOCKS)
    place = f"{station.call} {formats.short(station.title)}"
    head = f"{place} · {title} · plan {found.number}"
    return SurveyCard(
        title=f"Survey card of {place}, {title}",
        author=station.operator or station.call,
        head=head,
        footer=f"Mutual Moon · survey card of {place} · {title} · plan {found.number}",
        number=found.number,
        paper=PAPERS[paper],
        dated=period.first_night,
        last_heading=f"Survey card {head}",
        period=title,
        lead=lead_words(len(order), station.minimum_elevation_deg),
        first=first_words(cost),
        left=left_words(cost, len(shown)),
        blocks=tuple(tuple(rows[begin : begin + high]) for begin in range(0, len(rows), high or 1)),
        landmarks=_landmarks(found),
        compass=compass_words(found.field, period.dates[0].year),
        how=HOW,
        care=CARE,
    )


def _row(found: Surveyed, azimuth: int, is_first: bool) -> CardRow:
    cost = found.cost
    return CardRow(
        azimuth=f"{azimuth}°",
        compass=_compass(found.field, azimuth),
        counts=f"{formats.signed(cost.counts_deg[azimuth], 1)}°",
        usable=_minutes(int(cost.usable_one[azimuth])),
        usable_trees=_minutes(int(cost.usable_trees[azimuth])),
        any_trees=_minutes(int(cost.any_trees[azimuth])),
        is_first=is_first,
    )


def _compass(field: Declination, azimuth_deg: float) -> str:
    return f"{round(field.magnetic_deg(azimuth_deg)) % 360}°" if field.compass_is_reliable else ""


def _minutes(value: int) -> str:
    return str(value) if value else "–"


def _landmarks(found: Surveyed) -> tuple[str, ...]:
    """`lighthouse lantern 142.1°, compass 150°`, of those that the dish can sight."""
    lines = align(found.station, found.beamwidth_deg, found.field).lines
    return tuple(
        f"{one.name} {one.azimuth}{f', compass {one.compass}' if one.compass else ''}" for one in lines if one.azimuth
    )


def lead_words(azimuths: int, minimum_deg: float) -> str:
    """What the figures are."""
    floor = (
        f"your minimum elevation of {formats.plain(minimum_deg)}°, or the file's skyline where that is higher"
        if minimum_deg
        else "the file's skyline"
    )
    return (
        f"The low Moon crosses {formats.count(azimuths, 'azimuth')} here inside mutual windows. What counts now is "
        f"{floor}. Lost: minutes of the period's windows, partner by partner, if it stood one degree higher there, or "
        "five; usable are those in slots that both ends can use, all those of any hour."
    )


def first_words(cost: SkylineCost) -> str:
    """The dearest, in that order."""
    if not cost.order.size:
        return ""
    dear = ", ".join(f"{azimuth}°" for azimuth in cost.order[:FIRST])
    return f"In bold the dearest a degree, by the mean of the first five: {dear}."


def left_words(cost: SkylineCost, shown: int) -> str:
    """How many azimuths the page has no line for, and the most that one of them costs."""
    left = cost.order[shown:]
    if not left.size:
        return ""
    named = f"{formats.count(left.size, 'azimuth')} more"
    most = int(cost.any_trees[left].max())
    usable = "" if cost.usable_trees[left].any() else ", none of them usable"
    return f"{named} cost at most {most} minutes each by five degrees{usable}; the table beside this page has all."


def card_csv(found: Surveyed, measured: Mapping[float, float]) -> str:
    """A row an azimuth, with the heights that are measured already."""
    cost, field = found.cost, found.field
    stream = io.StringIO()
    table = csv.writer(stream, lineterminator="\n")
    table.writerow(COLUMNS)
    rank = {float(azimuth): place for place, azimuth in enumerate(cost.order, 1)}
    others = [azimuth for azimuth in measured if azimuth not in rank]
    for azimuth in sorted([*rank, *others]):
        at = round(azimuth) % 360
        height = measured.get(azimuth)
        table.writerow(
            [
                found.station.call, f"{azimuth:g}", _compass(field, azimuth).rstrip("°"), f"{cost.counts_deg[at]:.2f}",
                rank.get(azimuth, ""), cost.usable_one[at], cost.usable_trees[at], cost.any_one[at], cost.any_trees[at],
                "" if height is None else f"{height:g}",
            ]
        )  # fmt: skip
    return stream.getvalue()


def card_files(
    found: Surveyed, paper: str, measured: Mapping[float, float], with_pdf: bool, name: str = NAME
) -> dict[str, bytes]:
    """File name to content, the one to open first in front; all begin with `name`.

    Raises PdfUnavailable where the PDF engine does not load.
    """
    tables = {f"{name}.csv": card_csv(found, measured)}
    return leaflet_files(survey_card(found, paper), "survey_card.html.jinja", name, tables, with_pdf)
