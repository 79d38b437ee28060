"""What a partner says of its sky, into its station file: points of the skyline over the azimuths it was asked about.

The file's words stay as they are; the new lines are read back before they count, and the file changes whole or not.
"""

from __future__ import annotations

import dataclasses
import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from pipeline.inputs import scalars
from pipeline.inputs.bounds import OWN
from pipeline.inputs.faults import Fault, InputFaults
from pipeline.inputs.model import HorizonPoint, Station
from pipeline.inputs.station import read_station, station_in
from pipeline.inputs.yaml_tree import decode, load_tree, printable, read_bytes
from pipeline.letters.arcs_said import arcs_in
from pipeline.letters.offered import AnswerFault
from pipeline.letters.outbox import folder_name
from pipeline.pairs.assumed import skyline_is_assumed
from pipeline.record.ledger import Ledger, slot_of
from pipeline.record.model import AskedSky
from pipeline.record.skyline_heights import bare_degrees
from pipeline.record.skyline_points import SkylinePoint
from pipeline.record.skyline_writing import listed_point, point_words, with_horizon
from pipeline.record.writing import write_whole

KEY = "sky"
FREE, WHOLE = "free", "all"
# The whole turn, as an arc that ends where it begins.
WHOLE_SKY = AskedSky(0.0, 360.0, 0.0)
ARC = re.compile(r"(\d{1,3}(?:[.,]\d+)?)\s*(?:-|–|to)\s*(\d{1,3}(?:[.,]\d+)?)", re.IGNORECASE)
HIGHEST_DEG = 90.0
# On either side of what was told the skyline goes to the cautious guess within so much.
RAMP_DEG = 1.0


@dataclass(frozen=True)
class NewText:
    """A station file with what was told put in, ready to be written; `line` tells of it."""

    path: Path
    text: str
    line: str


def asked_of(call: str, ledger: Ledger, period: str, letters: Path | None) -> AskedSky | None:
    """What the partner was asked last: by a delivered letter, else by the letter or message on the disk, if there is
    one.
    """
    asked = None
    for message in ledger.messages:
        if message.partner == call and message.period == period and message.delivered:
            asked = next((slot.asked_sky for slot in message.slots if slot.asked_sky), asked)
    if asked is not None or letters is None:
        return asked
    try:
        about = json.loads(OWN.read(letters / folder_name(call) / "letter.json"))
        return next((sky for entry in about["slots"] if (sky := slot_of(entry).asked_sky)), None)
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return None


def with_sky(station: Station, folder: Path, asked: AskedSky | None, said: str, elsewhere_deg: float) -> NewText:
    """The station's file with what was said; `elsewhere_deg` stands where nothing was asked. Nothing is written.

    `free@103-112` and `7@all` name their own azimuths, clockwise, whatever was asked; free is then free to the horizon.
    Raises AnswerFault where it cannot be said, InputFaults where the file cannot be changed safely.
    """
    if not skyline_is_assumed(station):
        raise AnswerFault(f"sky={printable(said)}: {station.file} states a horizon already; change it there.")
    said, at, azimuths = (part.strip() for part in said.partition("@"))
    asked = _arc(said, azimuths) if at else asked
    if not at and (arcs := arcs_in(said)):
        raise AnswerFault(_which_arc(station.call, said, arcs))
    if asked is None:
        word = printable(said)
        raise AnswerFault(
            f"sky={word}: no letter has asked {station.call} about its sky, so it must be said over which azimuths. "
            f"For the whole sky: `answer {station.call} sky={word}@{WHOLE}`; for an arc, clockwise from true north: "
            f"`answer {station.call} sky={word}@103-112`."
        )
    elevation = _elevation(said, asked)
    # Free above what nine skylines in ten do not reach tells nothing of the sky below it.
    is_guess_below = said.casefold() == FREE and elevation > elsewhere_deg
    points = skyline_points(asked, elsewhere_deg if is_guess_below else elevation, elsewhere_deg)
    path = folder / station.file
    raw = read_bytes(path)
    text = decode(raw, path.name)
    new = with_horizon(text, _lines(asked, elevation, is_guess_below, points))
    wanted = tuple(HorizonPoint(azimuth, height) for azimuth, height in points)
    bare = read_station(load_tree(raw, path.name, folder)).station
    expected = None
    if bare is not None:
        assumed = tuple(key for key in bare.assumed if key != "horizon")
        expected = dataclasses.replace(bare, horizon=wanted, assumed=assumed)
    if expected is None or station_in(new, path) != expected:
        flat = ", ".join(point_words(SkylinePoint(*point)) for point in points)
        message = f"the file is laid out in an unusual way; change it by hand, the line is `horizon: [{flat}]`."
        raise InputFaults([Fault(path.name, None, "horizon", message)])
    bom = "\ufeff" if raw.startswith(b"\xef\xbb\xbf") else ""
    told = f"{station.call} sky  {_span(asked)}: free above {elevation:g} degrees"
    below = f"; below that, as elsewhere, a guess of {elsewhere_deg:g} stays" if is_guess_below else ""
    return NewText(path, bom + new, told + below)


