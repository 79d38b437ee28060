"""`night`: the set-up, dish and radio sheets of one night, from the plan on disk; re-planned on the spot if asked."""

from __future__ import annotations

import dataclasses
import datetime as dt
import re
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
    from collections.abc import Callable

    from pipeline.agenda.replan import Change
    from pipeline.inputs.mounting import FeedPosition
    from pipeline.plan.plan import Plan
    from pipeline.plan.tonight import Offsets
    from pipeline.record.inputs import Inputs
    from pipeline.record.model import Offer

    TypedOffsets = tuple[float | None, dict[FeedPosition, float | None]]

MOST_NAMED = 12
# In place of degrees: what the station file says of the inclinometer.
OF_THE_FILE = "file"


@app.command(epilog="Example: mutual-moon night 2027-03-13 --after 23:10Z --drop QF4LUM")
def night(
    date: Annotated[
        str, typer.Argument(help="The night by its date, that on which the Moon stands highest: 2027-03-13.")
    ],
    season: SeasonFile = DEFAULT_SEASON,
    out: OutFolder = DEFAULT_OUT,
    month: Annotated[str | None, typer.Option(help="The month that was planned, instead of the season's.")] = None,
    after: Annotated[
        str | None, typer.Option(help="Plan the rest of the night again from this UTC time on: 23:10Z.")
    ] = None,
    drop: Annotated[
        list[str] | None, typer.Option(help="A partner who cannot come tonight. Repeatable; name all, each time.")
    ] = None,
    dial_offset: Annotated[
        str | None,
        typer.Option(help="What the azimuth dial shows tonight, less the truth, degrees: 3.4; kept, and 0 clears it."),
    ] = None,
    inclinometer_offset: Annotated[
        list[str] | None,
        typer.Option(
            help="The same of the inclinometer: -0.2; or vertical=0.4, one for each position of the feed; `file` for "
            "the station file's again. Repeatable."
        ),
    ] = None,
    no_pdf: Annotated[bool, typer.Option("--no-pdf", help="Write HTML and tables, no PDF.")] = False,
) -> None:
    """Writes what the crew takes to the dish: set-up, dish and radio sheets, pointing and log tables."""
    from pipeline.agenda.replan import Fate, Slip
    from pipeline.ephemeris.timescale import EphemerisUnavailable
    from pipeline.inputs.faults import InputFaults
    from pipeline.letters.offered import AnswerFault
    from pipeline.plan import replanned
    from pipeline.plan.held import as_if_sent
    from pipeline.plan.plan import make_plan
    from pipeline.record.night_log import LOG_NAME, absent_from, log_of, noted_outcomes, outcomes
    from pipeline.reports.blocked import OutputBlocked
    from pipeline.reports.pdf import PdfUnavailable
    from pipeline.reports.plan_on_disk import PlanOutdated, require_plan
    from pipeline.reports.writing import put_in_order, write_rooms
    from pipeline.sheets.document import NIGHTS, kept_offsets, night_room, written_log
    from pipeline.windows.span import span_of
    from pipeline.wording.formats import listed

    newer: list[str] = []
    typed_offsets = _offsets(dial_offset, inclinometer_offset or [])
    # What was typed is looked at before anything on the disk can be too old for it.
    date_of(date)
    _clock(after)
    inputs = read(season, month)
    _dropped(inputs, drop or [])
    today = utc_today()
    try:
        # At the site a reading or an answer was just noted, and tonight goes on by it.
        at_site = after is not None or bool(drop)
        span = span_of(inputs, today)
        goes_on = at_site or typed_offsets != (None, {})
        inputs = require_plan(inputs, span, out, newer.extend if goes_on else None)
        planned = _slots_planned(out / span.name / "data" / "agenda.csv") if newer else []
        inputs = as_if_sent(inputs, planned, span)
        if at_site:
            # An outcome that was just noted ends its own slot, and no night that still goes on.
            inputs = dataclasses.replace(inputs, planned_from=date_of(date))
        plan = make_plan(inputs, today, tell, calendar=False)
        chosen = night_of(plan, date)
        folder = out / plan.period.name
        put_in_order(folder)
        log = written_log(folder, chosen)
        kept = kept_offsets(folder, chosen)
        offsets = kept.changed(*typed_offsets)
        changes: tuple[Change, ...] = ()
        came_for = [(slot.start, slot.end) for slot in plan.night(chosen).slots]
        dropped = _dropped(plan.inputs, drop or [])
        if after is not None or dropped:
            held = log_of(log)
            tried = noted_outcomes(plan.agenda, chosen) | (outcomes(held) if held else {})
            slip = Slip(_instant(plan, chosen, after), dropped | absent_from(plan.agenda, chosen), tried)
            lost = replanned.given_up(plan, chosen, planned)
            again = replanned.replan(plan, chosen, slip)
            left = [one for one in again.changes if not lost or one.fate is not Fate.NOTHING]
            plan, changes = again.plan, (*lost, *left)
        tell("Pages")
        room = night_room(plan, chosen, makes_pdf(no_pdf), log, changes, offsets, came_for)
        files = write_rooms([room], folder, tell)
    except InputFaults as faults:
        stop(f"{faults}\nNothing was written.")
    except (AnswerFault, EphemerisUnavailable, PdfUnavailable, PlanOutdated, OutputBlocked) as problem:
        stop_and_advise(problem, season, out, month)
    say(_report(plan, chosen, changes, files, lambda command: retyped(command, season, out, month)))
    if newer:
        anew = retyped("plan", season, out, month)
        paths = [(season.parent / name).as_posix() for name in newer]
        are, them = ("is", "it") if len(paths) == 1 else ("are", "them")
        say(
            f"note: {listed(paths)} {are} newer than the calendar; tonight goes by {them}; before letters: {anew}",
            err=True,
        )
    if offsets or kept:
        clear = retyped(f"night {chosen} {_clearing(offsets)}", season, out, month)
        say(_offsets_told(plan, chosen, offsets, clear))
    _ask(folder / NIGHTS / chosen.isoformat() / LOG_NAME)


