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
    from pipeline.pairs.equipment import pair_frequency_mhz
    from pipeline.windows.span import span_of
    from pipeline.wording.plausibility import oddity_words

    file = Path(inputs.season.file).name
    last = span_of(inputs, utc_today()).last_night
    lines = [f"{file}: {oddity_words(one)}" for one in season_oddities(inputs.season, last)]
    if of_stations:
        stations = [(inputs.home, inputs.season.band), *zip(inputs.partners, inputs.bands, strict=True)]
        for station, band in stations:
            frequency = station.bands[band].frequency_mhz or pair_frequency_mhz(inputs, band)
            found = [*oddities(station, band, frequency, inputs.modes), *place_oddities(station, inputs.home)]
            lines += [f"{station.file}: {oddity_words(one)}" for one in found if one.kind in SLIPS]
    more = len(lines) - MOST_LINES
    return lines[:MOST_LINES] + ([f"{more} more; `check` tells all of each station"] if more > 0 else [])


def text_lines(folder: Path) -> list[str]:
    """A line for each text of a file of the folder that a # cuts off."""
    from pipeline.inputs.cut_texts import cut_texts

    return [str(one) for one in cut_texts(folder)]
