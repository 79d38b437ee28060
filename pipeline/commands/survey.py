"""`survey`: a card on which to measure the skyline where it costs most; the heights then go into the station's file."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.commands.common import (
    DEFAULT_OUT,
    DEFAULT_SEASON,
    OutFolder,
    SeasonFile,
    app,
    makes_pdf,
    read,
    retyped,
    say,
    stop,
    tell,
    utc_today,
)
from pipeline.wording.pasted import pasted

if TYPE_CHECKING:
    from pipeline.inputs.model import Station
    from pipeline.record.inputs import Inputs
    from pipeline.record.skyline_heights import Heights
    from pipeline.record.skyline_points import SkylinePoint
    from pipeline.record.skyline_writing import NewSkyline

# Azimuths named on the terminal.
MOST_NAMED = 6


@app.command(epilog="Example: mutual-moon survey --heights 300=6,305=7.5")
def survey(
    card: Annotated[
        Path | None, typer.Argument(metavar="[CARD.csv]", help="The card's table with heights filled in.")
    ] = None,
    season: SeasonFile = DEFAULT_SEASON,
    out: OutFolder = DEFAULT_OUT,
    month: Annotated[str | None, typer.Option(help="A month instead of the season's: 2027-03.")] = None,
    heights: Annotated[
        list[str] | None, typer.Option(help="Measured heights by azimuth, degrees: 300=6,305=7.5. Repeatable.")
    ] = None,
    station: Annotated[str | None, typer.Option(help="Call of a partner whose skyline is meant; else home's.")] = None,
    yes: Annotated[bool, typer.Option("--yes", help="Write the heights shown into the station's file.")] = False,
    no_pdf: Annotated[bool, typer.Option("--no-pdf", help="Write HTML and table, no PDF.")] = False,
) -> None:
    """Lists the azimuths that the low Moon crosses with what a degree of skyline costs, or takes measured heights."""
    from pipeline.ephemeris.timescale import EphemerisUnavailable
    from pipeline.inputs.faults import InputFaults
    from pipeline.record.writing import RecordBusy
    from pipeline.reports.blocked import OutputBlocked
    from pipeline.reports.pdf import PdfUnavailable

    inputs = read(season, month)
    if card is not None and "=" in card.name and not card.is_file():
        # Heights parted by a blank: the shell makes an argument of what stands behind it.
        card, heights = None, [*(heights or []), str(card)]
    try:
        if card is not None or heights:
            found = _heights(card, heights or [])
            asked = _Asked(season, month, station or found.call, card, heights or [])
            _take(asked, inputs, found, yes)
        else:
            _make_card(inputs, season, station, out, makes_pdf(no_pdf))
    except InputFaults as faults:
        stop(f"{faults}\nNothing was written.")
    except (EphemerisUnavailable, PdfUnavailable, OutputBlocked, RecordBusy) as problem:
        stop(str(problem))


@dataclass(frozen=True)
class _Asked:
    """What was typed."""

    season: Path
    month: str | None
    call: str | None
    card: Path | None
    heights: list[str]

    @property
    def again(self) -> str:
        """The command that writes."""
        words = [] if self.card is None else [pasted(self.card)]
        words += ["--heights " + ",".join(self.heights)] if self.heights else []
        words += [f"--station {self.call}"] if self.call and self.card is None else []
        return retyped(f"survey {' '.join(words)}", self.season, DEFAULT_OUT, self.month) + " --yes"


def _heights(card: Path | None, typed: list[str]) -> Heights:
    from pipeline.record.skyline_heights import card_heights, typed_heights

    if card is not None and typed:
        stop("a card and --heights at once; give one of them")
    found = typed_heights(typed) if card is None else card_heights(card)
    if not found.by_azimuth:
        stop(f"{card}: no height is filled in; its column measured_elevation_deg takes them")
    return found


def _station(inputs: Inputs, call: str | None) -> Station:
    """Home or the partner that is named; an end that names the nearest where it is unknown."""
    from pipeline.explain.explanation import NotPossible, find_call
    from pipeline.explain.remarks import Sought
    from pipeline.wording.explain import obstacle_words

    stations = (inputs.home, *inputs.partners)
    if call is None or not call:
        return inputs.home
    try:
        named = find_call(call, [one.call for one in stations], Sought.STATION)
    except NotPossible as problem:
        stop(obstacle_words(problem.obstacle))
    return next(one for one in stations if one.call == named)


def _take(asked: _Asked, inputs: Inputs, found: Heights, yes: bool) -> None:
    """Shows what the heights change in the station's file, and writes it where that is asked for."""
    from pipeline.record.skyline_points import merged
    from pipeline.record.skyline_writing import standing_points, with_points, write_skyline
    from pipeline.record.writing import record_lock
    from pipeline.wording.skylines import changes_words, elsewhere_words, from_zenith_words

    folder = asked.season.parent

    def made(inputs: Inputs) -> tuple[Station, list[SkylinePoint], list[SkylinePoint], NewSkyline]:
        station = _station(inputs, asked.call)
        if found.call and found.call != station.call:
            stop(f"{asked.card} is the card of {found.call}, and --station names {station.call}")
        standing = standing_points(station, folder)
        guess = inputs.season.policy.assumed_skyline.nine_in_ten_deg
        points = merged(standing, found.by_azimuth, guess, station.terrain is not None)
        return station, standing, points, with_points(station, folder, points, elsewhere_words(guess))

    station, standing, points, new = made(inputs)
    if yes:
        with record_lock(folder):
            # Another run may have written to the file while this one waited.
            station, standing, points, new = made(read(asked.season, asked.month))
            write_skyline(new)
    for line in from_zenith_words(found.by_azimuth):
        say(line, err=True)
    guess = inputs.season.policy.assumed_skyline.nine_in_ten_deg
    say("\n".join(changes_words(station, standing, points, found.by_azimuth, guess)))
    if yes:
        say(f"written: {new.path}; next: {retyped('plan', asked.season, DEFAULT_OUT, asked.month)}")
    else:
        say(f"Nothing is written yet. To write it into {new.path}: {asked.again}")


