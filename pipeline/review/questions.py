"""What a log's records say of each other and of the Moon: doubles, and times at which there was no Moon to talk over.

A Moon below a horizon at the time given, but up a day earlier or later or by home's distance from UTC, tells the slip.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
from geographiclib.geodesic import Geodesic

from pipeline.record.doubles import doubles_of
from pipeline.record.inputs import Inputs
from pipeline.record.log_entry import Finding, LogEntry
from pipeline.review.moments import sight, stretches
from pipeline.windows.standing import standing_at

DAY_S = 86400.0
# Shifts at which a record's Moon is looked at, by their place.
NOW, DAY_LATER, DAY_EARLIER, LOCAL = range(4)
# Nearer than this a contact may well have gone along the ground (common practice, no source).
ALONG_THE_GROUND_KM = 800.0
# So many of a file's records must have the Moon down before the whole file is held to be in local time.
LEAST_FOR_A_FILE = 3


def without_doubles(entries: Sequence[LogEntry]) -> tuple[list[LogEntry], list[Finding]]:
    """One record of each attempt, the fullest and then the first; the others become findings."""
    doubles = doubles_of(entries)
    findings = []
    for entry in entries:
        other = doubles.get(id(entry))
        if other is not None:
            same = entry.file == other.file
            place = f"line {other.line}" if same else f"{other.file}, line {other.line}"
            reports = (entry.report_sent, entry.report_received) != (other.report_sent, other.report_received)
            what = f"the same attempt stands in {place} as well" + (", with other reports" if reports else "")
            findings.append(
                Finding(entry.file, entry.line, entry.call, what, "that record is taken; keep one of them", False)
            )
    return [entry for entry in entries if id(entry) not in doubles], findings


def not_by_the_ground(
    entries: Sequence[LogEntry], named: set[int], inputs: Inputs
) -> tuple[list[LogEntry], list[Finding]]:
    """Records without PROP_MODE of partners so near that the contact may have gone along the ground are set aside.

    `named` holds the ids of the entries whose log names the way.
    """
    far = {station.call: _ground_km(inputs, index) for index, station in enumerate(inputs.partners)}
    kept, findings = [], []
    for entry in entries:
        distance = far[entry.call]
        if entry.moonbounce and id(entry) not in named and distance < ALONG_THE_GROUND_KM:
            what = f"PROP_MODE is missing and {entry.call} is only {distance:.0f} km away"
            advice = "write EME if the contact went over the Moon"
            findings.append(Finding(entry.file, entry.line, entry.call, what, advice, False))
            entry = dataclasses.replace(entry, moonbounce=False)
        kept.append(entry)
    return kept, findings


def _ground_km(inputs: Inputs, index: int) -> float:
    here, there = inputs.home.position, inputs.partners[index].position
    line = Geodesic.WGS84.Inverse(here.latitude_deg, here.longitude_deg, there.latitude_deg, there.longitude_deg)
    return float(line["s12"]) / 1000.0


@dataclass(frozen=True)
class _Seen:
    """One record's Moon: degrees above both skylines as logged, (2,), and whether it served at each shift, (4,)."""

    above_deg: npt.NDArray[np.float64]
    served: npt.NDArray[np.bool_]
    ahead_of_utc: dt.timedelta

    @property
    def by_local_time(self) -> bool:
        return bool(self.served[LOCAL]) and bool(self.ahead_of_utc)


def moon_questions(entries: Sequence[LogEntry], inputs: Inputs) -> list[Finding]:
    """A finding for each record with the Moon down at either end, and one for each file that looks like local time.

    Raises EphemerisUnavailable where the kernel does not reach a record.
    """
    partners = {station.call: index for index, station in enumerate(inputs.partners, 1)}
    over_the_moon = [entry for entry in entries if entry.moonbounce]
    seen: dict[int, _Seen] = {}
    places = standing_at(inputs, [entry.time_utc for entry in over_the_moon])
    for place in {id(one): one for one in places}.values():
        here = [entry for entry, one in zip(over_the_moon, places, strict=True) if one is place]
        for stretch in stretches(place, [entry.time_utc for entry in here]):
            mine = [here[row] for row in stretch.rows]
            site = np.array([partners[entry.call] for entry in mine])
            ahead = [ahead_of_utc(entry.time_utc, inputs.zone) for entry in mine]
            shifts = np.array([[0.0, DAY_S, -DAY_S, -one.total_seconds()] for one in ahead])
            found = sight(place, stretch, site, [entry.band for entry in mine], stretch.time_s, shifts)
            for row, (entry, offset) in enumerate(zip(mine, ahead, strict=True)):
                seen[id(entry)] = _Seen(found.above_deg[:, row, 0], found.served[row], offset)
    down = [entry for entry in over_the_moon if not seen[id(entry)].served[NOW]]
    return [_moon_down(entry, seen[id(entry)], inputs.home.call) for entry in down] + _files_in_local_time(
        over_the_moon, seen
    )


def ahead_of_utc(logged: dt.datetime, zone: ZoneInfo) -> dt.timedelta:
    """How far home's clocks are ahead of UTC at a time read as a local one."""
    return logged.replace(tzinfo=zone).utcoffset() or dt.timedelta(0)


def hours_words(offset: dt.timedelta) -> str:
    """`UTC-03:00`."""
    minutes = round(offset.total_seconds() / 60.0)
    return f"UTC{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"


def _moon_down(entry: LogEntry, seen: _Seen, home: str) -> Finding:
    """The question that a record with the Moon down raises, with every slip that would explain it."""
    slips = []
    if seen.by_local_time:
        utc = entry.time_utc - seen.ahead_of_utc
        slips.append(f"local time ({hours_words(seen.ahead_of_utc)}) may be logged: {utc:%Y-%m-%d %H:%M} UTC fits")
    slips += [
        f"the date may be one day off: {entry.time_utc + dt.timedelta(days=day):%Y-%m-%d} fits"
        for place, day in ((DAY_LATER, 1), (DAY_EARLIER, -1))
        if seen.served[place]
    ]
    end = int(np.argmin(seen.above_deg))
    what = (
        f"at {entry.time_utc:%Y-%m-%d %H:%M} UTC the Moon was {-seen.above_deg[end]:.1f} degrees below the skyline "
        f"of {(home, entry.call)[end]}"
    )
    return Finding(entry.file, entry.line, entry.call, what, "; or ".join(slips) or "check date and time", False)


def _files_in_local_time(entries: Sequence[LogEntry], seen: dict[int, _Seen]) -> list[Finding]:
    """A file of which many records have the Moon down and all would have it up by home's distance from UTC."""
    findings = []
    for file in dict.fromkeys(entry.file for entry in entries):
        mine = [entry for entry in entries if entry.file == file]
        down = [entry for entry in mine if not seen[id(entry)].served[NOW]]
        shifted = all(seen[id(entry)].by_local_time for entry in mine)
        if shifted and len(down) >= max(LEAST_FOR_A_FILE, len(mine) // 5):
            what = f"{len(down)} of {len(mine)} records have the Moon down as UTC, and all have it up as local time"
            zone = hours_words(seen[id(mine[0])].ahead_of_utc)
            advice = f"the whole file looks like local time ({zone}); write UTC and review again"
            findings.append(Finding(file, mine[0].line, "", what, advice, True))
    return findings
