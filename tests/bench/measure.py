"""One measurement in a process of its own: wall and processor seconds after imports, peak memory, and what came out.

`python -m tests.bench.measure FUNCTION ARGUMENTS` prints one JSON line; the parent reads it.
"""

from __future__ import annotations

import json
import resource
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]


RUNS = 3


@dataclass(frozen=True)
class Seconds:
    """The least and the median of some runs, s: how far they lie apart is the machine's noise."""

    least: float
    median: float

    @classmethod
    def of(cls, runs: Sequence[float]) -> Seconds:
        """Of what was measured."""
        return cls(min(runs), statistics.median(runs))

    def __str__(self) -> str:
        return f"{self.least:.2f} {self.median:.2f}"


@dataclass(frozen=True)
class Measured:
    """Seconds of the processor (children included) and by the wall clock, MB at most, and the result to compare."""

    cpu_s: Seconds
    wall_s: Seconds
    peak_mb: float
    result: dict[str, float]


def _skyfield_windows(partners: int, length: str) -> dict[str, float]:
    from tests.bench.rivals import WithSkyfield

    return _counted(WithSkyfield(length).windows(partners), 24.0)


def _astropy_windows(partners: int, length: str) -> dict[str, float]:
    from tests.bench.rivals import WithAstropy

    return _counted(WithAstropy(length).windows(partners), 1 / 60.0)


def _counted(found: list[list[tuple[float, float]]], hours: float) -> dict[str, float]:
    flat = [window for one in found for window in one]
    return {"windows": float(len(flat)), "hours": sum(end - start for start, end in flat) * hours}


def _skyfield_quantities(partners: int, length: str) -> dict[str, float]:
    from tests.bench.rivals import WithSkyfield

    return {"rows": float(WithSkyfield(length).quantities(partners))}


def _astropy_quantities(partners: int, length: str) -> dict[str, float]:
    from tests.bench.rivals import WithAstropy

    return {"rows": float(WithAstropy(length).quantities(partners))}


def _case(name: str) -> Callable[..., dict[str, float]]:
    """The function behind a name; imports are paid here, before the clock starts."""
    # Ours first: it says that products of small matrices take one thread, which serves the rivals as well.
    import pipeline  # noqa: F401, I001
    import skyfield.almanac
    import skyfield.api
    import skyfield.jpllib  # noqa: F401

    if name.startswith("ours."):
        # Our rooms read these where they need them; whoever uses Skyfield has read them before as well.
        from tests.bench import ours

        found: Callable[..., dict[str, float]] = getattr(ours, name.removeprefix("ours."))
        return found
    if name.startswith("record."):
        from tests.bench import record

        return {"ours": record.ours, "parsers": record.parsers}[name.removeprefix("record.")]
    import tests.bench.rivals  # noqa: F401

    if name.startswith("astropy"):
        import astropy.coordinates
        import astropy.time  # noqa: F401
    return {
        "skyfield_windows": _skyfield_windows,
        "astropy_windows": _astropy_windows,
        "skyfield_quantities": _skyfield_quantities,
        "astropy_quantities": _astropy_quantities,
    }[name]


def _peak_mb(who: int) -> float:
    most = resource.getrusage(who).ru_maxrss
    return most / (1e6 if sys.platform == "darwin" else 1e3)


def measure(name: str, *arguments: Any, runs: int = RUNS) -> Measured:
    """Runs one side of a case in fresh interpreters, one after the other."""
    made = [_measure_once(name, arguments) for _ in range(runs)]
    return Measured(
        Seconds.of([one["cpu_s"] for one in made]),
        Seconds.of([one["wall_s"] for one in made]),
        max(one["peak_mb"] for one in made),
        made[0]["result"],
    )


def _measure_once(name: str, arguments: Sequence[Any]) -> dict[str, Any]:
    command = [sys.executable, "-m", "tests.bench.measure", name, json.dumps(arguments)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    if done.returncode:
        raise RuntimeError(f"{name} failed:\n{done.stderr}")
    record: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return record


def _main(name: str, arguments: list[Any]) -> None:
    run = _case(name)
    wall, cpu = time.perf_counter(), time.process_time()
    result = run(*arguments)
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    record = {
        "wall_s": time.perf_counter() - wall,
        "cpu_s": time.process_time() - cpu + children.ru_utime + children.ru_stime,
        "peak_mb": max(_peak_mb(resource.RUSAGE_SELF), _peak_mb(resource.RUSAGE_CHILDREN)),
        "result": result,
    }
    print(json.dumps(record))


if __name__ == "__main__":
    import warnings

    warnings.simplefilter("ignore")  # the packages' notes on old Earth-rotation tables: only time is measured here
    _main(sys.argv[1], json.loads(sys.argv[2]))
