"""`measure`: notes a reading of noise or own echo in the record, and says what it means."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.commands.common import DEFAULT_OUT, DEFAULT_SEASON, SeasonFile, app, read, retyped, say, stop, utc_today

if TYPE_CHECKING:
    from pipeline.pairs.measured import Reading
    from pipeline.record.inputs import Inputs
    from pipeline.record.model import Measurement


@app.command(
    epilog="Example: mutual-moon measure 2027-03-13T18:20Z sun 11.2",
    # A weak echo is a negative number, which is no option.
    context_settings={"ignore_unknown_options": True},
)
def measure(
    time: Annotated[str, typer.Argument(help="When it was read, ISO 8601 with Z: 2027-03-13T18:20Z.")],
    what: Annotated[str, typer.Argument(help="ground, sun, moon (against cold sky as high) or echo (the own one).")],
    decibels: Annotated[str, typer.Argument(metavar="dB", help="The rise over cold sky; an echo's level in 2500 Hz.")],
    season: SeasonFile = DEFAULT_SEASON,
    station: Annotated[str | None, typer.Option(help="Call of a partner that told its reading; else home.")] = None,
    band: Annotated[str | None, typer.Option(help="Band that was measured; else the season's.")] = None,
    peaked: Annotated[bool, typer.Option("--peaked", help="Read where most was heard, not as the dial said.")] = False,
    azimuth_offset: Annotated[
        float | None, typer.Option(help="Degrees of azimuth at the peak less those that the dial should have said.")
    ] = None,
    elevation_offset: Annotated[float | None, typer.Option(help="The same in elevation.")] = None,
    remarks: Annotated[str, typer.Option(help="Anything worth keeping beside it.")] = "",
) -> None:
    """Notes a reading in record/measurements.csv; `check`, the sheets and the next plan go by it."""
    from pipeline.ephemeris.timescale import EphemerisUnavailable
    from pipeline.inputs.faults import InputFaults
    from pipeline.record.measurements import measurement_of
    from pipeline.record.measurements_writing import add_measurement
    from pipeline.record.model import DIAL, PEAK
    from pipeline.record.writing import RecordBusy, record_lock
    from pipeline.windows.span import span_of

    inputs = read(season, None)
    _require_instant(time, inputs)
    call, on = _station(inputs, station), (band or inputs.season.band).casefold()
    at_peak = peaked or azimuth_offset is not None or elevation_offset is not None
    given = {
        "time_utc": time, "call": call, "band": on, "what": what, "measured_db": decibels,
        "aim": PEAK if at_peak else DIAL, "azimuth_offset_deg": _text(azimuth_offset),
        "elevation_offset_deg": _text(elevation_offset), "remarks": remarks,
    }  # fmt: skip
    try:
        made = measurement_of(given)
        with record_lock(season.parent):
            # Another run may have noted something while this one waited.
            before = read(season, None)
            reading = _expected(before, made)
            _require_sign(before, reading, decibels)
            file = add_measurement(season.parent, made)
        lines = _told(before, read(season, None), reading)
    except InputFaults as faults:
        stop(f"{faults}\nNothing was written.")
    except (EphemerisUnavailable, RecordBusy) as problem:
        stop(str(problem))
    say("\n".join(lines))
    period = span_of(before, utc_today())
    month = None if period.holds(made.time_utc) else f"{made.time_utc:%Y-%m}"
    say(f"written: {file}; next: {retyped('plan', season, DEFAULT_OUT, month)}")


def _require_instant(text: str, inputs: Inputs) -> None:
    """An end that writes a time anew which is of another form than ISO 8601."""
    from pipeline.inputs.moments_said import instant_advice

    try:
        dt.datetime.fromisoformat(text)
    except ValueError:
        advice = instant_advice(text, inputs.zone) or "a date and a time in UTC are meant, such as 2027-03-13T23:10Z."
        stop(f"{text}: no time as it is taken here; {advice}\nNothing was written.")


def _station(inputs: Inputs, call: str | None) -> str:
    """The call as the season has it, home without one; an end that names the nearest where it is unknown."""
    from pipeline.explain.explanation import NotPossible, find_call
    from pipeline.explain.remarks import Sought
    from pipeline.wording.explain import obstacle_words

    if call is None:
        return inputs.home.call
    try:
        return find_call(call, [one.call for one in (inputs.home, *inputs.partners)], Sought.STATION)
    except NotPossible as problem:
        stop(obstacle_words(problem.obstacle))


def _text(value: float | None) -> str:
    return "" if value is None else f"{value:g}"


def _expected(inputs: Inputs, made: Measurement) -> Reading:
    """What the reading is held against, or an end where it cannot be one."""
    from pipeline.pairs.measured import expected_at
    from pipeline.wording.measured import down_words

    found = expected_at(inputs, made)
    if found is None:
        station = next(one for one in (inputs.home, *inputs.partners) if one.call == made.call)
        stop(f"{made.call} has no equipment on {made.band}; its file has {', '.join(station.bands) or 'none'}.")
    if found.is_down:
        stop(down_words(found, made.call))
    return found


def _require_sign(before: Inputs, reading: Reading, typed: str) -> None:
    """An end that asks for the sign of an echo that would fit with the other one; a typed + is an answer."""
    from pipeline.pairs.measured import ahead_of, known_figures, sign_is_lost
    from pipeline.wording.measured import sign_words

    one = reading.measurement
    ahead = ahead_of(reading, known_figures(before, one.call, one.band))
    if not typed.strip().startswith("+") and sign_is_lost(reading, ahead):
        stop(sign_words(reading, ahead))


def _told(before: Inputs, after: Inputs, reading: Reading) -> list[str]:
    """What the reading says by all that was known before it, and what is known with it."""
    from pipeline.link.constants import SUN_DISC_DEG
    from pipeline.pairs.measured import ahead_of, known_figures, measured_of
    from pipeline.record.model import ECHO
    from pipeline.sheets.noise_check import off_axis_deg
    from pipeline.wording import measured as words

    one = reading.measurement
    ahead = ahead_of(reading, known_figures(before, one.call, one.band))
    found = measured_of(after, one.call, one.band)
    assert found is not None, "a reading that was just noted is there"
    short = ahead.middle_db - one.value_db
    off = (
        off_axis_deg(ahead.middle_db, short, found.receiver.beam, SUN_DISC_DEG)
        if one.what != ECHO and short > 0.0
        else None
    )
    dial = words.dial_words(reading, found.before.dial_resolution_deg)
    lines = [
        f"{one.call}, {one.band}: {words.reading_words(reading)}",
        words.expected_words(reading, ahead),
        words.meaning_words(reading, ahead, off, bool(dial)),
        words.flux_words(reading),
        dial,
    ]
    if not all(each.counted for each in found.readings if each.measurement.key == one.key):
        lines.append(words.aside_reading_words(reading))
    if found.figures is not None:
        lines += [words.figures_words(found, found.figures), words.settles_words(found)]
    return [line for line in lines if line]
