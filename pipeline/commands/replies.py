"""`replies`: reads the answers that came by mail, shows what they say, and with --yes notes those that are clear."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.commands.common import (
    DEFAULT_SEASON,
    NOTHING_FOUND,
    SeasonFile,
    advised,
    app,
    read,
    retyped,
    say,
    stop,
)
from pipeline.wording.pasted import pasted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pipeline.letters.reply_mail import Mail
    from pipeline.letters.verdicts import Verdict
    from pipeline.record.inputs import Inputs
    from pipeline.record.writing import Changed

# Of mails that have nothing to do with any partner so many are named; a whole inbox holds thousands.
MOST_STRANGE = 5


@app.command(epilog="Example: mutual-moon replies ~/Mail/answers, look at the list, then the same with --yes")
def replies(
    folder: Annotated[
        Path,
        typer.Argument(
            help="Folder with the answers: mails saved as .eml, calendar files .ics, or a Maildir; or an mbox file."
        ),
    ],
    season: SeasonFile = DEFAULT_SEASON,
    yes: Annotated[
        bool, typer.Option("--yes", help="Really note what is clear; without it everything is only shown.")
    ] = False,
    all_: Annotated[bool, typer.Option("--all", help="Also the answers that an earlier --yes has settled.")] = False,
    put_away: Annotated[
        list[str] | None,
        typer.Option("--put-away", metavar="FILE", help="A mail that asks nothing more of you, by the name shown."),
    ] = None,
) -> None:
    """Shows the answers in a folder; with --yes notes accepted, declined and tentative slots, and nothing else."""
    from pipeline.ephemeris.timescale import EphemerisUnavailable
    from pipeline.inputs.faults import InputFaults
    from pipeline.inputs.yaml_tree import printable
    from pipeline.letters.reply_mbox import read_answers
    from pipeline.record.replies_read import note_replies_read
    from pipeline.record.writing import RecordBusy, record_lock

    # Faults of the inputs are told before anything waits.
    read(season, None)
    if not folder.exists():
        stop(f"{printable(str(folder), 200)}: there is no such folder; save the answers there as .eml or .ics files.")
    mails = read_answers(folder)
    if not mails:
        what = "no .eml and no .ics file is in it" if folder.is_dir() else "no mail is in it"
        stop(f"{printable(str(folder), 200)}: {what}.", NOTHING_FOUND)
    try:
        if put_away:
            _put_away(mails, put_away, season)
            return
        if yes:
            with record_lock(season.parent):
                # Another run may have noted something while this one waited.
                verdicts, changes, new = _looked_at(mails, season, all_, only_look=False)
                settled = _settled(new, verdicts)
                note_replies_read(season.parent, [mail.digest for mail in settled if mail.digest])
        else:
            verdicts, changes, new = _looked_at(mails, season, all_, only_look=True)
            settled = _settled(new, verdicts)
    except InputFaults as faults:
        stop(f"{faults}\nNothing was written.")
    except (EphemerisUnavailable, RecordBusy) as problem:
        stop(str(problem))
    _tell(verdicts, changes, season, yes)
    if len(new) < len(mails):
        before = len(mails) - len(new)
        say(f"{before} settled before and not shown again; with --all they are.")
    typed = f"replies {pasted(folder)}"
    again = retyped(f"{typed}{' --all' if all_ else ''} --yes", season)
    count = f"{len(changes)} slot{'s' if len(changes) > 1 else ''}"
    if changes and yes:
        say(f"\n{count} noted in {season.parent / 'record' / 'agenda.yaml'}; next: {retyped('plan', season)}")
    elif changes:
        say(f"\n{count} to be noted; nothing was changed yet. If this is right: {again}")
    elif settled and not (yes or all_):
        say(f"\nNothing is to be noted. So that what asks nothing of you is not shown again: {again}")
    else:
        say("\nNothing was changed." if new else "\nNothing new.")
    if waiting := _waiting(new, verdicts):
        word, them = ("mail waits", "it") if len(waiting) == 1 else ("mails wait", "each")
        line = retyped(f"{typed} --put-away {pasted(waiting[0].file)}", season)
        say(f"{len(waiting)} {word} for you: answer {them} as above, or put it away: {line}")


def _waiting(mails: Sequence[Mail], verdicts: Sequence[Verdict]) -> list[Mail]:
    """The mails about which something is left to do."""
    files = {verdict.file for verdict in verdicts if verdict.waits}
    return [mail for mail in mails if mail.file in files and mail.digest]


def _settled(mails: Sequence[Mail], verdicts: Sequence[Verdict]) -> list[Mail]:
    """All others: noted, answered since, or none that asks for anything."""
    waiting = _waiting(mails, verdicts)
    return [mail for mail in mails if mail not in waiting]


def _put_away(mails: Sequence[Mail], names: Sequence[str], season: Path) -> None:
    """Notes mails as settled that the operator has read, by the names under which they are shown."""
    from pipeline.inputs.yaml_tree import printable
    from pipeline.record.replies_read import note_replies_read
    from pipeline.record.writing import record_lock

    files = {mail.file for mail in mails if mail.digest}
    unknown = [name for name in names if name not in files]
    if unknown:
        stop(f"{printable(unknown[0], 80)}: no mail of that name is there; the names stand before each mail.")
    with record_lock(season.parent):
        note_replies_read(season.parent, [mail.digest for mail in mails if mail.digest and mail.file in names])
    say(f"put away: {', '.join(printable(name, 80) for name in dict.fromkeys(names))}; with --all shown again.")


def _looked_at(
    mails: Sequence[Mail], season: Path, again: bool, only_look: bool
) -> tuple[list[Verdict], list[Changed], list[Mail]]:
    """Verdicts and changes for the mails that no earlier run has settled, and these mails."""
    from pipeline.letters.replies import judge
    from pipeline.record.ledger import read_ledger
    from pipeline.record.replies_read import replies_read

    inputs, ledger = read(season, None), read_ledger(season.parent)
    settled = frozenset() if again else replies_read(season.parent)
    new = [mail for mail in mails if mail.digest not in settled]
    verdicts = judge(new, ledger, inputs, inputs.record.answers)
    return verdicts, _apply(season.parent, inputs, verdicts, only_look), new


def _tell(verdicts: Sequence[Verdict], changes: Sequence[Changed], season: Path, yes: bool) -> None:
    """Each verdict with its times, what stood before and what to do; strangers' mails beyond a few are counted."""
    from pipeline.inputs.yaml_tree import printable

    strange = [verdict for verdict in verdicts if verdict.is_strange]
    left_out = {id(verdict) for verdict in strange[MOST_STRANGE:]}
    for verdict in verdicts:
        if id(verdict) in left_out:
            continue
        change = _change(verdict, changes)
        say(f"{printable(verdict.file, 40)}: {_sentence(verdict, change, yes)}")
        for line in verdict.details:
            say(f"    {line}")
        if change is not None and change.before is not None:
            before = change.before
            say(f"    before: {before.state}, {before.start_utc:%Y-%m-%d %H:%M} UTC")
        if verdict.advice:
            said = advised(verdict.advice, season)
            say(f"    {said[:1].upper()}{said[1:]}")
        for reading in verdict.readings:
            say(f"      {advised(reading, season)}")
    if left_out:
        say(f"{len(left_out)} more of others, left alone.")


