"""`send`: hands the letters to the mail server; the only command that opens a connection."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.commands import common
from pipeline.commands.common import (
    BAD_INPUT,
    DEFAULT_OUT,
    DEFAULT_SEASON,
    DONE,
    UNCLEAR,
    OutFolder,
    SeasonFile,
    app,
    read,
    retyped,
    stop,
    stop_and_advise,
    typed,
    utc_today,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pipeline.letters.outbox import Turn
    from pipeline.letters.send_text import Typed
    from pipeline.record.inputs import Inputs
    from pipeline.record.ledger import Ledger
    from pipeline.windows.span import Span


@app.command(epilog="Example: mutual-moon send, look at the list, then mutual-moon send --yes")
def send(
    season: SeasonFile = DEFAULT_SEASON,
    out: OutFolder = DEFAULT_OUT,
    month: Annotated[str | None, typer.Option(help="Letters of this month instead of the season's: 2027-03.")] = None,
    yes: Annotated[bool, typer.Option("--yes", help="Really send; without it only the list is shown.")] = False,
    again: Annotated[
        list[str] | None, typer.Option(metavar="CALL", help="The last mail to CALL did not arrive: send it again.")
    ] = None,
    arrived: Annotated[
        list[str] | None, typer.Option(metavar="CALL", help="The unclear mail to CALL did arrive: note it.")
    ] = None,
) -> None:
    """Shows who would get which letter; with --yes sends what is new, each letter once, and keeps a ledger of it.

    The mail server comes from the environment: MUTUAL_MOON_MAIL_HOST, _PORT, _USER, _SECURITY (starttls or tls) and
    _PASSWORD, or the password from the system's keyring.
    """
    from pipeline.inputs.faults import InputFaults
    from pipeline.letters.outbox import OutboxFault
    from pipeline.letters.sending import Unrecorded
    from pipeline.letters.settings import MailSettingsFault
    from pipeline.record.writing import RecordBusy, record_lock
    from pipeline.reports.blocked import OutputBlocked
    from pipeline.reports.plan_on_disk import PlanOutdated

    inputs = read(season, month)
    period = _period(inputs)
    calls = [station.call for station in inputs.partners]
    for call in (*(again or ()), *(arrived or ())):
        if call.upper() not in calls:
            stop(f"{call} is no partner of this season; there is {', '.join(calls)}")
    if again and not yes:
        stop(f"--again sends mail, so it wants --yes as well: {typed(f'send --yes --again {again[0]}')}")

    def say(command: str) -> str:
        return retyped(command, season, out, month)

    try:
        if not yes and not arrived:
            raise typer.Exit(_show(inputs, period, season.parent, out, say))
        with record_lock(season.parent):
            # Another run may have sent or noted something while this one waited.
            inputs = read(season, month)
            period = _period(inputs)
            for call in arrived or ():
                _settle(season.parent, call.upper(), period, arrived=True)
            if yes:
                raise typer.Exit(_send(inputs, period, season.parent, out, say, [call.upper() for call in again or ()]))
    except InputFaults as faults:
        stop(str(faults))
    except (OutboxFault, OutputBlocked, PlanOutdated, MailSettingsFault, RecordBusy) as problem:
        stop_and_advise(problem, season, out, month)
    except Unrecorded as problem:
        stop_and_advise(problem, season, out, month, UNCLEAR)


def _period(inputs: Inputs) -> Span:
    from pipeline.windows.span import span_of

    today = utc_today()
    return span_of(inputs, today)


def _settle(folder: Path, call: str, period: Span, arrived: bool) -> None:
    from pipeline.letters.sending import settle
    from pipeline.record.ledger import read_ledger

    settled = settle(folder, read_ledger(folder), call, period.name, arrived, dt.datetime.now(dt.UTC))
    if not settled:
        stop(f"{call}: there is no unclear mail to it" if arrived else f"{call}: nothing was sent to it yet")
    for message in settled:
        common.say(f"{call:<8}  the mail of {message.stamp} is noted as {'arrived' if arrived else 'not arrived'}")


def _turns(inputs: Inputs, period: Span, ledger: Ledger, out: Path) -> list[Turn]:
    """Each partner's turn, once the letters on the disk are those of the plan as it is now."""
    from pipeline.letters.outbox import OutboxFault, turn_of
    from pipeline.reports.plan_on_disk import require_plan
    from pipeline.reports.writing import put_in_order
    from pipeline.windows.span import plan_number

    inputs = require_plan(inputs, period, out)
    letters = out / period.name / "letters"
    if not letters.is_dir():
        # It may lie aside for a moment, or since a run that was cut short.
        put_in_order(out / period.name)
    if not letters.is_dir():
        raise OutboxFault(f"there are no letters in {(out / period.name).as_posix()} yet; run: letters")
    number = plan_number(inputs, period)
    turns, faults = [], []
    for station in inputs.partners:
        try:
            turns.append(turn_of(letters, station.call, period.name, number, ledger))
        except OutboxFault as fault:
            faults.append(str(fault))
    if faults:
        raise OutboxFault("\n".join(dict.fromkeys(faults)))
    return turns