def _slots_planned(agenda: Path) -> list[Offer]:
    """The slots of the plan on the disk, as if they had been sent."""
    from pipeline.agenda.commitments import PROPOSED
    from pipeline.letters.offered import in_agenda_of_all
    from pipeline.record.model import Offer

    return [
        Offer("", one.partner, one.operator, one.label, one.start_utc, one.end_utc, 0, False, PROPOSED)
        for one in in_agenda_of_all(agenda)
    ]


def _ask(file: Path) -> None:
    """What the log that stands there does not tell, by its line."""
    from pipeline.inputs.bounds import LOG
    from pipeline.inputs.yaml_tree import read_bytes
    from pipeline.record.night_log import log_of, questions

    log = log_of(read_bytes(file, LOG, file.as_posix()))
    for one in questions(log) if log else ():
        say(f"note: {file.as_posix()}, line {one.line}: {one.what}; {one.advice}", err=True)


def date_of(words: str) -> dt.date:
    """The date that names a night, or an end with the form of it."""
    from pipeline.inputs.dates_said import dates_meant

    try:
        return dt.date.fromisoformat(words)
    except ValueError:
        meant = " or ".join(dates_meant(words)) or "a date such as 2027-03-13"
        stop(f"'{words}' is no date as it is taken here; a night is named by {meant}")


def night_of(plan: Plan, words: str) -> dt.date:
    """The night named, or an end with one sentence that names the nights with slots."""
    from pipeline.wording import formats

    nights = plan.nights_with_slots
    named = f"{', '.join(night.isoformat() for night in nights[:MOST_NAMED])}" if nights else "none"
    more = f" and {len(nights) - MOST_NAMED} more" if len(nights) > MOST_NAMED else ""
    hint = f"nights with slots: {named}{more}"
    found = date_of(words)
    if not plan.first_night <= found <= plan.last_night:
        period = formats.period_title(plan.first_night, plan.last_night)
        stop(f"{found} is no night of this plan ({period}); {hint}")
    if found not in plan.period.dates:
        near = " or ".join(
            f"{date}"
            for date in (found - dt.timedelta(days=1), found + dt.timedelta(days=1))
            if date in plan.period.dates
        )
        stop(f"{found} has no night: no passage of the Moon carries this date; meant may be {near}; {hint}")
    return found


def _clock(words: str | None) -> None:
    """An end where a time is not of a form that can be taken."""
    from pipeline.inputs.clocks_said import clock_meant

    if words is None or re.fullmatch(r"(\d{4}-\d\d-\d\d[T ])?\d\d:\d\d(:\d\d)?[zZ]", words.strip()):
        return
    bare = re.sub(r"(?i)\s*(z|utc|gmt)$", "", words.strip())
    time = clock_meant(bare)
    if time is None:
        stop(f"--after {words}: a UTC time with Z is meant, such as 23:10Z")
    doubt = "" if bare != words.strip() else ", if that is UTC; your own clock's time is turned into UTC first"
    stop(f"--after {words}: a UTC time with Z is meant; write --after {time}Z{doubt}")


def _dropped(inputs: Inputs, calls: list[str]) -> frozenset[str]:
    """Partners named, or an end with the calls there are."""
    known = [station.call for station in inputs.partners]
    for call in calls:
        if call.upper() not in known:
            stop(f"--drop {call}: no partner of this season; partners are {', '.join(known)}")
    return frozenset(call.upper() for call in calls)


