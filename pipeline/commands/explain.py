"""`explain`: the link with one partner at one instant, line by line."""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path
from typing import Annotated

import typer

from pipeline.commands.common import DEFAULT_OUT, DEFAULT_SEASON, OutFolder, SeasonFile, app, read, say, stop
from pipeline.commands.console import text_width


@app.command(epilog="Example: mutual-moon explain QF4LUM 2027-03-13T23:10Z")
def explain(
    partner: Annotated[str, typer.Argument(help="Call of a partner of the season.")],
    time: Annotated[str, typer.Argument(help="Instant in ISO 8601 with Z: 2027-03-13T23:10Z. The Moon may be down.")],
    season: SeasonFile = DEFAULT_SEASON,
    out: OutFolder = DEFAULT_OUT,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON: the keys of samples.csv and the lines.")] = False,
) -> None:
    """Works out the whole link with a partner at one instant, line by line, with formulas and sources."""
    import json

    from pipeline.ephemeris.timescale import EphemerisUnavailable
    from pipeline.explain import explain as working
    from pipeline.explain.explanation import NotPossible
    from pipeline.reports.explanation_json import explanation_json
    from pipeline.reports.plain import explanation_text
    from pipeline.reports.plan_on_disk import with_sites_on_disk
    from pipeline.wording.explain import obstacle_words

    instant = _instant(time, season)
    inputs = with_sites_on_disk(read(season, None), out)
    try:
        made = working.explain(inputs, partner, instant)
    except EphemerisUnavailable as problem:
        stop(str(problem))
    except NotPossible as problem:
        stop(obstacle_words(problem.obstacle))
    if as_json:
        # Other programs read it: whatever the stream's letters are, none is lost.
        wide = str(sys.stdout.encoding).lower().startswith("utf")
        typer.echo(json.dumps(explanation_json(made), indent=2, ensure_ascii=not wide))
    else:
        say(explanation_text(made, text_width()))


def _instant(text: str, season: Path) -> dt.datetime:
    """An instant with its zone, or an end that says how this one is written."""
    from pipeline.inputs.moments_said import instant_advice

    try:
        instant = dt.datetime.fromisoformat(text)
        if instant.tzinfo is not None:
            return instant
    except ValueError:
        pass
    home = read(season, None).zone if season.is_file() else None
    advice = instant_advice(text, home) or "a date and a time in UTC are meant, such as 2027-03-13T23:10Z."
    stop(f"{text}: not a time with its zone; {advice}")
