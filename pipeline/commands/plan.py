"""`plan`: a period's mutual windows, nights and agenda, as a calendar and data files."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.commands.common import (
    DEFAULT_OUT,
    DEFAULT_SEASON,
    NOTHING_FOUND,
    OutFolder,
    SeasonFile,
    app,
    makes_pdf,
    read,
    stop,
    tell,
    tell_notes,
)

if TYPE_CHECKING:
    from pipeline.plan.plan import Plan
    from pipeline.record.inputs import Inputs


@app.command(epilog="Example: mutual-moon plan --month 2027-03")
def plan(
    season: SeasonFile = DEFAULT_SEASON,
    out: OutFolder = DEFAULT_OUT,
    month: Annotated[str | None, typer.Option(help="Plan this month instead of the season's: 2027-03.")] = None,
    demo: Annotated[bool, typer.Option("--demo", help="Plan the invented season that comes with the program.")] = False,
    no_pdf: Annotated[bool, typer.Option("--no-pdf", help="Write HTML and data, no PDF.")] = False,
    what_if: Annotated[
        list[str] | None,
        typer.Option(
            help="Try a value and say what changes, writing nothing: QF4LUM.bands.3cm.power_w=100. Repeatable."
        ),
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="With --what-if: print the agenda that it gives as JSON, nothing else.")
    ] = False,
) -> None:
    """Computes a period's windows, nights and agenda; writes the calendar and the data files."""
    from pipeline.ephemeris.timescale import EphemerisUnavailable
    from pipeline.plan.plan import make_plan
    from pipeline.reports.blocked import OutputBlocked
    from pipeline.reports.pdf import PdfUnavailable
    from pipeline.reports.places import demo_folder
    from pipeline.reports.plan_on_disk import PlanOfAnother, require_same_home
    from pipeline.reports.plan_text import plan_text
    from pipeline.reports.tables import agenda_json
    from pipeline.reports.writing import plan_rooms, write_rooms
    from pipeline.sheets.document import night_rooms

    if as_json and not what_if:
        stop("--json goes with --what-if; what a plan holds is written to data/plan.json")
    file = demo_folder() / "season.yaml" if demo else season
    inputs = read(file, month)
    tell_notes(inputs, season)
    today = dt.datetime.now(dt.UTC).date()
    try:
        if what_if and as_json:
            typer.echo(agenda_json(make_plan(_tried(what_if, file, month), today, tell)), nl=False)
            return
        made = make_plan(inputs, today, tell)
        if what_if:
            typer.echo(_answer(made, what_if, file, month, out, today))
            return
        tell("Pages of the calendar")
        require_same_home(made, out)
        folder = out / made.period.name
        with_pdf = makes_pdf(no_pdf)
        calendar, data = plan_rooms(made, with_pdf)
        tell("Sheets of the nights")
        files = write_rooms([calendar, *night_rooms(made, folder, with_pdf), data], folder)
    except (EphemerisUnavailable, PdfUnavailable, OutputBlocked, PlanOfAnother) as problem:
        stop(str(problem))
    typer.echo(plan_text(made, files, folder))
    if made.windows.empty:
        raise typer.Exit(NOTHING_FOUND)


def _tried(what_if: list[str], season: Path, month: str | None) -> Inputs:
    """The inputs with the tried values in them."""
    from pipeline.inputs.faults import InputFaults
    from pipeline.inputs.what_if import read_changes
    from pipeline.record.inputs import read_inputs

    try:
        return read_inputs(season, month, read_changes(what_if))
    except InputFaults as faults:
        # The files alone were read before without a fault, so each of these comes from the value tried.
        stop(f"the value tried does not fit:\n{faults}")


def _answer(before: Plan, what_if: list[str], season: Path, month: str | None, out: Path, today: dt.date) -> str:
    """What the tried values change against the plan of the files as they stand."""
    from pipeline.plan.compare import compare_plans
    from pipeline.plan.plan import make_plan
    from pipeline.reports.plan_on_disk import PlanOutdated, require_plan
    from pipeline.reports.what_if_text import what_if_text

    inputs = _tried(what_if, season, month)
    try:
        require_plan(before.inputs, before, out)
    except PlanOutdated:
        typer.echo("note: compared with the files as they are now; the plan on disk is older or missing", err=True)
    return what_if_text(before, what_if, compare_plans(before, make_plan(inputs, today, tell)))
