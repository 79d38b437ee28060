"""A season of two partners and two nights, quick to plan, with every command typed in its place and a picture of it.

A picture is path to content of all files, so that two states of a folder can be compared byte by byte.
"""

from __future__ import annotations

import os
import re
import shutil
import sys
from dataclasses import dataclass
from pathlib import Path

from pipeline.reports.places import demo_folder

NIGHT = "2027-03-13"
PERIOD = "2027-03-13_2027-03-14"
CALLS = ("QF4LUM", "QG8FEN")
LOG = (
    "partner,night,slot_start_utc,slot_end_utc,frequency_mhz,band,mode,operator,report_sent,report_received,completed,"
    "time_utc,remarks\n"
    "QF4LUM,2027-02-14,2027-02-14T19:00:00Z,2027-02-14T20:00:00Z,10368.1,3cm,Q65,QM7TOR,-12,-14,yes,19:20,clear\n"
    "QG8FEN,2027-02-14,2027-02-14T21:45:00Z,2027-02-14T22:45:00Z,10368.1,3cm,Q65,QM7TOR,,,no,22:10,windy\n"
)
Picture = dict[str, bytes]


def lay_out(folder: Path) -> Path:
    """`stations/` with the season and `march.csv`, a log of the month before; the folder itself."""
    stations = folder / "stations"
    stations.mkdir(parents=True)
    for call in ("QM7TOR", *CALLS):
        shutil.copy(demo_folder() / f"{call.lower()}.yaml", stations)
    lines = (demo_folder() / "season.yaml").read_text("utf-8").splitlines()
    kept = [line for line in lines if "{call:" not in line or any(call in line for call in CALLS)]
    text = re.sub(r"months: .*", "dates: 2027-03-13/2027-03-14", "\n".join(kept) + "\n")
    (stations / "season.yaml").write_text(text.replace("policy:", "policy:\n  step_minutes: 30\n"), "utf-8")
    (folder / "march.csv").write_text(LOG, "utf-8")
    # The random part of identifiers, as the first letters would draw it: of a season that is made anew the same.
    (stations / "record").mkdir()
    (stations / "record" / "uid_key.txt").write_text("00112233445566778899aabbccddeeff\n", "ascii")
    return folder


def change(folder: Path) -> None:
    """One figure of the inputs: from here on every output is another."""
    file = folder / "stations" / "qf4lum.yaml"
    text = file.read_text("utf-8")
    assert text.count("power_w: ") == 1
    file.write_text(re.sub(r"power_w: [\d.]+", "power_w: 33", text), "utf-8")


def picture(folder: Path) -> Picture:
    """All files, the locks aside: they are empty and mean nothing while nobody holds them."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.name != ".lock"
    }


def restore(folder: Path, taken: Picture) -> None:
    """The folder as it was when the picture was taken; what is as it was stays untouched."""
    folders = {parent for name in taken for parent in (folder / name).parents}
    # From the leaves up: a folder is empty when its turn comes, or holds something that stays.
    for path in sorted(folder.rglob("*"), reverse=True):
        if path.is_dir() and not path.is_symlink():
            if path not in folders:
                path.rmdir()
        elif path.relative_to(folder).as_posix() not in taken:
            path.unlink()
    for name, content in taken.items():
        path = folder / name
        if not path.is_file() or path.read_bytes() != content:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)


@dataclass(frozen=True)
class Room:
    """A part of the outputs that changes as a whole: a folder, or files that belong together."""

    name: str

    def of(self, taken: Picture) -> Picture:
        """Its files in a picture."""
        return {path: content for path, content in taken.items() if path.startswith(self.name + "/")}


ROOMS = tuple(
    Room(f"out/{PERIOD}/{name}") for name in ("calendar", "data", "letters", f"nights/{NIGHT}", "nights/2027-03-14")
)
ASIDE = re.compile(r"(/|\.)(new|old)(/|$)|\.(new|old)(/|$)")


def wholeness(now: Picture, old: Picture, new: Picture) -> list[str]:
    """What is wrong with a state that a cut run left: nothing where all is old or new, each folder by itself.

    What lies aside under `.new` and `.old` does not count, but a folder may be missing only while both lie there.
    """
    faults = []
    for path, content in now.items():
        if not ASIDE.search(path) and content not in (old.get(path), new.get(path)):
            faults.append(f"{path} is neither old nor new")
    for path in old:
        aside = any(f"{path}.{ending}" in now for ending in ("old",))
        if path not in now and path in new and not aside and not _moved(path, now):
            faults.append(f"{path} is lost")
    for room in ROOMS:
        found = room.of(now)
        if found not in (room.of(old), room.of(new)) and not (not found and _moved(f"{room.name}/x", now)):
            faults.append(f"{room.name} is a mixture")
    return faults


def _moved(path: str, now: Picture) -> bool:
    """Whether the room of a file stands aside, to be put back by the next run."""
    room = next((room.name for room in ROOMS if path.startswith(room.name + "/")), None)
    return room is not None and any(name.startswith(f"{room}.old/") for name in now)


def command_line(*words: str) -> list[str]:
    """What starts a command in a process of its own."""
    return [sys.executable, "-m", "pipeline", *words]


def environment(**changes: str) -> dict[str, str]:
    """The environment of such a process: the project is found from any folder."""
    project = str(Path(__file__).resolve().parents[2])
    # What this process has compiled need not be compiled again; see tests/conftest.py.
    compiled = {"PYTHONPYCACHEPREFIX": sys.pycache_prefix, "PYTHONDONTWRITEBYTECODE": ""} if sys.pycache_prefix else {}
    return os.environ | compiled | {"PYTHONPATH": project, "PYTHONWARNINGS": "ignore"} | changes


def quiet(ended: tuple[int, str]) -> bool:
    """Whether a command did all and had nothing to say, but for the meeting place that this season leaves open."""
    code, told = ended
    return code == 0 and all("names no place to meet" in line for line in told.splitlines())
