"""`review`: logs against predictions, what they teach of the stations, and whether the chances were honest."""

from __future__ import annotations

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
    read,
    stop,
    tell,
    typed,
)

if TYPE_CHECKING:
    from pipeline.review.review import Review


@app.command(epilog="Example: mutual-moon review march.adi out/2027-03/nights/2027-03-13/log.csv")
def review(
    logs: Annotated[list[Path], typer.Argument(help="Logs: ADIF (.adi, .adx) or a log.csv of the sheets.")],
    season: SeasonFile = DEFAULT_SEASON,
    out: OutFolder = DEFAULT_OUT,
    apply: Annotated[bool, typer.Option("--apply", help="Write the corrections into the record.")] = False,
    no_pdf: Annotated[bool, typer.Option("--no-pdf", help="Write HTML and CSV, no PDF.")] = False,
) -> None:
    """Compares logs with predictions, and learns corrections of the stations that the next plan can use."""
    import shlex

    from pipeline.ephemeris.timescale import EphemerisUnavailable
    from pipeline.inputs.faults import InputFaults
    from pipeline.record.attempts import remembered
    from pipeline.reports.blocked import OutputBlocked
    from pipeline.reports.pdf import PdfUnavailable
    from pipeline.review.reading_logs import read_logs
    from pipeline.review.report import write_review
    from pipeline.review.review import NothingToReview, make_review
    from pipeline.review.text import findings_text, review_text

    inputs = read(season, None)
    missing = [path for path in logs if not path.is_file()]
    if missing:
        stop("\n".join(f"{path}: no such file; a log in ADIF or a log.csv of the sheets is meant" for path in missing))
    try:
        entries, findings = read_logs(logs, inputs)
        if findings:
            typer.echo(findings_text(findings))
        made = make_review(entries, findings, inputs, tell, remembered(season.parent))
        tell("Pages")
        files = write_review(made, out, with_pdf=not no_pdf)
    except NothingToReview as nothing:
        stop(str(nothing), NOTHING_FOUND)
    except (InputFaults, EphemerisUnavailable, PdfUnavailable, OutputBlocked) as problem:
        stop(str(problem))
    typer.echo(review_text(made))
    for file in files:
        typer.echo(f"written: {file}")
    elsewhere = "".join(
        f" --{name} {shlex.quote(str(given))}"
        for name, given, usual in (("season", season, DEFAULT_SEASON), ("out", out, DEFAULT_OUT))
        if given != usual
    )
    if apply:
        _apply(made, season, typed(f"plan{elsewhere}"))
    elif made.corrections != inputs.record.corrections:
        names = " ".join(shlex.quote(str(path)) for path in logs)
        command = typed(f"review {names}{elsewhere} --apply")
        typer.echo(f"The record was not changed; {command} puts the corrections into it.")


def _apply(made: Review, season: Path, plan: str) -> None:
    """The corrections into the record, and how to take them back."""
    from pipeline.inputs.faults import InputFaults
    from pipeline.record.attempts import NAME, attempts_text
    from pipeline.record.corrections_writing import write_corrections
    from pipeline.record.writing import RecordBusy

    if not made.lessons:
        typer.echo("The log teaches nothing of the stations; the record stays as it is.")
        return
    try:
        file = write_corrections(season.parent, made.corrections, {NAME: attempts_text(made.learnt_from)})
    except (InputFaults, RecordBusy) as problem:
        stop(str(problem))
    typer.echo(f"written: {file}")
    typer.echo(f"{plan} uses it; deleting it takes the corrections back.")
