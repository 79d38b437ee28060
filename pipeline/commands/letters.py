"""`letters`: a letter, invitations, a page and a chat message for each partner, from the plan on disk."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.commands.common import (
    DEFAULT_OUT,
    DEFAULT_SEASON,
    OutFolder,
    SeasonFile,
    app,
    makes_pdf,
    read,
    retyped,
    say,
    stop,
    stop_and_advise,
    tell,
    utc_today,
)

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable

    from pipeline.letters.making import Made
    from pipeline.plan.plan import Plan
    from pipeline.record.inputs import Inputs


@app.command(epilog="Example: mutual-moon letters --no-pdf; the morning after: mutual-moon letters --after 2027-03-13")
def letters(
    season: SeasonFile = DEFAULT_SEASON,
    out: OutFolder = DEFAULT_OUT,
    month: Annotated[str | None, typer.Option(help="The month that was planned, instead of the season's.")] = None,
    no_pdf: Annotated[bool, typer.Option("--no-pdf", help="Write mails, calendars and messages, no PDF.")] = False,
    after: Annotated[
        str | None,
        typer.Option(help="A short note to each partner of this night instead: how it went, thanks, the next time."),
    ] = None,
    shown: Annotated[
        str | None, typer.Option(metavar="CALL", help="Write nothing; tell what CALL holds now, when and how told.")
    ] = None,
) -> None:
    """Writes each partner's letter with its invitations, a page, and a message to paste into a chat."""
    from pipeline.commands.night import date_of, night_of
    from pipeline.ephemeris.timescale import EphemerisUnavailable
    from pipeline.inputs.faults import InputFaults
    from pipeline.letters.making import (
        NoSender,
        late_answers,
        left_behind,
        no_meeting_place,
        require_sender,
        write_letters,
    )
    from pipeline.letters.templates import TemplateFault
    from pipeline.plan.plan import make_plan
    from pipeline.record.uid_key_writing import kept_uid_key
    from pipeline.record.writing import RecordBusy
    from pipeline.reports.blocked import OutputBlocked
    from pipeline.reports.pdf import PdfUnavailable
    from pipeline.reports.plan_on_disk import PlanOutdated, require_plan
    from pipeline.windows.span import span_of
    from pipeline.wording.formats import listed

    # What was measured or answered since the plan is no reason to keep a note of thanks back.
    newer: list[str] = []
    if after is not None:
        date_of(after)
    inputs = read(season, month)
    if shown is not None:
        _show(inputs, season.parent, shown)
        return
    today = utc_today()
    try:
        require_sender(inputs.season)
        inputs = require_plan(inputs, span_of(inputs, today), out, newer.extend if after is not None else None)
        if after is None:
            record = dataclasses.replace(inputs.record, uid_key=kept_uid_key(season.parent))
            inputs = dataclasses.replace(inputs, record=record)
        plan = make_plan(inputs, today, tell, calendar=False)
        if after is not None:
            _after(plan, night_of(plan, after), season, out, month)
            if newer:
                anew = retyped("plan", season, out, month)
                files = [(season.parent / name).as_posix() for name in newer]
                are, them = ("is", "it") if len(files) == 1 else ("are", "them")
                told = f"{listed(files)} {are} newer than the calendar; the notes go by {them}"
                say(f"note: {told}; next: {anew}", err=True)
            return
        folder, made = write_letters(plan, out, season.parent, with_pdf=makes_pdf(no_pdf), progress=tell)
    except InputFaults as faults:
        stop(f"{faults}\nNothing was written.")
    except (
        EphemerisUnavailable,
        NoSender,
        OutputBlocked,
        PdfUnavailable,
        PlanOutdated,
        RecordBusy,
        TemplateFault,
    ) as problem:
        stop_and_advise(problem, season, out, month)
    say(_report(folder, made, lambda command: retyped(command, season, out, month)))
    for line in (*late_answers(plan, today), *no_meeting_place(plan)):
        say(f"note: {line}", err=True)
    for slot in left_behind(plan):
        say(f"note: slot {slot} was offered to someone who is no partner now; tell them yourself", err=True)


