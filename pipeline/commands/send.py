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
    STOPPED,
    UNCLEAR,
    OutFolder,
    SeasonFile,
    app,
    read,
    retyped,
    stop,
    stop_and_advise,
    utc_today,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pipeline.letters.outbox import Parcel, Turn
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
    by_hand: Annotated[
        bool, typer.Option("--by-hand", help="You have told the partners named what their letters say: note it.")
    ] = False,
    way: Annotated[str | None, typer.Option(help="With --by-hand, how: mail, chat or telephone.")] = None,
    told: Annotated[list[str] | None, typer.Argument(metavar="CALL", help="With --by-hand: whom you told.")] = None,
) -> None:
    """Shows who would get which letter; with --yes sends what is new, each letter once, and keeps a ledger of it.

    With --by-hand nothing leaves: what you sent from your own mail program, pasted into a chat or said on the
    telephone counts as told, so that a later change is named as one.

    The mail server comes from the environment: MUTUAL_MOON_MAIL_HOST, _PORT, _USER, _SECURITY (starttls or tls) and
    _PASSWORD, or the password from the system's keyring.
    """
    from pipeline.inputs.faults import InputFaults
    from pipeline.inputs.yaml_tree import printable
    from pipeline.letters.outbox import OutboxFault
    from pipeline.letters.sending import Unrecorded
    from pipeline.letters.settings import MailSettingsFault
    from pipeline.record.ledger import WAYS
    from pipeline.record.writing import RecordBusy, record_lock
    from pipeline.reports.blocked import OutputBlocked
    from pipeline.reports.plan_on_disk import PlanOutdated

    def say(command: str) -> str:
        return retyped(command, season, out, month)

    inputs = read(season, month)
    period = _period(inputs)
    calls = [station.call for station in inputs.partners]
    if way is not None and way.casefold() not in WAYS:
        stop(f"--way {printable(way)} is not known; there is {', '.join(WAYS)}")
    if by_hand != bool(told) or (way and not by_hand) or (by_hand and (yes or again or arrived)):
        stop(f"told by hand is noted alone, with the calls: {say('send --by-hand CALL --way chat')}")
    for call in (*(again or ()), *(arrived or ()), *(told or ())):
        if call.upper() not in calls:
            stop(f"{call} is no partner of this season; there is {', '.join(calls)}")
    if again and not yes:
        stop(f"--again sends mail, so it wants --yes as well: {say(f'send --yes --again {again[0]}')}")

    try:
        if not yes and not arrived and not by_hand:
            raise typer.Exit(_show(inputs, period, season.parent, out, say))
        with record_lock(season.parent):
            # Another run may have sent or noted something while this one waited.
            inputs = read(season, month)
            period = _period(inputs)
            _mend(season.parent)
            if told:
                raise typer.Exit(_by_hand(inputs, period, season.parent, out, say, told, (way or "").casefold()))
            for call in arrived or ():
                _settle(season.parent, call.upper(), period, arrived=True)
            if yes:
                lost, replies = [call.upper() for call in again or ()], retyped("replies answers", season)
                raise typer.Exit(_send(inputs, period, season.parent, out, say, lost, replies))
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
    _tell(inputs, period, folder, turns, ledger, say)
    count = sum(len(turn.parcels) for turn in turns)
    if count:
        common.say(f"\nNothing was sent. {say('send --yes')} sends {count} mail{'s' if count > 1 else ''}.")
    return UNCLEAR if any(turn.state == outbox.UNCLEAR for turn in turns) else DONE


def _tell(inputs: Inputs, period: Span, folder: Path, turns: Sequence[Turn], ledger: Ledger, say: Typed) -> None:
    from pipeline.letters.send_text import cut_lines, forgotten_lines, turn_lines

    for turn in turns:
        for line in turn_lines(turn, ledger, say):
            common.say(line)
    for line in forgotten_lines(inputs, ledger, period.name):
        common.say(line)
    for line in cut_lines(ledger, folder):
        common.say(line)


