"""How often weather takes the signal, in words: shares of hours as so many in a hundred, and what they rest on."""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.outlook.weather import PairWeather
from pipeline.wording import formats

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
HEADING = "How often weather takes the signal"
RAIN_TITLES = (
    "Rain that costs over 1 dB: hours in a hundred, by month",
    "Rain that costs over 3 dB: hours in a hundred, by month",
)
METHOD = (
    "Rain by month from totals and temperatures (ITU-R P.837-7, P.1510), cloud water and vapour of the year (P.840-8, "
    "P.836), for which no months are mapped; losses by P.838-3 and P.840. Means of the maps over cells of 3 degrees: a "
    "mountain's own weather is not in them.",
    "The cost is what one end no longer hears: the loss on its own part of the path, at the height at which the Moon "
    "usually stands there in mutual windows, and the warmth that rain or cloud adds to its receiver. The other end has "
    "its own weather besides.",
    "An average year and never a forecast. Nothing of this is in windows, margins and chances, which are those of "
    "clear air.",
)


def in_a_hundred(share: float) -> str:
    """`3`, `0.4`, `under 0.1`: hours in a hundred."""
    hours = 100.0 * share
    if hours < 0.1:
        return "<0.1"
    return f"{hours:.1f}" if hours < 1.95 else f"{hours:.0f}"


def lead(home: str, elevation_deg: float, band: str) -> str:
    """What the page is about."""
    return (
        f"On {formats.band(band)}, with the Moon at the height at which it usually stands in mutual windows "
        f"({formats.elevation(elevation_deg)} at {home})."
    )


def damp_words(value_db: float) -> str:
    """What damp air costs beyond the clear air of the plan."""
    return "<0.1" if value_db < 0.05 else f"{value_db:.1f}"


def without_window_words(calls: tuple[str, ...]) -> str:
    """Who is not in the tables; empty for nobody."""
    return f"No mutual window, so not told: {formats.listed(list(calls))}." if calls else ""


def pair_words(weather: PairWeather) -> str:
    """What weather takes of a pair's hours: `rain or cloud: 4 % here, 38 % there`."""
    here, there = (in_a_hundred(share) for share in (weather.home, weather.partner))
    return f"rain or cloud: {here} % here, {there} % there"


def shares_words(every: Sequence[PairWeather]) -> str:
    """What the shares of `pair_words` are of; empty where none is told."""
    if not every:
        return ""
    cost = f"over {every[0].cost_db:.0f} dB"
    return (
        f"Rain or cloud: hours of these dates, in an average year, that cost an end {cost}; in no margin and no chance."
    )


def ranked_words() -> str:
    """What the year says where weather counts."""
    return (
        "On this band weather takes part in the ranks: contacts count at the share of hours in which neither rain nor "
        "cloud takes over 3 dB at either end, in that month of an average year (`weather` tells the shares)."
    )