def _offsets(dial: str | None, inclinometer: list[str]) -> TypedOffsets:
    """The changes of tonight's offsets as typed, or an end with a sentence for the first that is none."""
    from pipeline.inputs.mounting import FEED_POSITIONS

    by_position: dict[FeedPosition, float | None] = {}
    for words in inclinometer:
        name, equals, value = words.rpartition("=")
        positions = [one for one in FEED_POSITIONS if not equals or one == name.strip().lower()]
        if not positions:
            stop(f"--inclinometer-offset {words}: degrees are meant, or horizontal=0.2 or vertical=-0.4")
        again = value.strip().lower() == OF_THE_FILE
        degrees = None if again else _degrees("--inclinometer-offset", words, value, 90.0)
        by_position |= dict.fromkeys(positions, degrees)
    return None if dial is None else _degrees("--dial-offset", dial, dial, 360.0), by_position


def _degrees(option: str, words: str, value: str, most: float) -> float:
    try:
        found = float(value)
    except ValueError:
        stop(f"{option} {words}: degrees are meant, what the dial shows less the truth, such as 3.4")
    if not -most <= found <= most:
        stop(f"{option} {words}: an offset from -{most:g} to {most:g} degrees is meant")
    return found


def _clearing(offsets: Offsets) -> str:
    """The option that takes away what is kept."""
    return f"--inclinometer-offset {OF_THE_FILE}" if offsets.dial_deg is None else "--dial-offset 0"


def _offsets_told(plan: Plan, night: dt.date, offsets: Offsets, clear: str) -> str:
    from pipeline.sheets.readings import offsets_words

    home = plan.inputs.home_on(night)
    words = offsets_words(home.mount, offsets, home.bands[plan.band].polarization)
    if not offsets:
        return f"{words} Nothing is kept for this night any more."
    return f"{words} Kept for this night, also when it is planned again. To clear: {clear}"


def _instant(plan: Plan, night: dt.date, words: str | None) -> dt.datetime | None:
    """`23:10Z` as the instant of this night; the night is no longer than a little over a day."""
    from pipeline.wording import formats

    if words is None:
        return None
    begin, end = plan.period.edges_of(night)
    text = words.strip().upper()
    try:
        if not text.endswith("Z"):
            raise ValueError(words)
        if "T" in text:
            moment = dt.datetime.fromisoformat(text)
        else:
            clock = dt.time.fromisoformat(text[:-1])
            moment = dt.datetime.combine(begin.date(), clock, tzinfo=dt.UTC)
            if moment < begin:
                moment += dt.timedelta(days=1)
    except ValueError:
        stop(f"--after {words}: a UTC time with Z is meant, such as 23:10Z")
    if not begin <= moment <= end:
        edges = " to ".join(f"{formats.day(edge.date())} {edge:%H:%M}" for edge in (begin, end))
        stop(f"--after {words}: not in the night of {night}, which runs from {edges} UTC")
    return moment


def _report(
    plan: Plan, night: dt.date, changes: tuple[Change, ...], files: list[Path], line: Callable[[str], str]
) -> str:
    """The slots of the night, what was re-planned, and the file to open."""
    from pipeline.agenda.replan import Fate
    from pipeline.wording import formats
    from pipeline.wording.agenda import change_words

    slots = plan.night(night).slots
    lines = [f"Night of {formats.day(night)} {night.year}, {formats.count(len(slots), 'slot')}, plan {plan.number}"]
    lines += [f"  {slot.start:%H:%M} to {slot.end:%H:%M} UTC  {slot.partner.call}" for slot in slots]
    lines += [f"  {change_words(change)}" for change in changes]
    if any(change.fate is Fate.ENDED for change in changes):
        lines.append("  who failed is tried again: write no under completed in log.csv, then type the same again")
    if not slots:
        left = "no slot is left tonight" if changes else "no slot in this night"
        lines.append(f"  {left}: the sheets serve tests on the own echo")
        on_the_date = [slot for slot in plan.slots if slot.start.astimezone(plan.zone).date() == night]
        for other in dict.fromkeys(slot.night for slot in on_the_date):
            calls = formats.listed(list(dict.fromkeys(one.partner.call for one in on_the_date if one.night == other)))
            several = sum(one.night == other for one in on_the_date) > 1
            slots_with = f"the slot{'s' * several} with {calls} on {formats.day(night)} belong{'' if several else 's'}"
            words = f"{slots_with} to the night of {other}"
            lines.append(f"  {words}: {line(f'night {other}')}")
        others = sorted({slot.night for slot in plan.slots}, key=lambda one: abs(one - night))
        for near in others[:1] if not on_the_date else ():
            lines.append(f"  the nearest night with a slot is {formats.day(near)}: {line(f'night {near}')}")
    lines += ["", f"Written: {len(files)} files in {files[0].parent.as_posix()}", f"Open: {files[0].as_posix()}"]
    return "\n".join(lines)
