"""`propose`: a time that a partner proposed, answered at once; with --take it goes into the record as agreed."""

from __future__ import annotations

import datetime as dt
import sys
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
    read,
    retyped,
    say,
    stop,
    tell,
    utc_today,
)

if TYPE_CHECKING:
    from pipeline.agenda.proposal import Judged
    from pipeline.agenda.proposal_ground import Ground
    from pipeline.letters.times_said import ClockMissing, Clocks
    from pipeline.record.inputs import Inputs
    from pipeline.record.writing import Changed
    from pipeline.windows.span import Span


@dataclass(frozen=True)
class Asked:
    """What was typed."""

    partner: str
    time: str
    zone: str | None
    instead: str
    season: Path
    out: Path
    month: str | None


@app.command(epilog="Example: mutual-moon propose QF4LUM 2027-03-13 21:00 --zone partner")
def propose(
    partner: Annotated[str, typer.Argument(metavar="CALL", help="Call of the partner who proposed the time.")],
    time: Annotated[
        list[str],
        typer.Argument(
            metavar="TIME...", help="2027-03-13T19:00Z, or Sat 13 Mar 21:00 with UTC behind it or with --zone."
        ),
    ],
    season: SeasonFile = DEFAULT_SEASON,
    out: OutFolder = DEFAULT_OUT,
    month: Annotated[str | None, typer.Option(help="A month instead of the season's: 2027-03.")] = None,
    zone: Annotated[str | None, typer.Option(help="Whose clock is meant: home, utc or partner.")] = None,
    instead: Annotated[
        str | None, typer.Option(help="Letter of the partner's slot that moves to this time, such as A.")
    ] = None,
    take: Annotated[
        bool, typer.Option("--take", help="Note it in record/agenda.yaml as agreed; the next plan keeps to it.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print values as JSON instead of lines.")] = False,
) -> None:
    """Says at once whether a time that a partner proposed would do, the nearest other one, and a reply to paste."""
    from pipeline.ephemeris.timescale import EphemerisUnavailable
    from pipeline.inputs.faults import InputFaults
    from pipeline.letters.answers import take_proposal
    from pipeline.letters.offered import AnswerFault
    from pipeline.letters.times_said import TimeFault
    from pipeline.record.writing import RecordBusy, record_lock
    from pipeline.windows.span import span_of

    asked = Asked(partner, " ".join(time), zone, (instead or "").upper(), season, out, month)
    # Faults of the inputs are told before anything waits.
    inputs, changes = read(season, month), None
    span = span_of(inputs, utc_today())
    try:
        if take:
            with record_lock(season.parent):
                # Another run may have noted something while this one waited.
                inputs = read(season, month)
                judged = _judged(asked, inputs, span)
                _require_possible(judged)
                changes = take_proposal(season.parent, inputs, span, judged, dt.datetime.now(dt.UTC))
        else:
            judged = _judged(asked, inputs, span)
    except InputFaults as faults:
        stop(f"{faults}\nNothing was written.")
    except (AnswerFault, EphemerisUnavailable, RecordBusy, TimeFault) as problem:
        stop(str(problem))
    _print(asked, inputs, judged, changes, as_json)


def _judged(asked: Asked, inputs: Inputs, span: Span) -> Judged:
    """The time judged; AnswerFault or TimeFault where what was typed does not fit."""
    from pipeline.agenda.proposal import judge_time
    from pipeline.letters.answers import partner_call
    from pipeline.letters.offered import AnswerFault
    from pipeline.letters.times_said import ClockMissing, TimeFault, read_time, require_said

    call = partner_call(inputs, asked.partner)
    require_said(asked.time)
    _require_near(asked, inputs, span, call)
    ground = _ground(asked, inputs, span)
    pair = inputs.place_of(call)
    try:
        instant = read_time(asked.time, asked.zone, _clocks(ground, call))
    except ClockMissing as missing:
        stop(_readings(ground, pair, missing))
    if not ground.holds(instant):
        first, last = (f"{edge:%Y-%m-%d %H:%M}" for edge in ground.edges)
        what = f"{instant:%Y-%m-%d %H:%M} UTC lies outside the nights that are planned, {first} to {last} UTC"
        raise TimeFault(f"{what}; {_other_month(asked, instant)}")
    labels = [one.label for one in ground.ahead(pair)]
    if asked.instead and asked.instead not in labels:
        there = f"there is {', '.join(labels)}" if labels else "there is none"
        raise AnswerFault(f"--instead {asked.instead}: {call} has no such slot in this plan; {there}.")
    return judge_time(ground, pair, instant, asked.instead)