def _change(verdict: Verdict, changes: Sequence[Changed]) -> Changed | None:
    """What a verdict changes in the record."""
    if verdict.state is None or verdict.known is None:
        return None
    key = (verdict.known.partner, verdict.known.slot.label, verdict.known.slot.start_utc)
    return next((one for one in changes if (one.after.partner, one.after.label, one.after.start_utc) == key), None)


def _sentence(verdict: Verdict, change: Changed | None, yes: bool) -> str:
    """The verdict, and whether the record knew it."""
    if verdict.state is None or verdict.known is None:
        return verdict.sentence
    if change is None:
        return f"{verdict.sentence}; the record says so already."
    return f"{verdict.sentence}; {'noted' if yes else 'to be noted'}."


def _apply(folder: Path, inputs: Inputs, verdicts: Sequence[Verdict], only_look: bool) -> list[Changed]:
    """Note what is clear, period by period: a letter of the alphabet means one slot within its period."""
    from pipeline.letters.answers import period_named, write_answers

    now = dt.datetime.now(dt.UTC)
    clear = [verdict for verdict in verdicts if verdict.state is not None and verdict.known is not None]
    changes: list[Changed] = []
    for name in dict.fromkeys(verdict.known.period for verdict in clear if verdict.known):
        period = period_named(name, inputs.zone)
        states = [verdict.as_state(now) for verdict in clear if verdict.known and verdict.known.period == name]
        if period is not None:
            changes += write_answers(folder, inputs, period, states, only_look)
    return changes
