"""`plan`: a period's mutual windows, nights and agenda, as a calendar and data files."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
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
    retyped,
    say,
    stop,
    tell,
    tell_notes,
    typed,
    utc_today,
)
from pipeline.commands.console import text_width

if TYPE_CHECKING:
    from pipeline.plan.plan import Plan
    from pipeline.record.inputs import Inputs


@dataclass(frozen=True)
class WhatIf:
    """What is tried, and on which files; with `hold` the agenda stays unless it gains more."""

    changes: list[str]
    hold: float | None
    season: Path
    month: str | None
    planned_from: dt.date | None
    today: dt.date
    example_call: str


@app.command(epilog="Example: mutual-moon plan --month 2027-03")
def plan(
    season: SeasonFile = DEFAULT_SEASON,
    out: OutFolder = DEFAULT_OUT,
    month: Annotated[str | None, typer.Option(help="Plan this month instead of the season's: 2027-03.")] = None,
    demo: Annotated[bool, typer.Option("--demo", help="Plan the invented season that comes with the program.")] = False,
    no_pdf: Annotated[bool, typer.Option("--no-pdf", help="Write HTML and data, no PDF.")] = False,
    from_: Annotated[
        str | None,
        typer.Option(
            "--from", help="Plan what is left from this date on; else from the day after the latest outcome noted."
        ),
    ] = None,
    what_if: Annotated[
        list[str] | None,
        typer.Option(
            help="Try a value and say what changes, writing nothing: QF4LUM.bands.3cm.power_w=100. Repeatable."
        ),
    ] = None,
    hold: Annotated[
        float | None,
        typer.Option(help="With --what-if: the agenda stays unless the changed one gains more contacts than this."),
    ] = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="With --what-if: print the agenda that it gives as JSON, nothing else.")
    ] = False,
) -> None:
    """Computes a period's windows, nights and agenda; writes the calendar and the data files."""
    from pipeline.ephemeris.timescale import EphemerisUnavailable
    from pipeline.inputs.faults import InputFaults
    from pipeline.plan.plan import make_plan
    from pipeline.reports.blocked import OutputBlocked
    from pipeline.reports.pdf import PdfUnavailable
    from pipeline.reports.places import demo_folder
    from pipeline.reports.plan_on_disk import PlanOfAnother, require_same_home
    from pipeline.reports.plan_text import plan_text
    from pipeline.reports.tables import agenda_json
    from pipeline.reports.writing import plan_rooms, write_rooms
    from pipeline.sheets.document import night_rooms
    from pipeline.windows.span import span_of

    if hold is not None and not (what_if and hold >= 0.0):
        example = typed("plan --what-if QF4LUM.bands.3cm.power_w=100 --hold 0.2")
        stop(f"--hold {hold:g}: a number of contacts from 0 on is meant, beside a --what-if; for instance {example}")
    if as_json and not what_if:
        stop("--json goes with --what-if; what a plan holds is written to data/plan.json")
    season_file, begun = demo_folder() / "season.yaml" if demo else season, _date(from_)
    inputs = read(season_file, month, begun)
    tell_notes(inputs, season_file)
    today = utc_today()
    try:
        if begun is not None and begun > (last := span_of(inputs, today).last_night):
            stop(f"--from {begun}: the last night of this plan is {last}")
        tried = WhatIf(what_if or [], hold, season_file, month, begun, today, inputs.partners[0].call)
        if what_if and as_json:
            typer.echo(agenda_json(make_plan(_tried(tried), today, tell)), nl=False)
            return
        changed = _tried(tried) if what_if else inputs
        made = make_plan(inputs, today, tell, calendar=not what_if)
        if what_if:
            say(_answer(made, changed, tried, out))
            return
        tell("Pages of the calendar")
        require_same_home(made, out)
        folder = out / made.period.name
        with_pdf = makes_pdf(no_pdf)
        calendar, data = plan_rooms(made, with_pdf)
        tell("Sheets of the nights")
        files = write_rooms([calendar, *night_rooms(made, folder, with_pdf), data], folder, tell)
    except InputFaults as faults:
        stop(f"{faults}\nNothing was written.")
    except (EphemerisUnavailable, PdfUnavailable, OutputBlocked, PlanOfAnother) as problem:
        stop(str(problem))
    say(plan_text(made, files, folder, text_width()))
    _tell_of_today(made, today, retyped("plan", season, out, month))
    if made.windows.empty:
        raise typer.Exit(NOTHING_FOUND)


def _date(text: str | None) -> dt.date | None:
    """The date from which is planned, or an end that says how one is written."""
    from pipeline.inputs.dates_said import date_advice

    if text is None:
        return None
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        stop(f"--from {text}: {date_advice(text) or 'a date is meant, such as 2027-03-14'}")


def _tell_of_today(made: Plan, today: dt.date, command: str) -> None:
    """What the clock says of the season's nights: told only, never written, and nothing where it is planned so."""
    begun, dates = made.inputs.planned_from, made.period.dates
    over = sum(date < today for date in dates)
    if not over or (begun is not None and begun >= min(today, dates[-1])):
        return
    count = f"{over} of this season's {len(dates)} nights are over" if over < len(dates) else "this season is over"
    advice = f"; what is left: {command} --from {today}" if over < len(dates) else ""
    typer.echo(f"note: {count}{advice}", err=True)


def _tried(tried: WhatIf) -> Inputs:
    """The inputs with the tried values in them."""
    from pipeline.inputs.faults import InputFaults
    from pipeline.inputs.what_if import read_changes
    from pipeline.record.inputs import read_inputs

    try:
        return read_inputs(
            tried.season, tried.month, read_changes(tried.changes, tried.example_call), tried.planned_from
        )
    except InputFaults as faults:
        # The files alone were read before without a fault, so each of these comes from the value tried.
        stop(f"the value tried does not fit:\n{faults}")


def _answer(before: Plan, inputs: Inputs, tried: WhatIf, out: Path) -> str:
    """What the tried values, which are in `inputs`, change against the plan of the files as they stand."""
    from pipeline.plan.compare import compare_plans
    from pipeline.plan.held import hold_agenda
    from pipeline.plan.plan import make_plan
    from pipeline.reports.plan_on_disk import PlanOutdated, require_plan
    from pipeline.reports.what_if_text import what_if_text

    try:
        is_current = require_plan(before.inputs, before, out).planned_from == before.inputs.planned_from
    except PlanOutdated:
        is_current = False
    if not is_current:
        say("note: compared with the files as they are now; the plan on disk is older or missing", err=True)
    if tried.hold is None:
        after = make_plan(inputs, tried.today, tell, calendar=False)
        return what_if_text(before, tried.changes, compare_plans(before, after))
    held = hold_agenda(before, inputs, tried.hold, lambda one: make_plan(one, tried.today, tell, calendar=False))
    return what_if_text(before, tried.changes, compare_plans(before, held.plan), held)
