"""What is most likely a slip of the pen in a station or a season, as a question in the writer's own figures."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from pipeline.explain.slip_values import (
    AzimuthsInTens,
    CalendarOver,
    Copied,
    Exchanged,
    LandmarkDigits,
    NightsOfNobody,
    OddFrequency,
    SeasonOver,
    Slip,
    UnusualGroup,
    YearLeft,
    ZenithAngles,
)
from pipeline.wording import formats

STRAIGHT_UP_DEG = 90.0


def unit_asked(unit: str, meant: float | None) -> str:
    """The end of a sentence that tells what is usual."""
    if meant is None:
        return "."
    return f"; are these {unit}, and is {meant:g} meant?" if unit else f"; is {meant:g} meant?"


def slip_words(slip: Slip) -> str:
    """One sentence; keys of the file are named as they stand there."""
    match slip:
        case UnusualGroup(key=key, figures=figures):
            names = [one.key.rpartition(".")[2] for one in figures]
            stand, meant = (
                ", ".join(f"{name}: {value:g}" for name, value in zip(names, values, strict=True))
                for values in ([one.value for one in figures], [one.meant or 0.0 for one in figures])
            )
            unit = figures[0].unit
            return f"{key} has {stand}, and none of these is usual; are they {unit}, and is {meant} meant?"
        case Exchanged(key=key, other_key=other, value=value, other_value=other_value):
            last = other.rpartition(".")[2]
            meant = f"{key.rpartition('.')[2]}: {other_value:g}, {last}: {value:g}"
            return f"{key} is {value:g} and {last} {other_value:g}; are the two exchanged, and is {meant} meant?"
        case ZenithAngles():
            return _zenith_words(slip)
        case LandmarkDigits(name=name, axes=axes, distance_km=away, meant_km=near):
            stand = " and ".join(f"{key} {value:.7g}" for key, value, _ in axes)
            meant = " and ".join(f"{key} {other:.7g}" for key, _, other in axes)
            return f"the landmark {name} is {away:,.0f} km away by {stand}; is {meant} meant, {near:.1f} km away?"
        case Copied(keys=keys, other=other, file=file):
            verb, own = ("is", "its own") if len(keys) == 1 else ("are", "their own")
            same = f"{formats.listed(list(keys))} {verb} the very same as in {file}, {other}'s"
            return f"{same}; where this file began as a copy of it, write {own} here."
        case OddFrequency(key=key, value=value, usual=usual, meant=meant_mhz):
            places = formats.listed([f"{first:g} to {last:g}" for first, last in usual])
            asked = (
                "; is it right?" if meant_mhz is None else f"; is {meant_mhz:.10g} meant, with two digits exchanged?"
            )
            return f"{key} is {value:.10g}, and contacts by the Moon are looked for at {places} MHz{asked}"
        case YearLeft(key=key, dates=dates, meant=dates_meant):
            verb = "are of another year" if len(dates) > 1 else "is of another year"
            whole = key == "letters.reply_by"
            stand, right = (_dates_words(one, whole) for one in (dates, dates_meant))
            if dates[0][0].year == dates_meant[0][0].year:
                return f"{key} {stand} is none of the season's nights; is {right} meant, with day and month exchanged?"
            return f"{key} {stand} {verb} than the season's nights; is {right} meant?"
        case SeasonOver(months=months, meant=right):
            verb = "is" if len(months) == 1 else "are"
            told = f"months [{', '.join(months)}] {verb} over, and other dates of these files are of another year"
            return f"{told}; is [{', '.join(right)}] meant?"
        case CalendarOver(name=name, last=last):
            return f"busy: the last entry of {name} is of {last}, long before the season; is it an export of before?"
        case NightsOfNobody(nights=nights, days=days, file=file):
            told = f"policy.nights has {', '.join(nights)} alone, and the hours of {file} {', '.join(days)}"
            return f"{told}: no night is both, so nothing can be planned; is one of the two another's?"
        case AzimuthsInTens(azimuths=azimuths):
            meant = ", ".join(f"{10 * one:g}" for one in azimuths)
            told = f"horizon has points at azimuths {', '.join(f'{one:g}' for one in azimuths)} alone"
            return f"{told}; are these tens of degrees, and is {meant} meant?"
    raise TypeError(f"no words for {type(slip).__name__}")


def _zenith_words(slip: ZenithAngles) -> str:
    if not slip.points:
        meant = STRAIGHT_UP_DEG - slip.value
        told = f"{slip.key} is {slip.value:g}, which leaves hardly any Moon"
        return f"{told}; is {slip.value / 10.0:g} meant, or {meant:g}, counted from the zenith?"
    heights = [one.elevation_deg for one in slip.points]
    meant_each = ", ".join(
        f"{STRAIGHT_UP_DEG - one.elevation_deg:.4g} at azimuth {one.azimuth_deg:g}" for one in slip.points
    )
    told = f"{slip.key} stands at {min(heights):g} to {max(heights):g} degrees all round, which leaves hardly any Moon"
    return f"{told}; are these angles from the zenith, and is elevation_deg meant as {meant_each}?"


def _dates_words(dates: Sequence[tuple[dt.date, dt.date]], is_alone: bool) -> str:
    told = ", ".join(f"{first}" if first == last else f"{first}/{last}" for first, last in dates)
    return told if is_alone else f"[{told}]"