def _which_arc(call: str, said: str, arcs: Sequence[str]) -> str:
    """Asks for the azimuths of a direction in words, with the line that takes the arc around it."""
    figure = re.search(r"\d+(?:[.,]\d+)?", said)
    height = figure[0].replace(",", ".") if figure else FREE
    lines = [f"  `answer {call} sky={height}@{arc}`" for arc in arcs]
    return "\n".join([f"sky={printable(said)}: over which azimuths? Around that direction it is", *lines])


def write_told(new: NewText) -> None:
    """Put the file in place, whole or not at all."""
    write_whole(new.path, new.text)


def skyline_points(asked: AskedSky, elevation_deg: float, elsewhere_deg: float) -> list[tuple[float, float]]:
    """Azimuth and elevation of each point, degrees: what was told over the arc, the cautious guess beside it."""
    first, last = asked.azimuth_from_deg, asked.azimuth_to_deg
    arc = [(first, elevation_deg)] if first == last else [(first, elevation_deg), (last, elevation_deg)]
    if asked == WHOLE_SKY or (last - first) % 360.0 + 2 * RAMP_DEG >= 360.0:
        return [(first, elevation_deg)]
    beside = [((first - RAMP_DEG) % 360.0, elsewhere_deg), ((last + RAMP_DEG) % 360.0, elsewhere_deg)]
    return [beside[0], *arc, beside[1]]


def is_told_in_part(horizon: Sequence[HorizonPoint]) -> bool:
    """Whether these are the points of an answer over an arc: what was told, and a guess a step beside it."""
    if len(horizon) not in (3, 4):
        return False
    first, last = horizon[1], horizon[-2]
    asked = AskedSky(first.azimuth_deg, last.azimuth_deg, 0.0)
    points = skyline_points(asked, first.elevation_deg, horizon[0].elevation_deg)
    return [(one.azimuth_deg, one.elevation_deg) for one in horizon] == points


def _arc(said: str, azimuths: str) -> AskedSky:
    """The azimuths that an answer names itself."""
    if azimuths.casefold() == WHOLE:
        return WHOLE_SKY
    found = ARC.fullmatch(azimuths)
    edges = [float(one.replace(",", ".")) for one in found.groups()] if found else []
    if not edges or max(edges) > 360.0:
        typed = f"sky={printable(said)}@{printable(azimuths)}"
        raise AnswerFault(f"{typed}: azimuths are meant, clockwise, such as @103-112, or @{WHOLE} for the whole sky.")
    first, last = edges
    return WHOLE_SKY if last - first == 360.0 else AskedSky(first % 360.0, last % 360.0, 0.0)


def _elevation(said: str, asked: AskedSky) -> float:
    """`free` is free above what was asked; a number is how high the skyline stands there."""
    if said.casefold() == FREE:
        return asked.above_deg
    try:
        elevation = scalars.number(bare_degrees(said))
    except scalars.Refusal:
        elevation = -1.0
    if not 0.0 <= elevation < HIGHEST_DEG:
        raise AnswerFault(
            f"sky={printable(said)}: free is meant, or how high the skyline stands in degrees, such as sky=7."
        )
    return elevation


def _lines(asked: AskedSky, elevation: float, is_guess_below: bool, points: Sequence[tuple[float, float]]) -> list[str]:
    elsewhere = "" if asked == WHOLE_SKY else " Elsewhere a cautious guess."
    elsewhere = " Below that and elsewhere a cautious guess." if is_guess_below else elsewhere
    return [
        f"# Told in an answer: {_span(asked)} free above {elevation:g}.{elsewhere}",
        "horizon:",
        *(listed_point(SkylinePoint(*point)) for point in points),
    ]


def _span(asked: AskedSky) -> str:
    if asked == WHOLE_SKY:
        return "the whole sky"
    return f"azimuth {asked.azimuth_from_deg:g} to {asked.azimuth_to_deg:g} degrees"
