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
    say,
    stop,
    stop_and_advise,
    tell,
    typed,
    utc_today,
)

if TYPE_CHECKING:
    from pipeline.letters.making import Made


@app.command(epilog="Example: mutual-moon letters --no-pdf")
def letters(
    season: SeasonFile = DEFAULT_SEASON,
    out: OutFolder = DEFAULT_OUT,
    month: Annotated[str | None, typer.Option(help="The month that was planned, instead of the season's.")] = None,
    no_pdf: Annotated[bool, typer.Option("--no-pdf", help="Write mails, calendars and messages, no PDF.")] = False,
) -> None:
    """Writes each partner's letter with its invitations, a page, and a message to paste into a chat."""
    from pipeline.ephemeris.timescale import EphemerisUnavailable
    from pipeline.inputs.faults import InputFaults
    from pipeline.letters.making import NoSender, late_answers, left_behind, require_sender, write_letters
    from pipeline.letters.templates import TemplateFault
    from pipeline.plan.plan import make_plan
    from pipeline.record.uid_key_writing import kept_uid_key
    from pipeline.record.writing import RecordBusy
    from pipeline.reports.blocked import OutputBlocked
    from pipeline.reports.pdf import PdfUnavailable
    from pipeline.reports.plan_on_disk import PlanOutdated, require_plan
    from pipeline.windows.span import span_of

    inputs = read(season, month)
    today = utc_today()
    try:
        require_sender(inputs.season)
        inputs = require_plan(inputs, span_of(inputs, today), out)
        record = dataclasses.replace(inputs.record, uid_key=kept_uid_key(season.parent))
        inputs = dataclasses.replace(inputs, record=record)
        plan = make_plan(inputs, today, tell)
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
    say(_report(folder, made, season, out))
    for line in late_answers(plan, today):
        say(f"note: {line}", err=True)
    for slot in left_behind(plan):
        say(f"note: slot {slot} was offered to someone who is no partner now; tell them yourself", err=True)


def _report(folder: Path, made: tuple[Made, ...], season: Path, out: Path) -> str:
    """Partner by partner what was made, and what to do next."""
    width = max((len(one.call) for one in made), default=0)
    lines = [f"{one.call:{width}}  {_what(one)}" for one in made]
    options = (
        f"{'' if season == DEFAULT_SEASON else f' --season {season}'}{'' if out == DEFAULT_OUT else f' --out {out}'}"
    )
    lines += ["", f"Written: {folder}, a folder for each partner; agenda.ics is for your own calendar"]
    without = [one.call for one in made if not one.has_email]
    if without:
        lines.append(f"No mail address: {', '.join(without)}; paste message.txt into a chat")
    if any(one.has_email for one in made):
        lines.append(f"Read a letter or two, then: {typed('send' + options)}")
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
