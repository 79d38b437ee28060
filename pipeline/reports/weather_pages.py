"""The weather of a season's stations in words, and as files: page and table.

From a finished `WeatherYear`, by the leaflet's one way.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from pipeline.reports.folding import WIDTH, folded, in_columns
from pipeline.reports.leaflet import Leaflet, leaflet_files, write_leaflet, written_lines
from pipeline.reports.tables import csv_text
from pipeline.reports.views import PAPERS
from pipeline.wording import formats
from pipeline.wording.weather import (
    HEADING,
    METHOD,
    MONTHS,
    RAIN_TITLES,
    damp_words,
    in_a_hundred,
    lead,
    without_window_words,
)

if TYPE_CHECKING:
    from pipeline.outlook.weather import WeatherYear

NAME = "weather"
LAST_HEADING = "What these figures rest on"


@dataclass(frozen=True)
class RainTable:
    """A row a station, a column a month."""

    title: str
    rows: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True)
class WeatherView(Leaflet):
    """The whole document; `in_span` marks the months of the season."""

    heading: str
    lead: str
    months: tuple[str, ...]
    in_span: tuple[bool, ...]
    rain: tuple[RainTable, ...]
    cloud: tuple[tuple[str, ...], ...]
    without: str
    method: tuple[str, ...]


def weather_view(year: WeatherYear) -> WeatherView:
    """Everything the template prints."""
    home, stations = year.inputs.home, year.stations
    when = formats.period_title(year.span.first_night, year.span.last_night)
    band = year.inputs.season.band
    tables = [
        RainTable(title, tuple((one.call, tuple(map(in_a_hundred, one.odds.rain[:, place]))) for one in stations))
        for place, title in enumerate(RAIN_TITLES)
    ]
    first, last = year.span.first_night, year.span.last_night
    spanned = {(first + dt.timedelta(days=day)).month for day in range((last - first).days + 1)}
    return WeatherView(
        title=f"Mutual Moon, {HEADING.lower()}, {home.call}",
        author=home.operator or home.call,
        footer=f"Mutual Moon · {HEADING.lower()} · {home.call} · {formats.band(band)} · plan {year.number}",
        number=year.number,
        paper=PAPERS[year.inputs.season.report.paper],
        dated=year.span.first_night,
        last_heading=LAST_HEADING,
        heading=HEADING,
        lead=f"{when}. {lead(home.call, stations[0].odds.elevation_deg, band)}" if stations else f"{when}.",
        months=MONTHS,
        in_span=tuple(month in spanned for month in range(1, 13)),
        rain=tuple(tables) if stations else (),
        cloud=tuple(
            (
                one.call,
                formats.elevation(one.odds.elevation_deg),
                *(in_a_hundred(share) for share in one.odds.cloud),
                damp_words(one.odds.damp_db),
            )
            for one in stations
        ),
        without=without_window_words(year.without_window),
        method=METHOD,
    )


def weather_table(year: WeatherYear) -> pd.DataFrame:
    """A row a station and month of the year."""
    rows = [
        {
            "station": one.call,
            "month": month,
            "moon_elevation_deg": one.odds.elevation_deg,
            "rain_over_1_db_share": one.odds.rain[month - 1, 0],
            "rain_over_3_db_share": one.odds.rain[month - 1, 1],
            "cloud_over_1_db_share": one.odds.cloud[0],
            "cloud_over_3_db_share": one.odds.cloud[1],
            "damp_air_db": one.odds.damp_db,
        }
        for one in year.stations
        for month in range(1, 13)
    ]
    columns = list(rows[0]) if rows else ["station", "month"]
    return pd.DataFrame(rows, columns=columns)


def write_weather(year: WeatherYear, out_folder: Path, with_pdf: bool = True) -> list[Path]:
    """Writes page and table into `out_folder`; returns them, the one to open first in front.

    Raises PdfUnavailable where the PDF engine does not load, OutputBlocked where a viewer holds a file.
    """
    tables = {f"{NAME}.csv": csv_text(weather_table(year))}
    files = leaflet_files(weather_view(year), "weather.html.jinja", NAME, tables, with_pdf)
    return write_leaflet(out_folder, NAME, files)


def weather_text(year: WeatherYear, files: list[Path], width: int = WIDTH) -> str:
    """What the command says when it is done: the months of the span, a station a line."""
    view = weather_view(year)
    months = [place for place, inside in enumerate(view.in_span) if inside]
    lines = [f"{view.heading}, plan {view.number}", view.lead, "Of a hundred hours:", ""]
    head = ("", "", "rain over 1 dB", "over 3 dB", "cloud over 1 dB", "over 3 dB", "damp air, dB")
    rows = [head]
    for (call, one), (_, three), (*_, cloud_one, cloud_three, damp) in zip(
        *(table.rows for table in view.rain), view.cloud, strict=True
    ):
        for month in months:
            name = call if month == months[0] else ""
            rows.append((name, view.months[month], one[month], three[month], cloud_one, cloud_three, damp))
    lines += in_columns(rows)
    lines += ["", view.without] if view.without else []
    lines += ["", *written_lines(files)]
    return folded("\n".join(lines), width)
