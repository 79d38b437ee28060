"""`answer`: notes what a partner said in a chat, on the telephone or in a letter of its own words; and how it went."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

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

if TYPE_CHECKING:
    from pipeline.letters.answers import Zones
    from pipeline.letters.offered import Offered
    from pipeline.record.model import Answer
    from pipeline.record.writing import Changed


@app.command(epilog="Example: mutual-moon answer QF4LUM A=yes B=no C=perhaps")
def answer(
    partner: Annotated[str, typer.Argument(metavar="CALL", help="Call of the partner who answered.")],
    answers: Annotated[
        list[str],
        typer.Argument(
            metavar="A=yes...",
            help="Letter of a slot or of another time for it, and yes, no or perhaps; after the night: made, failed, "
            "absent, rained. A=yes@2027-03-13T01:15Z names the time that was answered, which is asked for where it is "
            "in doubt, and A=no@all refuses every time that A may mean. "
            "Of the sky that a letter asked about: sky=free, or its height in degrees, sky=7; unasked with "
            "its azimuths, sky=7@103-112 or sky=free@all; of hours and equipment that its file leaves open: "
            "hours=18:00-23:30, power_w=40, dish_diameter_m, gain_dbi, "
            "noise_figure_db, loss_before_preamplifier_db, time_zone.",
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
        changed_lines,
        partner_call,
        settled_slots,
        write_answers,
        zones_of,
    )
    from pipeline.letters.answers_typed import bare_word, typed_answers
    from pipeline.letters.choices import all_said, check_free, chosen_line, record_words, states_of
    from pipeline.letters.offered import AnswerFault, offered_to
    from pipeline.letters.said_of_offers import said_as_typed
    from pipeline.letters.sky_answer import KEY, asked_of, with_sky, write_told
    from pipeline.letters.station_answer import said_of_station, with_told
    from pipeline.record.ledger import read_ledger
    from pipeline.record.writing import RecordBusy, record_lock
    from pipeline.windows.span import span_of

    text, answers = " ".join(answers), typed_answers(answers)
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
            fact, new = said_of_station(answers), None
            if fact is not None:
                station, band = inputs.partner(call), inputs.bands[inputs.place_of(call)]
                if fact[0] == KEY:
                    asked = asked_of(call, ledger, period.name, where / "letters")
                    elsewhere = inputs.season.policy.assumed_skyline.nine_in_ten_deg
                    new = with_sky(station, season.parent, asked, fact[1], elsewhere)
                else:
                    new = with_told(station, band, season.parent, *fact)
                write_told(new)
                answers = []
            offered = offered_to(call, ledger, period, where, inputs.record.answers)
            if answers and not offered:
                elsewhere_words = _in_other_periods(call, out, period.name)
                if not elsewhere_words and not (where / "data" / "agenda.csv").is_file():
                    again = retyped("plan", season, out, month)
                    stop(
                        f"there is no plan of {period.name} in {out} yet, and nothing was sent to {call}, so no slot "
                        f"can be meant; first type\n  {again}"
                    )
                stop(
                    f"{call} has no slot in {period.name}: none was sent, and the plan in {where} has none"
                    f"{elsewhere_words}."
                )
            if word := bare_word(answers):
                stop(_which_slot(call, word, offered, zones, lambda text: retyped(text, season, out, month)))
            said = said_as_typed(call, text, answers, offered, zones)
            told = all_said(said, settled_slots(call, said, offered, zones, season.parent), inputs.record.answers)
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
    for line in too_early(changes, now, season.parent):
        say(line, err=True)
    for one in (one for one in told if one.takes_other_time and not one.is_held):
        say(chosen_line(one))
    if new is not None:
        say(new.line)
        say(f"noted in {new.path}; next: {retyped('plan', season, out, month)}")
    if changes:
        say(f"noted in {season.parent / 'record' / 'agenda.yaml'}; next: {retyped('plan', season, out, month)}")
        if rest := _rest_of_night(changes, plan_file, inputs.record.answers):
            say(f"while that night goes on, before any plan: {retyped(rest, season, out, month)}")
    elif new is None:
        said_already = [record_words(one, zones) for one in told]
        say("\n".join(f"{one}: the record says so already; nothing was changed" for one in said_already))


def too_early(changes: Sequence[Changed], now: dt.datetime, folder: Path) -> list[str]:
    """Outcomes of slots that have not ended, each with the way back."""
    from pipeline.record.writing import NAME, SlotOutcome, minute

    ahead = [one.after for one in changes if isinstance(one.after, SlotOutcome) and one.after.end_utc > now]
    return [
        f"note: {one.partner} {one.label} ends only at {minute(one.end_utc)}, and the next plan begins behind it; if"
        f" that came too early, take `outcome: {one.outcome}` out of its line in {(folder / NAME).as_posix()}"
        for one in ahead
    ]


def _rest_of_night(changes: Sequence[Changed], plan_file: Path, answers: Sequence[Answer]) -> str:
    """The command that plans the rest of a night of which an outcome was noted; empty where nothing comes after it."""
    from pipeline.letters.offered import in_agenda_of_all, nights_in
    from pipeline.record.writing import SlotOutcome

    told = [one.after for one in changes if isinstance(one.after, SlotOutcome)]
    if not told:
        return ""
    last, over = (
        max(told, key=lambda one: one.end_utc),
        {(one.partner, one.start_utc) for one in answers if one.outcome},
    )
    nights = nights_in(plan_file)
    night = nights.get((last.partner, last.label), "")
    later = [one for one in in_agenda_of_all(plan_file) if one.start_utc >= last.end_utc]
    left = [one for one in later if (one.partner, one.start_utc) not in over]
    goes_on = any(nights.get((one.partner, one.label)) == night for one in left)
    return f"night {night} --after {last.end_utc:%H:%M}Z" if night and goes_on else ""


def _which_slot(call: str, word: str, offered: Mapping[str, Offered], zones: Zones, line: Callable[[str], str]) -> str:
    """Asks which slot a word is said of, with a line to type for each."""
    from pipeline.letters.answers import time_words

    lines = [f"{word}: of which slot? Write"]
    for label, slot in sorted(offered.items()):
        if slot.withdrawn:
            continue
        lines += [
            f"  {line(f'answer {call} {label}={word}')}",
            f"    where {time_words(slot.start_utc, slot.end_utc, zones)} is meant",
        ]
    return "\n".join(lines)


def _in_other_periods(call: str, out: Path, period: str) -> str:
    """Where a plan of another month has a slot for the partner, as a clause; empty where none has."""
    from pipeline.letters.offered import in_agenda

    found = [path.parent.parent.name for path in sorted(out.glob("*/data/agenda.csv")) if in_agenda(call, path)]
    months = [name for name in found if name != period and len(name) == len("2027-03")]
    return f"; the plan of {' and '.join(months)} has one: type the same with --month {months[0]}" if months else ""
