"""Maidenhead locators to positions and back: pairs of letters and digits in turn, 2 to 10 characters.

Rule: IARU Region 1 VHF handbook, the locator system. Longitude comes first in each pair; a locator stands for the
centre of its last cell.
"""

from __future__ import annotations

import math
from string import ascii_uppercase, digits

# Cells a pair divides the one above into; the whole world is 360 x 180 degrees, counted from 180 W, 90 S.
DIVISIONS = (18, 10, 24, 10, 24)
# One degree of latitude on a sphere of 6371 km; an uncertainty needs no ellipsoid.
KM_PER_DEGREE = 111.195


class LocatorError(ValueError):
    """Says which character is wrong and what is allowed there."""


def alphabet(pair: int) -> str:
    """The characters allowed in both places of a pair (0 to 4)."""
    return (digits if pair % 2 else ascii_uppercase)[: DIVISIONS[pair]]


def cells(locator: str) -> tuple[float, float, float, float]:
    """South-west corner and size of the last cell: (latitude_deg, longitude_deg, height_deg, width_deg)."""
    text = locator.strip().upper()
    if len(text) not in (2, 4, 6, 8, 10):
        raise LocatorError("a locator has 2, 4, 6, 8 or 10 characters, such as GF25cl")
    latitude, longitude, height, width = -90.0, -180.0, 180.0, 360.0
    for pair, division in enumerate(DIVISIONS[: len(text) // 2]):
        height, width = height / division, width / division
        allowed = alphabet(pair)
        for place in (2 * pair, 2 * pair + 1):
            if text[place] not in allowed:
                kind = "a digit 0 to 9" if pair % 2 else f"a letter A to {allowed[-1]}"
                shown = locator.strip()[place] if len(locator.strip()) == len(text) else text[place]
                raise LocatorError(f"character {place + 1} is '{shown}', where {kind} is meant")
        longitude += allowed.index(text[2 * pair]) * width
        latitude += allowed.index(text[2 * pair + 1]) * height
    return latitude, longitude, height, width


def position_of(locator: str) -> tuple[float, float]:
    """Centre of the locator's last cell as (latitude_deg, longitude_deg)."""
    latitude, longitude, height, width = cells(locator)
    return latitude + height / 2, longitude + width / 2


def contains(locator: str, latitude_deg: float, longitude_deg: float) -> bool:
    """Whether a place lies in the locator's cell, its edges included."""
    latitude, longitude, height, width = cells(locator)
    # A ten-thousandth of a degree (11 m) forgives coordinates that were rounded.
    edge = 1e-4
    return (
        latitude - edge <= latitude_deg <= latitude + height + edge
        and longitude - edge <= longitude_deg <= longitude + width + edge
    )


def half_cell_km(locator: str) -> tuple[float, float]:
    """How far the place may lie from the centre, as (north or south, east or west) in km."""
    latitude, _, height, width = cells(locator)
    middle = math.radians(latitude + height / 2)
    return height / 2 * KM_PER_DEGREE, width / 2 * KM_PER_DEGREE * math.cos(middle)


def uncertainty_km(locator: str) -> float:
    """How far the place may lie from the centre at most: half the diagonal of the cell."""
    return math.hypot(*half_cell_km(locator))


def locator_of(latitude_deg: float, longitude_deg: float, characters: int = 6) -> str:
    """The locator of a place, in the usual spelling: GF25cl49."""
    if not (-90 <= latitude_deg <= 90 and -180 <= longitude_deg <= 180):
        raise ValueError("latitude is -90 to 90, longitude -180 to 180")
    if characters not in (2, 4, 6, 8, 10):
        raise ValueError("a locator has 2, 4, 6, 8 or 10 characters")
    # Shares of the world from its south-west corner; the north pole and 180 E belong to the last cell.
    north, east = (latitude_deg + 90.0) / 180.0, (longitude_deg + 180.0) / 360.0
    divisions = DIVISIONS[: characters // 2]
    total = math.prod(divisions)
    # The tiny addition keeps a place on a cell's own edge (longitude 0, say) from falling into the cell before it.
    rows = min(int(north * total + 1e-9), total - 1)
    columns = min(int(east * total + 1e-9), total - 1)
    text = ""
    for pair, division in enumerate(divisions):
        total //= division
        row, rows = divmod(rows, total)
        column, columns = divmod(columns, total)
        text += alphabet(pair)[column] + alphabet(pair)[row]
    return spelled(text)


def spelled(locator: str) -> str:
    """The usual spelling: first pair in capitals, later letters small."""
    text = locator.strip()
    return text[:2].upper() + text[2:].lower()
