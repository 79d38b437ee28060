"""What the figures of season and stations imply and hardly anybody means: lines that planning commands tell first."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pipeline.explain.oddities import Oddity
    from pipeline.explain.station_check import StationCheck
    from pipeline.inputs.model import Station
    from pipeline.record.inputs import Inputs
    from pipeline.windows.span import Span

MOST_LINES = 12
# Stations of a folder that a new one is held against.
MOST_BESIDE = 200


def slip_lines(inputs: Inputs, of_stations: bool = True, folder: Path | None = None) -> list[str]:
    """A line a slip: of the season, and `of_stations` those of home and of each partner on its band.

    Where the `folder` of the files is told, each names the line of its key.
    """
    from pipeline.commands.common import utc_today
    from pipeline.explain.oddities import SLIPS, Odd
    from pipeline.explain.places import place_oddities
    from pipeline.explain.plausibility import oddities
    from pipeline.explain.season_slips import dates_left, months_over, season_oddities
    from pipeline.explain.slip_values import key_of
    from pipeline.explain.usual_figures import unusual_of_station
    from pipeline.pairs.equipment import frequency_of_mhz
    from pipeline.windows.span import span_of
    from pipeline.wording.plausibility import oddity_words

    file = Path(inputs.season.file).name
    span = span_of(inputs, utc_today())
    found_of_season = season_oddities(inputs, span.first_night, span.last_night)
    told = [(file, one, "") for one in found_of_season]
    left = [(one.file, odd, "") for one in (inputs.home, *inputs.partners) for odd in dates_left(one, *_ends(span))]
    told += left
    months = [] if inputs.season.dates else list(inputs.season.months or ())
    if over := months_over(months, [one for _, one, _ in told], span.last_night, utc_today()):
        told = [(file, over, ""), *(one for one in told if one[1].kind is not Odd.YEAR_LEFT)]
    if of_stations:
        stations = [(inputs.home, inputs.season.band), *zip(inputs.partners, inputs.bands, strict=True)]
        for index, (station, band) in enumerate(stations):
            others = [one for one, _ in stations[:index]]
            frequency = frequency_of_mhz(inputs, station, band)
            found = [*oddities(station, band, frequency, inputs.modes), *place_oddities(station, inputs.home, others)]
            found += unusual_of_station(station)
            told += [(station.file, one, band) for one in found if one.kind in SLIPS]
    lines = [f"{_place(folder, name, key_of(one, band))}: {oddity_words(one)}" for name, one, band in told]
    more = len(lines) - MOST_LINES
    return lines[:MOST_LINES] + ([f"{more} more; `check` tells all of each station"] if more > 0 else [])


def new_lines(files: Sequence[Path]) -> list[str]:
    """A line a slip of station files that were just written, beside the others of their folder."""
    from pipeline.explain.oddities import SLIPS
    from pipeline.explain.places import place_oddities
    from pipeline.explain.plausibility import oddities
    from pipeline.explain.slip_values import key_of
    from pipeline.explain.usual_figures import unusual_of_station
    from pipeline.inputs.bands import band_table
    from pipeline.inputs.reading import folder_files
    from pipeline.wording.plausibility import oddity_words

    folder = files[0].parent
    names = {path.name for path in files}
    old = [path for path in folder_files(folder) if path.name not in names]
    known = [one for path in old[:MOST_BESIDE] if (one := _station(path)) is not None]
    lines = []
    for path in files:
        station = _station(path)
        if station is None:
            continue
        told = [("", one) for one in (*place_oddities(station, None, known), *unusual_of_station(station))]
        for band, equipment in station.bands.items():
            frequency = equipment.frequency_mhz or band_table()[band].typical_mhz
            told += [(band, one) for one in oddities(station, band, frequency)]
        lines += [
            f"{_place(folder, path.name, key_of(one, band))}: {oddity_words(one)}"
            for band, one in told
            if one.kind in SLIPS
        ]
        known.append(station)
    return lines[:MOST_LINES]


def _station(path: Path) -> Station | None:
    from pipeline.inputs.faults import InputFaults
    from pipeline.inputs.station import read_station
    from pipeline.inputs.yaml_tree import load_tree, read_bytes

    try:
        tree = load_tree(read_bytes(path), path.name, path.parent)
    except InputFaults:
        return None
    return read_station(tree).station if "call" in tree.data else None


def _ends(span: Span) -> tuple[dt.date, dt.date]:
    return span.first_night, span.last_night


def _place(folder: Path | None, file: str, key: str) -> str:
    """The file, with the line of the key that is told of where it stands there."""
    from pipeline.inputs.mending import line_of_key

    line = line_of_key(folder / file, key) if folder is not None and key else None
    return file if line is None else f"{file}, line {line}"


def in_its_line(check: StationCheck, odd: Oddity, folder: Path) -> str:
    """`qf4lum.yaml, line 9: ` of the key that a remark of a check is about; empty where its file has no such key."""
    from pipeline.explain.slip_values import key_of

    place = _place(folder, check.station.file, key_of(odd, check.band))
    return "" if place == check.station.file else f"{place}: "


def text_lines(folder: Path) -> list[str]:
    """A line for each text of a file of the folder that a # cuts off."""
    from pipeline.inputs.cut_texts import cut_texts, doubtful_points

    return [str(one) for one in (*cut_texts(folder), *doubtful_points(folder))]
