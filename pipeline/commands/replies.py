"""`replies`: reads the answers that came by mail and notes those that are clear."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.commands.common import DEFAULT_SEASON, NOTHING_FOUND, SeasonFile, app, read, retyped, say, stop

if TYPE_CHECKING:
    from pipeline.letters.replies import Verdict
    from pipeline.record.inputs import Inputs
    from pipeline.record.writing import Changed


@app.command(epilog="Example: mutual-moon replies ~/Mail/answers")
def replies(
    folder: Annotated[Path, typer.Argument(help="Folder with the answers: mails saved as .eml, calendar files .ics.")],
    season: SeasonFile = DEFAULT_SEASON,
) -> None:
    """Reads answers from calendars and notes accepted, declined and tentative slots; all else is shown, not applied."""
    from pipeline.ephemeris.timescale import EphemerisUnavailable
    from pipeline.inputs.faults import InputFaults
    from pipeline.inputs.yaml_tree import printable
    from pipeline.letters.replies import judge
    from pipeline.letters.reply_mail import read_folder
    from pipeline.record.ledger import read_ledger
    from pipeline.record.writing import RecordBusy, record_lock

    inputs = read(season, None)
    if not folder.is_dir():
        stop(f"{printable(str(folder), 200)}: there is no such folder; save the answers there as .eml or .ics files.")
    mails = read_folder(folder)
    if not mails:
        stop(f"{printable(str(folder), 200)}: no .eml and no .ics file is in it.", NOTHING_FOUND)
    try:
        with record_lock(season.parent):
            # Another run may have noted something while this one waited.
            inputs, ledger = read(season, None), read_ledger(season.parent)
            verdicts = judge(mails, ledger, inputs, inputs.record.answers)
            changes = _apply(season.parent, inputs, verdicts)
    except InputFaults as faults:
        stop(f"{faults}\nNothing was written.")
    except (EphemerisUnavailable, RecordBusy) as problem:
        stop(str(problem))
    for verdict in verdicts:
        say(f"{printable(verdict.file, 40)}: {_sentence(verdict, changes)}")
        if verdict.advice:
            said = re.sub("`([^`]*)`", lambda found: retyped(found[1], season), verdict.advice)
            say(f"    {said[:1].upper()}{said[1:]}")
    if changes:
        count = f"{len(changes)} slot{'s' if len(changes) > 1 else ''}"
        say(f"\n{count} noted in {season.parent / 'record' / 'agenda.yaml'}; next: {retyped('plan', season)}")
    else:
        say("\nNothing was changed.")


def _sentence(verdict: Verdict, changes: list[Changed]) -> str:
    """The verdict, and whether the record knew it."""
    if verdict.state is None or verdict.known is None:
        return verdict.sentence
    key = (verdict.known.partner, verdict.known.slot.label, verdict.known.slot.start_utc)
    noted = any((one.after.partner, one.after.label, one.after.start_utc) == key for one in changes)
    return f"{verdict.sentence}; {'noted' if noted else 'the record says so already'}."


def _apply(folder: Path, inputs: Inputs, verdicts: list[Verdict]) -> list[Changed]:
    """Note what is clear, period by period: a letter of the alphabet means one slot within its period."""
    from pipeline.letters.answers import period_named, write_answers

    now = dt.datetime.now(dt.UTC)
    clear = [verdict for verdict in verdicts if verdict.state is not None and verdict.known is not None]
    changes: list[Changed] = []
    for name in dict.fromkeys(verdict.known.period for verdict in clear if verdict.known):
        period = period_named(name, inputs.zone)
        states = [verdict.as_state(now) for verdict in clear if verdict.known and verdict.known.period == name]
        if period is not None:
            changes += write_answers(folder, inputs, period, states)
    return changes
