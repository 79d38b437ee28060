"""Our side of each case, through the same functions as the commands."""

from __future__ import annotations

import dataclasses
import multiprocessing
import tempfile
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from pipeline.agenda.notes import Proof
from pipeline.ephemeris.sky import make_sky
from pipeline.inputs.model import Position, Station
from pipeline.outlook.year import make_year
from pipeline.pairs.survey import make_survey
from pipeline.plan.plan import Plan, make_plan
from pipeline.windows.moon_passes import MoonPasses, find_passes, look_at_moon, overlaps
from pipeline.windows.rules import make_rules
from pipeline.windows.scene import sites_of
from pipeline.windows.span import make_span
from tests.bench import scenes

# So many stations are searched at a time: the arrays of a hundred stay within the processor's caches and 100 MB.
CHUNK = 100


def passes_of(stations: list[Station], length: str) -> list[MoonPasses]:
    """Passes of many stations, chunk by chunk."""
    begin, end = scenes.span(length)
    sky = make_sky(begin, end, None)
    found: list[MoonPasses] = []
    for first in range(0, len(stations), CHUNK):
        part = stations[first : first + CHUNK]
        look = look_at_moon(sky, sites_of(sky, part), refraction=False)
        found += find_passes(look, make_rules(part), len(part), 0.0, sky.duration_s)
    return found


def windows(partners: int, length: str) -> dict[str, float]:
    """Windows alone, of home with each partner."""
    home, *others = passes_of(scenes.stations(partners + 1), length)
    found = overlaps(home, others)
    return {"windows": float(found.start_s.size), "hours": float((found.end_s - found.start_s).sum() / 3600.0)}


def all_quantities(partners: int, length: str) -> dict[str, float]:
    """Windows and every column of samples.csv: pointing, noise by part, Doppler, spread, polarization, chance."""
    inputs = scenes.season(partners, length)
    period = make_span(inputs.season, ZoneInfo("UTC"), scenes.FIRST)
    made = make_survey(inputs, period, lambda _: None)
    return {"windows": float(len(made.windows)), "hours": float(made.windows["duration_min"].sum() / 60.0)}


def whole_plan(partners: int, length: str, nights: int = 6, slots: int = 3) -> dict[str, float]:
    """The same with nights, reasons, the agenda and why not; everybody is available at all hours: the dearest case."""
    made = make_plan(scenes.season(partners, length, nights, slots), scenes.FIRST)
    return {
        "windows": float(len(made.windows)),
        "hours": float(made.windows["duration_min"].sum() / 60.0),
        "gap": gap_of(made),
    }


def polar_plan(partners: int, length: str) -> dict[str, float]:
    """The same from a home where the Moon is up for days."""
    inputs = scenes.season(partners, length)
    home = dataclasses.replace(inputs.home, position=Position(78.0, 16.0, 100.0))
    return {"gap": gap_of(make_plan(dataclasses.replace(inputs, home=home), scenes.FIRST))}


def whole_year(partners: int) -> dict[str, float]:
    """Twelve months judged for nights and weekends."""
    return {"nights": float(len(make_year(scenes.season(partners, "month"), 12, scenes.FIRST).nights))}


def gap_of(plan: Plan) -> float:
    """Contacts by which another agenda may be better."""
    return next(note.gap for note in plan.agenda_notes if isinstance(note, Proof))


def every_pair(count: int, length: str) -> dict[str, float]:
    """Windows of all pairs of `count` stations, by both cores into files."""
    passes = passes_of(scenes.stations(count), length)
    with tempfile.TemporaryDirectory() as folder:
        # The pairs of station i are with those behind it: odd and even stations share them evenly.
        shares = [(passes, list(range(part, count - 1, 2)), str(Path(folder, f"{part}.npy"))) for part in range(2)]
        with multiprocessing.get_context("spawn").Pool(2) as pool:
            done = pool.starmap(_write_pairs, shares)
        size = sum(file.stat().st_size for file in Path(folder).iterdir())
    return {
        "pairs": count * (count - 1) / 2,
        "windows": float(sum(one[0] for one in done)),
        "hours": sum(one[1] for one in done),
        "file_mb": size / 1e6,
    }


ROW = np.dtype([("first", "i4"), ("second", "i4"), ("start_s", "f8"), ("end_s", "f8")])


def _write_pairs(passes: list[MoonPasses], mine: list[int], path: str) -> tuple[int, float]:
    """Windows of the stations `mine` with every later one, appended to a file of rows."""
    count, hours = 0, 0.0
    with Path(path).open("wb") as file:
        for first in mine:
            found = overlaps(passes[first], passes[first + 1 :])
            rows = np.empty(found.start_s.size, ROW)
            rows["first"], rows["second"] = first, first + 1 + found.other
            rows["start_s"], rows["end_s"] = found.start_s, found.end_s
            rows.tofile(file)
            count += rows.size
            hours += float((found.end_s - found.start_s).sum() / 3600.0)
    return count, hours
