"""One reader under thousands of spoiled files: what it refuses, how long the slowest takes, whether memory grows."""

from __future__ import annotations

import resource
import tempfile
import time
import traceback
from dataclasses import dataclass
from pathlib import Path

from pipeline.inputs.faults import InputFaults
from tests.hostile.desks import DESKS, refusals
from tests.hostile.spoiling import spoiled

# A file of some kilobytes that takes longer than this is a hang to the one who waits.
LONGEST_S = 5.0
# Memory is looked at from here on: caches and tables are filled by then.
WARM = 1000


@dataclass(frozen=True)
class Attacked:
    """What came of one reader."""

    name: str
    files: int
    refused: int
    worst_ms: float
    grown_mb: float
    faults: int
    told: str


def attack(task: tuple[int, int]) -> Attacked:
    """The reader at this place in the list, under so many files."""
    index, count = task
    desk = DESKS[index]
    found: list[str] = []
    refused, worst, warm_kb = 0, 0.0, 0
    with tempfile.TemporaryDirectory() as name:
        for seed in range(count):
            raw = spoiled(seed, desk.examples)
            begin = time.perf_counter()
            try:
                found += [f"seed {seed}: {one}" for one in refusals(desk, raw, Path(name))]
                desk.read(raw, Path(name))
            except InputFaults:
                refused += 1
            except Exception:
                found.append(f"seed {seed}: {traceback.format_exc(limit=-1).strip().splitlines()[-1]}")
            taken = time.perf_counter() - begin
            if taken > LONGEST_S:
                found.append(f"seed {seed}: {taken:.0f} s")
            worst = max(worst, taken)
            if seed == min(WARM, count - 1):
                warm_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    grown = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - warm_kb) / 1e3
    return Attacked(desk.name, count, refused, worst * 1e3 / 2, grown, len(found), "; ".join(found[:3]))
