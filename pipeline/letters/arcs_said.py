"""Directions named in words, as the arc of azimuths that is meant: `west` is a quarter of the turn around 270 degrees.

Words of English, German, French, Spanish, Portuguese, Italian and Japanese, from memory; degrees from true north.
"""

from __future__ import annotations

import re

# Longer words first: what names north-west names no west.
DIRECTIONS = (
    (315, r"north[- ]?west\w*|nordwest\w*|nord-ouest|noroeste|nord-?ovest|北西"),
    (45, r"north[- ]?east\w*|nordost\w*|nordöst\w*|nord-est|noreste|nordeste|北東"),
    (225, r"south[- ]?west\w*|südwest\w*|sud-ouest|suroeste|sudoeste|sud-?ovest|南西"),
    (135, r"south[- ]?east\w*|südost\w*|südöst\w*|sud-est|sureste|sudeste|南東"),
    (0, r"north\w*|nord(?:en)?|nördlich\w*|norte|北"),
    (90, r"east(?:ern)?|ost(?:en)?|östlich\w*|l['’]est|este|leste|a est|ad est|東"),
    (180, r"south\w*|süd(?:en)?|südlich\w*|sud|sur|sul|南"),
    (270, r"west(?:en|ern)?|westlich\w*|ouest|oeste|ovest|西"),
)
PATTERNS = tuple(
    (middle, re.compile(rf"(?<![^\W_])(?:{latin})(?![^\W_])|{japanese}", re.IGNORECASE))
    for middle, (latin, _, japanese) in ((middle, words.rpartition("|")) for middle, words in DIRECTIONS)
)
QUARTER, EIGHTH = 45, 22


def arcs_in(text: str) -> list[str]:
    """`225-315` for each direction that a text names, clockwise."""
    found: list[str] = []
    for middle, pattern in PATTERNS:
        text, count = pattern.subn(" ", text)
        half = EIGHTH if middle % 90 else QUARTER
        found += [f"{(middle - half) % 360}-{(middle + half) % 360}"] if count else []
    return found