def _by_hand(inputs: Inputs, period: Span, folder: Path, out: Path, say: Typed, told: Sequence[str], way: str) -> int:
    """Note what the operator has told; the caller holds the record's lock."""
    from pipeline.letters import outbox
    from pipeline.letters.send_text import by_hand_lines, unclear_words
    from pipeline.letters.sending import tell_by_hand
    from pipeline.record.ledger import read_ledger
    from pipeline.reports.plan_on_disk import require_plan
    from pipeline.windows.span import plan_number

    inputs = require_plan(inputs, period, out)
    ledger = read_ledger(folder)
    turns = {turn.call: turn for turn in _turns(inputs, period, ledger, out)}
    wanted = [turns[call] for call in dict.fromkeys(call.upper() for call in told)]
    for turn in wanted:
        if turn.state == outbox.NO_LETTER:
            stop(f"{turn.call}: no letter was made for it, so there is nothing that it could have been told")
        if turn.open is not None:
            stop(f"{turn.call}  {unclear_words(turn.open, say)}", UNCLEAR)
    number, now = plan_number(inputs, period), dt.datetime.now(dt.UTC)
    for turn in wanted:
        noted = tell_by_hand(folder, (period.name, number), turn.parcels or turn.by_hand, way, now)
        station = inputs.partners[inputs.place_of(turn.call)]
        for line in by_hand_lines(turn, noted, ledger, (inputs.zone, station.zone)):
            common.say(line)
    return DONE


def _mend(folder: Path) -> None:
    """Tell what a crash cut off of the ledger, and have it told by that; the caller holds the record's lock."""
    from pipeline.letters.send_text import cut_lines
    from pipeline.record.ledger import read_ledger
    from pipeline.record.ledger_writing import LedgerWriter

    ledger = read_ledger(folder)
    for line in cut_lines(ledger, folder):
        common.say(line)
    if ledger.cut is not None:
        LedgerWriter(folder).mend()


def _stopped(folder: Path, period: Span, parcels: Sequence[Parcel], say: Typed) -> int:
    """After Ctrl-C: what is unclear, and what is still to be sent."""
    from pipeline.letters.outbox import was_delivered
    from pipeline.letters.send_text import still_lines, unclear_words
    from pipeline.record.ledger import read_ledger

    own = [message for message in read_ledger(folder).messages if message.period == period.name]
    unclear = [message for message in own if message.open]
    for message in unclear:
        common.say(f"{message.partner:<8}  {unclear_words(message, say)}")
    left = [one for one in parcels if not was_delivered(one, [m for m in own if m.partner == one.call])]
    for line in [*([] if unclear else ["nothing is unclear"]), *still_lines(len(left), say)]:
        common.say(line, err=True)
    if unclear:
        common.say("stopped", err=True)
    return UNCLEAR if unclear else STOPPED


def _send(inputs: Inputs, period: Span, folder: Path, out: Path, say: Typed, again: Sequence[str], replies: str) -> int:
    """Send what is ready; the caller holds the record's lock. `replies` is the command to type afterwards."""
    from pipeline.letters import outbox
    from pipeline.letters.delivery import NoSession
    from pipeline.letters.send_text import sent_line, still_lines
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
    _tell(inputs, period, folder, [turn for turn in turns if turn.state != outbox.READY], ledger, say)
    ends = [UNCLEAR_END for turn in turns if turn.state == outbox.UNCLEAR]
    parcels = [parcel for turn in turns for parcel in turn.parcels]
    if parcels and settings is not None:
        post = Post(folder, period.name, plan_number(inputs, period), settings)
        tried: list[str] = []
        try:
            for sent in post.send(parcels):
                common.say(sent_line(sent, ledger, say))
                tried.append(sent.event)
            if len(tried) < len(parcels):
                for line in still_lines(len(parcels) - tried.count(SENT), say):
                    common.say(line, err=True)
        except NoSession as problem:
            common.say(str(problem), err=True)
            for line in still_lines(len(parcels) - tried.count(SENT), say):
                common.say(line, err=True)
            ends.append("")
        except KeyboardInterrupt:
            return _stopped(folder, period, parcels, say)
        ends += tried
        if SENT in tried:
            common.say(f"\nNext: save the answers into a folder; {replies} shows what they say.")
    if UNCLEAR_END in ends:
        return UNCLEAR
    return DONE if all(end == SENT for end in ends) else BAD_INPUT