def _after(plan: Plan, date: dt.date, season: Path, out: Path, month: str | None) -> None:
    """The notes of a night: printed to be pasted, written beside the letters; what nobody has noted is asked for."""
    from pipeline.letters.morning_after import notes_after, slots_of_night, write_notes
    from pipeline.record.night_log import LOG_NAME, log_of, questions
    from pipeline.reports.writing import put_in_order
    from pipeline.sheets.document import NIGHTS, written_log

    if not slots_of_night(plan, date):
        nights = ", ".join(night.isoformat() for night in plan.nights_with_slots) or "none"
        stop(f"the night of {date} has no slot; nights with slots: {nights}")
    period = out / plan.period.name
    put_in_order(period)
    log = log_of(written_log(period, date))
    notes, unknown = notes_after(plan, date, log)
    file = (period / NIGHTS / date.isoformat() / LOG_NAME).as_posix()
    for one in questions(log) if log else ():
        say(f"note: {file}, line {one.line}: {one.what}; {one.advice}", err=True)
    for slot in unknown:
        hint = retyped(f"answer {slot.partner} {slot.label}=made", season, out, month)
        say(f"note: nobody has said how {slot.partner} {slot.label} went: fill in {file}, or type {hint}", err=True)
    if not notes:
        say(f"Nothing is known of the night of {date} yet; no note was written")
        raise typer.Exit(3)
    folder = write_notes(notes, date, period)
    for note in notes:
        say(f"{note.call} {note.label}, {'mail and message' if note.mail else 'message'}:\n\n{note.message}")
        if note.english:
            say(note.english)
    say(f"Written: {folder.as_posix()}; nothing was sent")


def _show(inputs: Inputs, folder: Path, typed_call: str) -> None:
    """What one partner holds, by the ledger; who has left the season may hold something too."""
    from pipeline.letters.answers import partner_call
    from pipeline.letters.holding import held_by, held_lines
    from pipeline.letters.offered import AnswerFault
    from pipeline.record.ledger import read_ledger

    ledger = read_ledger(folder)
    zones = {station.call: station.zone for station in inputs.partners}
    call = typed_call.upper()
    if call not in {message.partner for message in ledger.messages}:
        try:
            call = partner_call(inputs, typed_call)
        except AnswerFault as fault:
            stop(str(fault))
    held = held_by(call, ledger, inputs.record.answers)
    for line in held_lines(call, held, (inputs.zone, zones.get(call)), folder):
        say(line)


def _report(folder: Path, made: tuple[Made, ...], line: Callable[[str], str]) -> str:
    """Partner by partner what was made, and what to do next."""
    width = max((len(one.call) for one in made), default=0)
    lines = [f"{one.call:{width}}  {_what(one)}" for one in made]
    lines += ["", f"Written: {folder}, a folder for each partner; agenda.ics is for your own calendar"]
    asked = [one for one in made if one.asks]
    lines += [
        f"{one.call} is asked a question; note the answer, for instance: {line(f'answer {one.call} {one.asks}')}"
        for one in asked
    ]
    lines += [
        f"{one.call} is asked for its time zone; note it, for instance: {line(f'answer {one.call} {one.asks_zone}')}"
        for one in made
        if one.asks_zone
    ]
    without = [one.call for one in made if not one.has_email]
    if without:
        lines.append(f"No mail address: {', '.join(without)}; paste message.txt into a chat")
    if any(one.has_email for one in made):
        lines.append(f"Read a letter or two, then: {line('send')}")
    return "\n".join(lines)


def _what(one: Made) -> str:
    """`2 slots: letter with changed times`."""
    slots = {0: "no slot", 1: "1 slot "}.get(len(one.slots), f"{len(one.slots)} slots")
    if not one.has_email:
        return f"{slots}  chat message"
    words = []
    if "letter.eml" in one.files:
        moved = one.withdrawn or any(slot.before for slot in one.slots)
        words.append("letter with changed times" if moved else "letter")
    if one.withdrawn:
        words.append("withdrawal of " + ", ".join(slot.label for slot in one.withdrawn))
    return f"{slots}  {' and '.join(words)}"