def _make_card(inputs: Inputs, season: Path, call: str | None, out: Path, with_pdf: bool) -> None:
    """Writes the card, with the heights that its table holds already."""
    from pipeline.agenda.proposal_ground import make_ground
    from pipeline.outlook.skyline_cost import seen_minutes, skyline_cost
    from pipeline.outlook.worth import Worth
    from pipeline.pairs.equipment import beam_of, pair_frequency_mhz
    from pipeline.reports.leaflet import write_leaflet
    from pipeline.sheets.survey_card import NAME, Surveyed, card_files
    from pipeline.windows.span import plan_number, span_of
    from pipeline.wording import formats

    station = _station(inputs, call)
    index = 0 if station.call == inputs.home.call else inputs.place_of(station.call) + 1
    ground = make_ground(inputs, span_of(inputs, utc_today()), tell)
    worth = Worth(ground.grid, ground.agenda.commitments)
    cost = skyline_cost(ground.survey, index, seen_minutes(ground.survey, ground.grid, worth, index))
    band = inputs.season.band if index == 0 else inputs.bands[index - 1]
    beam = beam_of(station, band, pair_frequency_mhz(inputs, band)).beamwidth_deg
    period = ground.grid.period
    found = Surveyed(station, period, plan_number(ground.grid.inputs, period), cost, beam)
    name = NAME if index == 0 else f"{NAME}_{station.call.lower().replace('/', '-')}"
    tell("Pages")
    made = card_files(found, inputs.season.report.paper, _measured(out / f"{name}.csv", station.call), with_pdf, name)
    files = write_leaflet(out, name, made)
    order = cost.order
    dear = ", ".join(f"{azimuth}°" for azimuth in order[:MOST_NAMED])
    title = formats.period_title(period.first_night, period.last_night)
    lines = [f"{station.call} {station.title}, {title}: the low Moon crosses {formats.count(len(order), 'azimuth')}"]
    if len(order):
        lines.append(f"  a degree of skyline costs most at {dear}")
    lines += [f"written: {file}" for file in files]
    filled = out / f"{name}.csv"
    lines.append(f"Fill heights into {filled}, then: {retyped(f'survey {pasted(filled)}', season)}")
    say("\n".join(lines))


def _measured(table: Path, call: str) -> dict[float, float]:
    """The heights in a card of before: a new one keeps them."""
    from pipeline.record.skyline_heights import card_heights

    if not table.is_file():
        return {}
    found = card_heights(table)
    return found.by_azimuth if found.call in ("", call) else {}
