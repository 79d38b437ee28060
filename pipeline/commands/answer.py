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
    advised,
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
            help="Letter of a slot or of another time for it, and yes, no or perhaps; after the night: made, failed, "
            "absent, rained. A=yes@2027-03-13T01:15Z names the time that was answered, which is asked for where it is "
            "in doubt. Of the sky that a letter asked about: sky=free, or its height in degrees, sky=7.",
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
        changed_lines,
        offered_to,
        parse_answers,
        partner_call,
        settled_slots,
        write_answers,
        zones_of,
    )
    from pipeline.letters.choices import all_said, check_free, chosen_line, states_of
    from pipeline.letters.sky_answer import asked_of, said_of_sky, with_sky, write_sky
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
            zones, where = zones_of(inputs, call), out / period.name
            ledger = read_ledger(season.parent)
            sky, skyline = said_of_sky(answers), None
            if sky is not None:
                asked = asked_of(call, ledger, period.name, where / "letters")
                elsewhere = inputs.season.policy.assumed_skyline.nine_in_ten_deg
                skyline = with_sky(inputs.partner(call), season.parent, asked, sky, elsewhere)
                write_sky(skyline)
                answers = []
            offered = offered_to(call, ledger, period, where, inputs.record.answers)
            if answers and not offered:
                stop(f"{call} has no slot in {period.name}: none was sent, and the plan in {where} has none.")
            said = parse_answers(call, answers, offered)
            told = all_said(said, settled_slots(call, said, offered, zones), inputs.record.answers)
            slots = states_of(told, now)
            plan_file = where / "data" / "agenda.csv"
            check_free(told, inputs.record.answers, plan_file, inputs.season.policy.gap_minutes)
            changes = write_answers(season.parent, inputs, period, slots) if slots else []
    except InputFaults as faults:
        stop(f"{faults}\nNothing was written.")
    except AnswerFault as fault:
        stop_and_advise(advised(str(fault), season, out, month), season, out, month)
    except (EphemerisUnavailable, RecordBusy) as problem:
        stop(str(problem))
    for change in changes:
        for line in changed_lines(change, zones):
            say(line)
    for one in (one for one in told if one.takes_other_time and not one.is_held):
        say(chosen_line(one))
    if skyline is not None:
        say(skyline.line)
        say(f"noted in {skyline.path}; next: {retyped('plan', season, out, month)}")
    if changes:
        say(f"noted in {season.parent / 'record' / 'agenda.yaml'}; next: {retyped('plan', season, out, month)}")
    elif skyline is None:
        say("the record says so already; nothing was changed")
