"""What measured heights change in a skyline, and what a log said of one, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from pipeline.record.skyline_points import SAME_DEG, SkylinePoint, apart_deg, height_at, horizon_points
from pipeline.wording import formats

if TYPE_CHECKING:
    from pipeline.inputs.model import Station

# Lines for single azimuths; a whole card is told by its first ones.
MOST_LINES = 40
# Of so many measured heights all that stand so high are most likely counted from the zenith.
FEWEST_HIGH, HIGH_DEG, STRAIGHT_UP_DEG = 2, 45.0, 90.0


def elsewhere_words(elsewhere_deg: float) -> str:
    """The comment above a skyline that nobody had surveyed before."""
    return f"Measured; beside what was measured a cautious guess of {elsewhere_deg:g} degrees."


def changes_words(
    station: Station,
    standing: Sequence[SkylinePoint],
    points: Sequence[SkylinePoint],
    measured: Mapping[float, float],
    elsewhere_deg: float,
) -> list[str]:
    """A line a measured azimuth with what stood there, then which points keep the line as it was, and which go."""
    count = formats.count(len(measured), "height")
    lines = [f"{station.call} {station.title}, {count} measured"]
    line = standing if station.terrain is None else horizon_points(station)
    for azimuth, height in sorted(measured.items())[:MOST_LINES]:
        before = height_at(line, azimuth, elsewhere_deg)
        was = "no skyline was stated" if not line else f"stood at {_degrees(before)}"
        lines.append(f"  azimuth {azimuth:g}: {_degrees(height)}, {was}")
    if len(measured) > MOST_LINES:
        lines.append(f"  and {len(measured) - MOST_LINES} more")
    kept = [one for one in points if one.kept and one not in standing]
    if kept:
        named = ", ".join(f"{one.azimuth_deg:g} ({_degrees(one.elevation_deg)})" for one in kept[:MOST_LINES])
        stands = "stays as it stood" if line else f"counts as {_degrees(elsewhere_deg)}, a cautious guess"
        lines.append(f"  beside it the skyline {stands}, by points at {named}")
    if not line:
        lines.append(
            "  that guess cuts windows from now on, wherever nobody has measured: measure where they end, or more"
        )
    gone = [one for one in standing if one not in points and not _is_measured(one, measured)]
    if gone:
        lines.append(f"  gone: points that kept it as it stood at {', '.join(f'{one.azimuth_deg:g}' for one in gone)}")
    return lines


def _is_measured(one: SkylinePoint, measured: Mapping[float, float]) -> bool:
    return any(apart_deg(one.azimuth_deg, azimuth) < SAME_DEG for azimuth in measured)


def _degrees(value: float) -> str:
    return formats.elevation(value)


# The Moon seen farther than this from a point was not lost there: a dial's offset, or a slip of the pen (judgement).
FAR_DEG = 2.0


def told_words(where: str, remark: str, point: tuple[float, float], stands_deg: float, moon_apart_deg: float) -> str:
    """A remark of a log, the point that it tells, what the file has there, and what the Moon says to it."""
    words = (
        f'{where}: "{formats.short(remark, 60)}", azimuth {point[0]:g} and {_degrees(point[1])}; '
        f"the file has {_degrees(stands_deg)} there"
    )
    if moon_apart_deg > FAR_DEG:
        words += f"; the Moon came no nearer than {moon_apart_deg:.0f}° to it: an offset of the dial, or a slip?"
    return words


def from_zenith_words(measured: Mapping[float, float]) -> list[str]:
    """A question where measured heights stand so high that they are most likely counted from the zenith."""
    if len(measured) < FEWEST_HIGH or min(measured.values()) <= HIGH_DEG:
        return []
    meant = ", ".join(f"{azimuth:g}={STRAIGHT_UP_DEG - height:g}" for azimuth, height in measured.items())
    return [f"note: these heights leave hardly any Moon; are they counted from the zenith, and is {meant} meant?"]
