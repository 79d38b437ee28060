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
    from pipeline.reports.blocked import OutputBlocked
    from pipeline.reports.pdf import PdfUnavailable
    from pipeline.review.memory import attempts_text, remembered
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
        known = remembered(season.parent)
        made = make_review(entries, findings, inputs, tell, known)
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
        return
    names = " ".join(shlex.quote(str(path)) for path in logs)
    command = typed(f"review {names}{elsewhere} --apply")
    if made.corrections != inputs.record.corrections:
        typer.echo(f"The record was not changed; {command} puts the corrections into it.")
    elif attempts_text(made.learnt_from) != attempts_text(known):
        typer.echo(f"The record was not changed; {command} keeps the attempts there, so that months add up.")


def _apply(made: Review, season: Path, plan: str) -> None:
    """The attempts into the record, with what they teach, and how to take that back."""
    from pipeline.inputs.corrections_writing import write_learnt
    from pipeline.inputs.faults import InputFaults
    from pipeline.inputs.record_writing import RecordBusy
    from pipeline.review.memory import NAME, attempts_text

    corrections = made.corrections if made.lessons else None
    try:
        files = write_learnt(season.parent, {NAME: attempts_text(made.learnt_from)}, corrections)
    except (InputFaults, RecordBusy) as problem:
        stop(str(problem))
    typer.echo(f"written: {files[-1]}")
    if made.lessons:
        typer.echo(f"{plan} uses it; deleting it takes the corrections back.")
    else:
        typer.echo("The log teaches nothing of the stations yet; its attempts count in the next review.")