def _show(inputs: Inputs, period: Span, folder: Path, out: Path, say: Typed) -> int:
    """The list; nothing is sent and nothing written."""
    from pipeline.letters import outbox
    from pipeline.record.ledger import read_ledger

    ledger = read_ledger(folder)
    turns = _turns(inputs, period, ledger, out)
    _tell(inputs, period, turns, ledger, say)
    count = sum(len(turn.parcels) for turn in turns)
    if count:
        common.say(f"\nNothing was sent. {say('send --yes')} sends {count} mail{'s' if count > 1 else ''}.")
    return UNCLEAR if any(turn.state == outbox.UNCLEAR for turn in turns) else DONE


def _tell(inputs: Inputs, period: Span, turns: Sequence[Turn], ledger: Ledger, say: Typed) -> None:
    from pipeline.letters.send_text import forgotten_lines, turn_lines

    for turn in turns:
        for line in turn_lines(turn, ledger, say):
            common.say(line)
    for line in forgotten_lines(inputs, ledger, period.name):
        common.say(line)
    for number in ledger.torn:
        common.say(f"note: line {number} of record/sent.jsonl was cut off while it was written; nothing left with it.")


def _send(inputs: Inputs, period: Span, folder: Path, out: Path, say: Typed, again: Sequence[str]) -> int:
    """Send what is ready; the caller holds the record's lock."""
    from pipeline.letters import outbox
    from pipeline.letters.delivery import NoSession
    from pipeline.letters.send_text import sent_line
    from pipeline.letters.sending import Post
    from pipeline.letters.settings import mail_settings
    from pipeline.record.ledger import SENT, read_ledger
    from pipeline.record.ledger import UNCLEAR as UNCLEAR_END
    from pipeline.reports.plan_on_disk import require_plan
    from pipeline.windows.span import plan_number

    inputs = require_plan(inputs, period, out)
    ledger = read_ledger(folder)
    turns = _turns(inputs, period, ledger, out)
    settings = mail_settings() if again or any(turn.parcels for turn in turns) else None
    for call in again:
        _settle(folder, call, period, arrived=False)
    if again:
        ledger = read_ledger(folder)
        turns = _turns(inputs, period, ledger, out)
    _tell(inputs, period, [turn for turn in turns if turn.state != outbox.READY], ledger, say)
    ends = [UNCLEAR_END for turn in turns if turn.state == outbox.UNCLEAR]
    parcels = [parcel for turn in turns for parcel in turn.parcels]
    if parcels and settings is not None:
        post = Post(folder, period.name, plan_number(inputs, period), settings)
        try:
            for sent in post.send(parcels):
                common.say(sent_line(sent, ledger, say))
                ends.append(sent.event)
        except NoSession as problem:
            common.say(str(problem), err=True)
            left = len(parcels) - sum(1 for end in ends if end == SENT)
            common.say(f"{left} mail{'s are' if left > 1 else ' is'} still to be sent: {say('send --yes')}", err=True)
            ends.append("")
    if UNCLEAR_END in ends:
        return UNCLEAR
    return DONE if all(end == SENT for end in ends) else BAD_INPUT
