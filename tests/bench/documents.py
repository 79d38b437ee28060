"""Whole commands in a folder of their own: the demo's plan with sheets, letters and year, beside the PDF engine alone.

The rival renders the same HTML on as many cores as ours, and nothing else.
"""

from __future__ import annotations

import json
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from tests.bench.measure import RUNS, Seconds

ROOT = Path(__file__).resolve().parents[2]


def run(folder: Path, *words: str, keep: Path | None = None) -> tuple[float, float]:
    """Processor and wall seconds of one command in a folder; with `keep` its pages go there and no PDF is made."""
    module = ["tests.bench.keep", str(keep)] if keep else ["pipeline"]
    return timed([sys.executable, "-m", *module, *words], folder)


def timed(command: list[str], folder: Path) -> tuple[float, float]:
    """Processor seconds, children included, and wall seconds of a command; RuntimeError where it fails."""
    before, begin = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    done = subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True, check=False)
    if done.returncode:
        raise RuntimeError(f"{' '.join(command)} ended with {done.returncode}:\n{done.stderr}")
    after, wall_s = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter() - begin
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, wall_s


def documents_case() -> None:
    """Each command of the demo for the first time beside the engine alone on its pages, then with nothing changed."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for words in (("plan",), ("letters",), ("year",)):
            kept = folder / f"kept of {words[0]}"
            kept.mkdir()
            runs, engine = [], []
            for _ in range(RUNS):
                _fresh(folder, words)
                runs.append(run(folder, *words))
                _fresh(folder, words)
                run(folder, *words, keep=kept)
                engine.append(timed([sys.executable, "-m", "tests.bench.engine", str(kept)], ROOT))
            _show(f"demo: {words[0]}", runs, engine, "the PDF engine alone")
            _show_pages(kept)
        _fresh(folder, ("plan",))
        for word in ("plan", "letters"):
            run(folder, word)
        again = [[run(folder, word) for word in ("plan", "letters")] for _ in range(RUNS)]
        _show("plan and letters, nothing changed", [tuple(map(sum, zip(*one, strict=True))) for one in again], [])
        for line in ("plan --no-pdf", "explain QF4LUM 2027-03-13T23:10Z", "check"):
            _show(line, [run(folder, *line.split()) for _ in range(RUNS)], [])


def _show_pages(kept: Path) -> None:
    """What the kept pages cost the engine, counted in pages of the old kind."""
    command = [sys.executable, "-m", "tests.bench.pages", str(kept)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    old, ours = (Seconds.of(runs) for runs in json.loads(done.stdout.splitlines()[-1]).values())
    print(f"  its pages {ours} s, the page of the old kind {old} s: {ours.least / old.least:.1f} of those", flush=True)


def _fresh(folder: Path, words: tuple[str, ...]) -> None:
    """The demo as it is handed out; letters have their plan, with no page drawn."""
    for name in ("stations", "out"):
        shutil.rmtree(folder / name, ignore_errors=True)
    shutil.copytree(ROOT / "stations", folder / "stations", ignore=shutil.ignore_patterns("record"))
    if words == ("letters",):
        run(folder, "plan", "--no-pdf")


def _show(case: str, runs: Sequence[Sequence[float]], engine: Sequence[Sequence[float]], rival: str = "") -> None:
    cpu, wall = (Seconds.of([one[kind] for one in runs]) for kind in (0, 1))
    other = Seconds.of([one[0] for one in engine]) if engine else None
    right = f" {other!s:>17} {other.least / cpu.least:7.2f} {'':5}  {rival}" if other else ""
    print(f"{case:40} {cpu!s:>13} {wall!s:>13}{right}", flush=True)


def help_case() -> None:
    """The time to the first line of help against Python doing nothing."""
    with tempfile.TemporaryDirectory() as name:
        ours = [run(Path(name), "--help") for _ in range(RUNS)]
        nothing = [timed([sys.executable, "-c", "pass"], Path(name)) for _ in range(RUNS)]
    _show("--help", ours, nothing, "Python starting")
