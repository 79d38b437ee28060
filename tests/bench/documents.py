"""Whole commands in a folder of their own: the demo's plan with sheets and letters, beside the PDF engine alone.

The rival renders the same HTML, one document after the other or on as many cores as ours, and nothing else.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def run(folder: Path, *words: str, keep: Path | None = None) -> float:
    """Wall seconds of one command in a folder; with `keep` its pages go there and no PDF is made."""
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    module = ["tests.bench.keep", str(keep)] if keep else ["pipeline"]
    begin = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-m", *module, *words],
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        raise RuntimeError(f"{' '.join(words)} ended with {done.returncode}:\n{done.stderr}")
    return time.perf_counter() - begin


def documents_case() -> None:
    """First run, second run with nothing changed, and the engine alone on the same pages."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        shutil.copytree(ROOT / "stations", folder / "stations", ignore=shutil.ignore_patterns("record"))
        first = run(folder, "plan") + run(folder, "letters")
        again = run(folder, "plan") + run(folder, "letters")
        kept = folder / "kept"
        kept.mkdir()
        shutil.rmtree(folder / "out")
        run(folder, "plan", keep=kept)
        run(folder, "letters", keep=kept)
        alone = _engine_alone(kept)
    for case, seconds in (("demo: plan and letters", first), ("the same again, nothing changed", again)):
        print(f"{case + ', wall s':44} {seconds:9.2f} {alone:9.2f} {alone / seconds:7.2f} {'':8}  the PDF engine alone")


def _engine_alone(kept: Path) -> float:
    """Wall seconds in which the engine renders the kept pages on all cores, imports included."""
    begin = time.perf_counter()
    command = [sys.executable, "-m", "tests.bench.engine", str(kept)]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
    return time.perf_counter() - begin


def help_case() -> None:
    """The time to the first line of help; the best of five, against Python doing nothing."""
    with tempfile.TemporaryDirectory() as name:
        ours = min(run(Path(name), "--help") for _ in range(5))
    begins = []
    for _ in range(5):
        begin = time.perf_counter()
        subprocess.run([sys.executable, "-c", "pass"], check=True)
        begins.append(time.perf_counter() - begin)
    print(f"{'--help, wall s':44} {ours:9.2f} {min(begins):9.2f} {min(begins) / ours:7.2f}           Python starting")
