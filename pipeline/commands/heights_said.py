"""Heights of a skyline as people type them: by points of the compass, in arcs of one height, with degrees and minutes.

An arc becomes points so near each other that they are one ridge; no other command takes them.
"""

from __future__ import annotations

import re

from pipeline.commands.ways import Asked, Read, Way
from pipeline.inputs.entries_said import bearing
from pipeline.inputs.odd_characters import plain
from pipeline.record.skyline_heights import as_taken
from pipeline.record.skyline_points import ONE_RIDGE_DEG

TURN_DEG = 360
MINUTES = re.compile(r"(\d+)\s*[°º]\s*([0-5]?\d)\s*['′](?!\d)")
COMPASS = re.compile(r"(?<![^\W\d_])[NESWnesw]{1,3}(?![^\W\d_])")
ALL_ROUND = re.compile(
    r"\b(?:all(?: round)?|everywhere|around|rundum|ringsum|überall|partout|todo|tutto|ovunque|överallt)\b(?=\s*[=:])",
    re.IGNORECASE,
)
# The four points by their names; two together are what lies between them.
POINTS = {
    "N": "north nord norte norr noord pohjoinen północ sever",
    "S": "south süd sued sud sur sul syd söder zuid etelä południe jih",
    "E": "east ost est este leste öst øst oost itä wschód východ",
    "W": "west ouest oeste ovest väst vest länsi zachód západ",
}
NAMED = {name: point for point, names in POINTS.items() for name in names.split()}
A_POINT = "|".join(sorted(NAMED, key=len, reverse=True))
POINT = re.compile(rf"(?<![^\W\d_])({A_POINT})(?:[- ]?({A_POINT}))?(?![^\W\d_])", re.IGNORECASE)
BETWEEN = r"(?:-|\.\.+|/|\b(?:to|until|till|bis|hasta|até|jusqu'à|à|a|al|fino a|tot|til|till|do|až)\b)"
# A comma parts decimals where what follows is no azimuth of its own.
DEGREES = rf"[+-]?\d+(?:\.\d+|,\d+(?![\d.]*\s*(?:[=:@]|->|{BETWEEN}\s*\d)))?"
SAID = re.compile(
    rf"(\d{{1,3}}(?:[.,]\d+)?)(?:\s*{BETWEEN}\s*(\d{{1,3}}(?:[.,]\d+)?))?\s*(?:=|:|->|@|/|\bis\b|\s)\s*({DEGREES})(?![\d=])",
    re.IGNORECASE,
)
REST = re.compile(r"[\s,;.]|\b(?:and|und|y|et|e|og|och|ja|i|from|von|de|da|od|az|azimuth|deg|degrees)\b", re.IGNORECASE)


def heights_read(text: str, asked: Asked) -> Read:
    """The heights with an azimuth each; nothing where a part of the text is not sure."""
    if meant := as_taken(text.split()):
        return Read((Way((meant,)),))
    said = MINUTES.sub(lambda found: f"{int(found[1]) + int(found[2]) / 60:.4g}", plain(text))
    said = ALL_ROUND.sub(
        "0-360", POINT.sub(lambda found: "".join(NAMED[one.casefold()] for one in found.groups() if one), said)
    )
    said = COMPASS.sub(bearing, re.sub(r"[°º]", "", said))
    if both := re.fullmatch(rf"\s*(\d+(?:\.\d+)?)\s*=\s*(\d+(?:\.\d+)?)\s*{BETWEEN}\s*(\d+(?:\.\d+)?)", said):
        ways = [
            Way((f"{both[1]}={both[at]}",), f"the {word} one is meant") for at, word in ((3, "second"), (2, "first"))
        ]
        return Read(tuple(ways), f"{text}: an azimuth has one height")
    found = SAID.findall(said)
    if not found or REST.sub("", SAID.sub("", said)):
        return Read()
    points: dict[str, str] = {}
    for first, last, height in found:
        for azimuth in _azimuths(first, last):
            points.setdefault(azimuth, height.replace(",", ".").lstrip("+"))
    why = f"{text}: each azimuth has a height of its own" if any(last for _, last, _ in found) else ""
    return Read((Way((",".join(f"{one}={height}" for one, height in points.items()),)),), why)


def _azimuths(first: str, last: str) -> list[str]:
    """Those of an arc clockwise, its ends among them; one where it has no other end."""
    begin = float(first.replace(",", "."))
    if not last:
        return [f"{begin:g}"]
    width = (float(last.replace(",", ".")) - begin) % TURN_DEG or TURN_DEG
    steps = int(width / ONE_RIDGE_DEG)
    inside = [begin + ONE_RIDGE_DEG * one for one in range(steps + 1)]
    ends = [begin + width] if inside[-1] < begin + width < begin + TURN_DEG else []
    return list(dict.fromkeys(f"{one % TURN_DEG:g}" for one in [*inside, *ends]))
