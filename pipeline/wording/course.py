"""What stands in words on the page of the month's course: names of the rows, extremes, and what does not matter.

From the course of the period; its figures are those of home's own echo.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from pipeline.outlook.month_course import MonthCourse
from pipeline.wording import formats

# The parts of the degradation as the key names them.
PARTS = {"distance": "distance", "moon": "Moon's warmth", "sky": "sky", "air": "air", "ground": "ground", "sun": "Sun"}
PHASES = ("new", "first quarter", "full", "last quarter")


def lead_words() -> str:
    """The line under the title."""
    return "how far north the Moon stands, how near it comes and what that costs home's own echo, on one axis of days"


def key_words(course: MonthCourse, notable_db: float, agenda: bool, gaps: bool) -> str:
    """How the picture was made, and which part of it does not matter."""
    said = [
        "Degradation and Doppler spread are those of home's own echo, by the date of the night: degradation at the "
        "Moon's highest, spread from least to most while it can be seen. Curves run by home's clock.",
    ]
    if gaps:
        said.append("No bars: no night of that date, or the Moon stays below home's skyline.")
    if agenda:
        said.append("Ink: nights of the agenda.")
    said.append(sky_words(course.sky_moves_db, notable_db))
    return " ".join(one for one in said if one)


def sky_words(moves_db: float, notable_db: float) -> str:
    """Whether the sky behind the Moon matters: a curve tells how far it does, a sentence that it does not."""
    if moves_db > notable_db:
        return "The sky's curve is the sky behind the Moon alone, whatever the hour."
    least = "less than 0.1" if moves_db < 0.05 else formats.decibels(moves_db)
    return f"The sky behind the Moon makes a difference of {least} dB in these days: it does not matter."


def extreme_words(nearest: bool, distance_km: float) -> str:
    """`perigee 366` in thousand kilometres."""
    return f"{'perigee' if nearest else 'apogee'} {distance_km / 1000:.0f}"


def sun_words(limit_deg: float) -> str:
    """What the amber column means."""
    return f"Sun within {limit_deg:.0f}°"


def title_words(
    first: dt.date,
    last: dt.date,
    declination_deg: tuple[float, float],
    distance_km: tuple[float, float],
    degradation_db: tuple[float, float] | None,
    agenda: Sequence[dt.date],
) -> str:
    """What the picture tells, for whoever cannot see it; ranges from least to most."""
    south, north = (formats.declination(value) for value in declination_deg)
    near, far = (formats.kilometres(value) for value in distance_km)
    told = [f"declination from {south} to {north}", f"distance from {near} to {far}"]
    if degradation_db is not None:
        least, most = (formats.decibels(value) for value in degradation_db)
        told.append(f"degradation of home's own echo from {least} to {most} dB")
    nights = f"; nights of the agenda: {formats.date_runs(list(agenda))}" if agenda else ""
    return f"The Moon from {formats.day(first)} to {formats.day(last)}: {formats.listed(told)}{nights}"
