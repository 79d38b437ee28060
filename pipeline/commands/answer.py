"""`answer`: notes what a partner said in a chat, on the telephone or in a letter of its own words; and how it went."""

from __future__ import annotations

import datetime as dt
from typing import Annotated

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
    stop_and_advise,
)


@app.command(epilog="Example: mutual-moon answer QF4LUM A=yes B=no C=perhaps")
def answer(
    partner: Annotated[str, typer.Argument(metavar="CALL", help="Call of the partner who answered.")],
    answers: Annotated[
        list[str],
        typer.Argument(
            metavar="A=yes...",
            help="Letter of each slot, and yes, no or perhaps; after the night: made, failed, absent, rained.",
        ),
    ],
    season: SeasonFile = DEFAULT_SEASON,
    out: OutFolder = DEFAULT_OUT,
    month: Annotated[str | None, typer.Option(help="Slots of this month instead of the season's: 2027-03.")] = None,
) -> None:
    """Notes a partner's answer, or how a slot went, in record/agenda.yaml, which the next plan keeps to."""
    from pipeline.ephemeris.timescale import EphemerisUnavailable
    from pipeline.inputs.faults import InputFaults
    from pipeline.letters.answers import (
        AnswerFault,
        changed_line,
        clock_lines,
        offered_to,
        parse_answers,
        partner_call,
        write_answers,
    )
    from pipeline.record.ledger import read_ledger
    from pipeline.record.writing import RecordBusy, record_lock
    from pipeline.windows.span import span_of

    # Faults of the inputs are told before anything waits.
    read(season, month)
    try:
        with record_lock(season.parent):
            # Another run may have sent or noted something while this one waited.
            inputs = read(season, month)
            now = dt.datetime.now(dt.UTC)
            period = span_of(inputs, now.date())
            call = partner_call(inputs, partner)
            plan_file = out / period.name / "data" / "agenda.csv"
            offered = offered_to(call, read_ledger(season.parent), period, plan_file, inputs.record.answers)
            if not offered:
                where = out / period.name
                stop(f"{call} has no slot in {period.name}: none was sent, and the plan in {where} has none.")
            said = parse_answers(call, answers, offered)
            slots = [offered[label].said(word, now) for label, word in said.items()]
            changes = write_answers(season.parent, inputs, period, slots)
    except InputFaults as faults:
        stop(f"{faults}\nNothing was written.")
    except (AnswerFault, EphemerisUnavailable, RecordBusy) as problem:
        stop_and_advise(problem, season, out, month)
    station = inputs.partners[inputs.place_of(call)]
    for change in changes:
        say("\n".join([changed_line(change), *clock_lines(change, inputs.zone, station.zone)]))
    if changes:
        say(f"noted in {season.parent / 'record' / 'agenda.yaml'}; next: {retyped('plan', season, out, month)}")
    else:
        say("the record says so already; nothing was changed")
