"""Figures that hold a sum, worked out: feet and inches, `2 x 80`, watts less decibels, hours and minutes."""

from __future__ import annotations

import re

from pipeline.inputs.quantities import FIGURE, quantity, readings

# A power and what is lost of it on the way to the feed.
LESS = re.compile(
    rf"({FIGURE})\s*w\w*\s*(?:[-,;(]|less|minus|meno|menos|moins|weniger|minder|after|before|with|mit|con|avec|com|sans)+"
    rf"\D{{0,12}}?-?\s*(\d[\d.,]*)\s*db\b.*",
    re.IGNORECASE,
)
# Keys that take hours and minutes as one figure, and how many minutes are one of it.
TURNS = {
    "hours_to_get_there": 60.0,
    "gap_minutes": 1.0,
    "arrive": 1.0,
    "align": 1.0,
    "check": 1.0,
    "least": 1.0,
    "most": 1.0,
}
CLOCK_TIME = re.compile(r"(\d{1,2})\s*(?::|h|hrs?|std\.?|t)\s*([0-5]\d)\s*(?:h|m|min)?")
FEET = re.compile(r"(\d+)\s*(?:'|ft|feet)\s*(\d+)\s*(?:\"|''|in|inches)?")
METRES = re.compile(r"(\d+)\s*m\s*(\d\d)")
PRODUCT = re.compile(r"(\d{1,2})\s*(?:[x*×·]|pcs of|mal|stk)\s*(\d[\d.,]*)\s*\w*", re.IGNORECASE)


def composed(key: str, said: str) -> float | None:
    """The number in the unit of a key; None where the text is no such sum, or one in a unit of another quantity."""
    name, units = quantity(key) or ("", {})
    if key in TURNS and (hours := CLOCK_TIME.fullmatch(said.casefold())):
        return (int(hours[1]) * 60 + int(hours[2])) / TURNS[key]
    feet = FEET.fullmatch(said) if "ft" in units else None
    if feet:
        return (int(feet[1]) * 12 + int(feet[2])) * 0.0254
    times = PRODUCT.fullmatch(said) if key.endswith(("_ah", "_w", "_a")) else None
    if times and len(readings(times[2])) == 1:
        return int(times[1]) * readings(times[2])[0]
    less = LESS.fullmatch(said) if name == "watts" else None
    if less and readings(less[1]) and readings(less[2]):
        return readings(less[1])[0] * 10.0 ** (-readings(less[2])[0] / 10.0)
    metres = METRES.fullmatch(said) if name == "metres" else None
    return float(f"{metres[1]}.{metres[2]}") if metres else None
