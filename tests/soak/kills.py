"""Writing commands killed for real: each a process of its own, ended by the system at a random moment or step.

After each kill the season must be whole, old or new, and the next run must give the bytes of one that nobody disturbed.
Half of the kills come at a random instant, half just before a random change on the disk. The same count gives the same
steps; instants depend on the machine.
"""

from __future__ import annotations

import logging
import os
import random
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from importlib import import_module
from pathlib import Path
from pkgutil import walk_packages
from typing import NoReturn

from tests.hostile.full_swing import (
    BEFORE_SEND,
    COMMANDS,
    SEND,
    SMALLER,
    after_cut,
    after_next,
    full_swing,
    settled,
    stand_in,
)
from tests.hostile.small_season import ASIDE, Picture, lay_out, picture, restore
from tests.letters.post_office import PostOffice, running

# Nobody waits longer for a command of this small season, however busy the machine.
PATIENCE_S = 120.0
NO_IMPORT = ("pipeline.bootstrap", "pipeline.__main__")
CHANGES = ("os.rename", "os.mkdir", "os.rmdir", "os.remove", "os.link", "os.truncate", "os.chmod")
ALL = COMMANDS | SMALLER
WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT


@dataclass
class Killed:
    """What came of one command under all its kills."""

    name: str
    kills: int = 0
    too_late: int = 0
    told: list[str] = field(default_factory=list)


def kill_commands(count: int) -> int:
    """A line a command; the number of faults found in so many kills, spread over all commands."""
    import weasyprint  # noqa: F401

    import pipeline
    from pipeline.reports import pdf

    # Each command's process starts with all that it needs loaded.
    for module in walk_packages(pipeline.__path__, "pipeline."):
        if module.name not in NO_IMPORT and ".data." not in module.name:
            import_module(module.name)
    logging.disable(logging.WARNING)
    os.cpu_count = lambda: 1  # type: ignore[assignment]
    pdf.render = stand_in
    chance = random.Random(count)
    names = [*ALL, "send"]
    shares = Counter(names[index % len(names)] for index in range(count))
    print(f"{'command':20} {'kills':>5} {'ended before':>13}  faults", flush=True)
    faults, here = 0, Path.cwd()
    with tempfile.TemporaryDirectory() as name, running(Path(name)) as office:
        os.environ |= office.environment()
        desk = lay_out(Path(name) / "desk")
        os.chdir(desk)
        try:
            full_swing(typed, office)
            swing = picture(desk)
            for command, share in shares.items():
                row = _attack(command, share, swing, desk, office, chance)
                told = "; ".join(row.told[:3])
                print(f"{row.name:20} {row.kills:5} {row.too_late:13}  {told}", flush=True)
                faults += len(row.told)
        finally:
            os.chdir(here)
    return faults


def _attack(command: str, share: int, swing: Picture, desk: Path, office: PostOffice, chance: random.Random) -> Killed:
    """One command under its kills."""
    words, before = ALL.get(command, (SEND, BEFORE_SEND))
    restore(desk, swing)
    for others in before:
        typed(*others)
    old = picture(desk)
    begin = time.monotonic()
    steps = _steps_of(words)
    lasted_s = time.monotonic() - begin
    new = picture(desk)
    typed(*words)
    twice = picture(desk)
    row = Killed(command)
    for number in range(share):
        restore(desk, old)
        office.taken.clear()
        step = chance.randint(1, steps) if number % 2 else 0
        instant_s = 0.0 if step else chance.uniform(0.0, lasted_s)
        code = _ended(partial(_run, words, step), instant_s or None)
        row.kills += 1
        row.too_late += code >= 0
        where = f"{'step' if step else 'after'} {step or format(instant_s, '.3f')}: "
        if command == "send":
            found = settled(typed, desk, office, old)
        else:
            found = after_cut(picture(desk), old, new)
            standing = {path: content for path, content in picture(desk).items() if not ASIDE.search(path)}
            done = not after_next(standing, new)
            code, said = typed(*words)
            # A reading that stands there already is not taken twice.
            found += [f"the next run ends with {code}: {said}"] if code and not done else []
            found += after_next(picture(desk), new, twice)
        row.told += [where + one for one in found]
    return row


def typed(*words: str) -> tuple[int, str]:
    """A command in a process of its own, left alone; its exit code, and what it said on the error stream."""
    with tempfile.TemporaryFile() as said:
        code = _ended(lambda: _run(words, 0, said.fileno()), None)
        said.seek(0)
        return code, said.read().decode().strip()


def _steps_of(words: tuple[str, ...]) -> int:
    """How many changes on the disk a run makes that nobody disturbs."""
    reading, writing = os.pipe()

    def count() -> NoReturn:
        steps = [0]

        def noted() -> None:
            steps[0] += 1

        _watch(noted)
        code = _typed_here(words, None)
        os.write(writing, str(steps[0]).encode())
        os._exit(code)

    assert _ended(count, None) == 0, words
    os.close(writing)
    with os.fdopen(reading) as told:
        return int(told.read())


def _run(words: tuple[str, ...], step: int, said: int | None = None) -> NoReturn:
    """The command in this process, which kills itself before its n-th change where a step is given."""
    left = [step]

    def noted() -> None:
        left[0] -= 1
        if left[0] == 0:
            os.kill(os.getpid(), signal.SIGKILL)

    if step:
        _watch(noted)
    os._exit(_typed_here(words, said))


def _typed_here(words: tuple[str, ...], said: int | None) -> int:
    from pipeline.cli import run

    quiet = os.open(os.devnull, os.O_WRONLY)
    os.dup2(quiet, 1)
    os.dup2(quiet if said is None else said, 2)
    sys.argv = ["mutual-moon", *words]
    code = run()
    sys.stdout.flush()
    sys.stderr.flush()
    return code


def _watch(noted: Callable[[], None]) -> None:
    """Calls before each change that this process makes on the disk."""

    def heard(event: str, arguments: tuple[object, ...]) -> None:
        opened = event == "open" and isinstance(arguments[2], int) and arguments[2] & WRITES
        if (opened and not str(arguments[0]).startswith("/dev")) or event in CHANGES:
            noted()

    sys.addaudithook(heard)


def _ended(work: Callable[[], NoReturn], after_s: float | None) -> int:
    """Runs work in a process of its own, killed after a time; its exit code, or minus the signal that ended it."""
    sys.stdout.flush()
    child = os.fork()
    if child == 0:
        try:
            work()
        finally:
            os._exit(99)
    deadline = time.monotonic() + (PATIENCE_S if after_s is None else after_s)
    while time.monotonic() < deadline:
        ended, status = os.waitpid(child, os.WNOHANG)
        if ended:
            return os.waitstatus_to_exitcode(status)
        time.sleep(0.0005)
    os.kill(child, signal.SIGKILL)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
