"""What the figures of season and stations imply and hardly anybody means: lines that planning commands tell first."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pipeline.record.inputs import Inputs

MOST_LINES = 12


def slip_lines(inputs: Inputs, of_stations: bool = True) -> list[str]:
    """A line a slip: of the season, and `of_stations` those of home and of each partner on its band."""
    from pipeline.commands.common import utc_today
    from pipeline.explain.oddities import SLIPS
    from pipeline.explain.places import place_oddities
    from pipeline.explain.plausibility import oddities
    from pipeline.explain.season_slips import season_oddities
    from pipeline.explain.usual_figures import unusual_of_station
    from pipeline.pairs.equipment import pair_frequency_mhz
    from pipeline.windows.span import span_of
    from pipeline.wording.plausibility import oddity_words

    file = Path(inputs.season.file).name
    span = span_of(inputs, utc_today())
    found_of_season = season_oddities(inputs, span.first_night, span.last_night)
    lines = [f"{file}: {oddity_words(one)}" for one in found_of_season]
    if of_stations:
        stations = [(inputs.home, inputs.season.band), *zip(inputs.partners, inputs.bands, strict=True)]
        for station, band in stations:
            frequency = station.bands[band].frequency_mhz or pair_frequency_mhz(inputs, band)
            found = [*oddities(station, band, frequency, inputs.modes), *place_oddities(station, inputs.home)]
            found += unusual_of_station(station)
            lines += [f"{station.file}: {oddity_words(one)}" for one in found if one.kind in SLIPS]
    more = len(lines) - MOST_LINES
    return lines[:MOST_LINES] + ([f"{more} more; `check` tells all of each station"] if more > 0 else [])


def text_lines(folder: Path) -> list[str]:
    """A line for each text of a file of the folder that a # cuts off."""
    from pipeline.inputs.cut_texts import cut_texts, doubtful_points

    return [str(one) for one in (*cut_texts(folder), *doubtful_points(folder))]