def _require_near(asked: Asked, inputs: Inputs, span: Span, call: str) -> None:
    """TimeFault before anything is planned where a time lies outside the season by whichever clock."""
    from pipeline.letters.times_said import BeyondSeason, ClockMissing, Clocks, TimeFault, read_time

    dates = f"{span.first_night} to {span.last_night}"
    clocks = Clocks(inputs.zone, inputs.partner(call).zone, call, *span.sky_edges)
    try:
        instants = [read_time(asked.time, asked.zone, clocks)]
    except ClockMissing as missing:
        instants = list(missing.readings.values())
    except BeyondSeason as beyond:
        raise TimeFault(f"{asked.time} lies outside this season ({dates}); {beyond.advice}.") from None
    except TimeFault:
        return  # a doubt that the season's nights may settle
    if not any(span.is_near(one) for one in instants):
        what = f"{instants[0]:%Y-%m-%d %H:%M} UTC lies outside the nights that are planned, {dates}"
        raise TimeFault(f"{what}; {_other_month(asked, instants[0])}")


def _other_month(asked: Asked, instant: dt.datetime) -> str:
    """The same for the month of the time."""
    zone = f" --zone {asked.zone}" if asked.zone else ""
    command = f"propose {asked.partner} {asked.time}{zone}"
    return f"for that month: {retyped(command, asked.season, asked.out, f'{instant:%Y-%m}')}"


def _ground(asked: Asked, inputs: Inputs, span: Span) -> Ground:
    """What times are judged on, from the inputs as they are; the date from which is planned is that of the plan."""
    from pipeline.agenda.proposal_ground import make_ground
    from pipeline.outlook.night_sites import choose_sites
    from pipeline.reports.plan_on_disk import PlanOutdated, require_plan

    if (asked.out / span.name / "data" / "run.json").is_file():
        try:
            inputs = require_plan(inputs, span, asked.out)
        except PlanOutdated:
            place = (asked.out / span.name).as_posix()
            say(f"note: the plan in {place} is older than the inputs; this is worked out from the inputs", err=True)
    sited = choose_sites(inputs, utc_today(), tell)
    return make_ground(inputs if sited is None else sited.inputs, span, tell)


def _clocks(ground: Ground, call: str) -> Clocks:
    from pipeline.letters.times_said import Clocks

    inputs = ground.grid.inputs
    return Clocks(inputs.zone, inputs.partner(call).zone, call, *ground.edges)


def _require_possible(judged: Judged) -> None:
    """An end where there is nothing to take."""
    from pipeline.letters.offered import AnswerFault
    from pipeline.wording.proposals import verdict_words

    if not judged.is_possible:
        raise AnswerFault(f"nothing was taken: {verdict_words(judged)}.")


def _readings(ground: Ground, pair: int, missing: ClockMissing) -> str:
    """What a time without a clock could mean, and how good each reading is."""
    from pipeline.agenda.proposal import judge_time
    from pipeline.wording import formats
    from pipeline.wording.proposals import verdict_words

    limits = ground.grid.inputs.season.policy.outcome_thresholds.limits
    lines = [str(missing)]
    for word, instant in missing.readings.items():
        held = ground.holds(instant)
        verdict = verdict_words(judge_time(ground, pair, instant), limits) if held else "outside what is planned"
        when = f"{formats.day(instant.date())} {formats.clock(instant)} UTC"
        lines.append(f"  --zone {word:8}{when}: {verdict}")
    return "\n".join(lines)


def _print(asked: Asked, inputs: Inputs, judged: Judged, changes: list[Changed] | None, as_json: bool) -> None:
    """The judgement, the reply, and what was noted or what to type."""
    import json

    from pipeline.letters.answers import changed_lines, zones_of
    from pipeline.letters.proposal_reply import reply_words
    from pipeline.reports.proposal_json import proposal_json
    from pipeline.wording.proposals import proposal_lines, verdict_words

    reply = reply_words(judged, is_taken=changes is not None)
    if as_json:
        wide = str(sys.stdout.encoding).lower().startswith("utf")
        typer.echo(json.dumps(proposal_json(judged, reply), indent=2, ensure_ascii=not wide))
    else:
        for line in proposal_lines(judged, inputs.season.policy.outcome_thresholds.limits):
            say(line)
        if reply:
            say("\nReply to paste:\n" + "\n".join(f"  {line}".rstrip() for line in reply.splitlines()) + "\n")
    if changes is None:
        if judged.is_possible and not judged.agreed and not as_json:
            instead = f" --instead {asked.instead}" if asked.instead else ""
            command = f"propose {judged.partner.station.call} {judged.start:%Y-%m-%dT%H:%M}Z{instead} --take"
            say(f"To agree: {retyped(command, asked.season, asked.out, asked.month)}")
        return
    if judged.against and changes:
        say(f"note: taken although {verdict_words(judged)}", err=True)
    zones = zones_of(inputs, judged.partner.station.call)
    for line in (line for change in changes for line in changed_lines(change, zones)):
        say(line, err=as_json)
    said = f"noted in {asked.season.parent / 'record' / 'agenda.yaml'}" if changes else "the record says so already"
    say(f"{said}; next: {retyped('plan', asked.season, asked.out, asked.month)}", err=as_json)
