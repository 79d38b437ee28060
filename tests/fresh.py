"""Installs the program anew and plans the demo with it: `python3 pipeline/bootstrap.py fresh [WAYS]`.

Ways, all of them without a word: `lowest` and `newest` take the oldest and the newest packages that pyproject.toml
allows and try some rooms' tests on them; `pip`, `pipx` and `uv` install the built wheel and sdist as a user does. Each
goes into a folder of its own with spaces and letters beyond ASCII in its name; packages come over the network.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
AWKWARD = "Größe und Maß 月"
# Rooms whose tests reach every library that computes: numpy, scipy, skyfield, geographiclib, pandas.
ROOMS = ("tests/ephemeris", "tests/link")
# What those tests need beside the program; all extras at once would ask for newer packages than the oldest allowed.
REFEREES = (
    "pytest",
    "pytest-xdist",
    "hypothesis",
    "astropy",
    "ephem",
    "astronomy-engine",
    "pymeeus",
    "itur",
    "jplephem",
)
UV = (sys.executable, "-m", "uv", "--no-config", "--no-python-downloads")


class Failure(Exception):
    """A step that did not end well; the text is its command and its last lines."""


def run(*words: str | Path, cwd: Path, **variables: str | Path) -> str:
    """What a command printed; raises Failure where its exit code is not 0."""
    environment = {**os.environ, **{key: str(value) for key, value in variables.items()}}
    command = [str(word) for word in words]
    done = subprocess.run(command, cwd=cwd, env=environment, capture_output=True, encoding="utf-8", check=False)
    if done.returncode:
        tail = (done.stdout + done.stderr).splitlines()[-25:]
        raise Failure("\n  ".join([" ".join(command), *tail]))
    return done.stdout


def pythons() -> list[str]:
    """The oldest and the newest Python from 3.11 on that this machine has, which may be one and the same."""
    names = [shutil.which(f"python3.{minor}") for minor in range(11, 20)]
    kept = [str(path) for path in (Path.home() / ".pyenv/versions").glob("3.*/bin/python")]
    found: dict[tuple[int, ...], str] = {}
    for python in filter(None, [sys.executable, *names, *kept]):
        asked = "import ensurepip, sys; print(*sys.version_info[:2], sys._base_executable)"
        done = subprocess.run([python, "-c", asked], capture_output=True, encoding="utf-8", check=False)
        if done.returncode == 0:
            major, minor, base = done.stdout.strip().split(" ", 2)
            found.setdefault((int(major), int(minor)), base)
    usable = sorted(version for version in found if version >= (3, 11))
    return [found[usable[0]], found[usable[-1]]]


def programs(environment: Path) -> Path:
    return environment / ("Scripts" if os.name == "nt" else "bin")


def plan_demo(program: Path, folder: Path) -> None:
    """The main job from a folder in which nothing of the project lies."""
    out = folder / "out"
    run(program, "plan", "--demo", "--out", out, cwd=folder)
    calendars = [path.read_bytes()[:5] for path in out.rglob("calendar.pdf")]
    if calendars != [b"%PDF-"]:
        raise Failure(f"{program} left no calendar.pdf")


def with_versions(folder: Path, python: str, resolution: str) -> None:
    """The program with the packages of one resolution, then its tests beside it without moving any of those."""
    environment = folder / "venv"
    run(*UV, "venv", "--python", python, environment, cwd=folder)
    inside = programs(environment) / "python"
    install = (*UV, "pip", "install", "--python", inside)
    run(*install, "--resolution", resolution, ROOT, cwd=folder)
    listed = (*UV, "pip", "freeze", "--exclude-editable", "--python", inside)
    chosen = [line for line in run(*listed, cwd=folder).splitlines() if "@" not in line]
    plan_demo(programs(environment) / "mutual-moon", folder)
    (folder / "chosen.txt").write_text("\n".join(chosen), encoding="utf-8")
    run(*install, "--constraints", folder / "chosen.txt", *REFEREES, cwd=folder)
    run(inside, "-m", "pytest", "-n", "auto", "-p", "no:cacheprovider", *ROOMS, cwd=ROOT)


def lowest(folder: Path) -> None:
    with_versions(folder, pythons()[0], "lowest-direct")


def newest(folder: Path) -> None:
    with_versions(folder, pythons()[-1], "highest")


def built(folder: Path, kind: str) -> Path:
    """The wheel or the sdist of this checkout."""
    run(sys.executable, "-m", "build", f"--{kind}", "--no-isolation", "--outdir", folder / "dist", ROOT, cwd=folder)
    (file,) = (folder / "dist").iterdir()
    return file


def by_pip(folder: Path) -> None:
    """The wheel into an environment of the oldest Python."""
    run(pythons()[0], "-m", "venv", folder / "venv", cwd=folder)
    run(programs(folder / "venv") / "python", "-m", "pip", "install", built(folder, "wheel"), cwd=folder)
    plan_demo(programs(folder / "venv") / "mutual-moon", folder)


def by_pipx(folder: Path) -> None:
    """The wheel by the newest Python."""
    places = {"PIPX_HOME": folder / "pipx", "PIPX_BIN_DIR": folder / "bin", "PIPX_MAN_DIR": folder / "man"}
    words = ("install", "--python", pythons()[-1], built(folder, "wheel"))
    run(sys.executable, "-m", "pipx", *words, cwd=folder, **places)
    plan_demo(folder / "bin" / "mutual-moon", folder)


def by_uv(folder: Path) -> None:
    """The sdist by the newest Python."""
    places = {"UV_TOOL_DIR": folder / "tools", "UV_TOOL_BIN_DIR": folder / "bin"}
    run(*UV, "tool", "install", "--python", pythons()[-1], built(folder, "sdist"), cwd=folder, **places)
    plan_demo(folder / "bin" / "mutual-moon", folder)


WAYS: dict[str, Callable[[Path], None]] = {
    "lowest": lowest,
    "newest": newest,
    "pip": by_pip,
    "pipx": by_pipx,
    "uv": by_uv,
}


def main(arguments: Sequence[str]) -> int:
    if unknown := set(arguments) - set(WAYS):
        print(f"Unknown: {', '.join(sorted(unknown))}. Ways: {', '.join(WAYS)}.", file=sys.stderr)
        return 2
    failed = 0
    for way in arguments or WAYS:
        begun = time.monotonic()
        with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as base:
            folder = Path(base) / AWKWARD
            folder.mkdir()
            try:
                WAYS[way](folder)
                said = "installed, planned the demo"
            except Failure as failure:
                failed += 1
                said = f"failed: {failure}"
        print(f"{way}: {said} ({time.monotonic() - begun:.0f} s)", flush=True)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
