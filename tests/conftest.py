"""What all tests share: repeatable property tests, and closing lines that say which outside source agreed how well."""

from __future__ import annotations

import os
import sys
from pathlib import Path

# Where Python is told to leave no compiled files in the folders, they go beside pytest's own: without them each process
# takes the assertions of all tests apart anew, which takes seconds.
if sys.dont_write_bytecode:
    sys.dont_write_bytecode = False
    sys.pycache_prefix = str(Path(__file__).resolve().parents[1] / ".pytest_cache" / "compiled")
# A process for each core is what the tests take: more threads in each only wait for one another.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import gc
import io
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import settings

from pipeline.commands import console

# The same examples on every machine and run; no deadline, since a shared machine is slow at times.
settings.register_profile("repeatable", derandomize=True, deadline=None, database=None)
settings.load_profile("repeatable")
# What is printed does not follow the width of the terminal at which the tests run.
os.environ.pop("COLUMNS", None)
# What a user is spared a test must see: a defect where slips of the command line are read ends the command.
os.environ["MUTUAL_MOON_TRACEBACK"] = "1"

# Nothing of what is collected goes away again, so the collector of cycles need not look; see pytest_collection_finish.
gc.disable()

if TYPE_CHECKING:
    from xdist.scheduler import LoadFileScheduling

# The files that take longest, in processor time, begun first: so none is left to one process at the end.
LONGEST = (
    "sheets/test_sheets_fit.py",
    "outlook/test_year.py",
    "hostile/test_named_cases.py",
    "cli/test_season_moves_on.py",
    "review/test_review_cli.py",
    "review/test_learning.py",
    "hostile/test_same_bytes.py",
    "reports/test_month_page.py",
    "reports/test_browser.py",
    "absence/test_why_not.py",
    "hostile/test_cuts.py",
    "letters/test_two_months.py",
    "cli/test_two_at_once.py",
    "cli/test_console.py",
    "letters/test_in_their_language.py",
    "absence/test_tried.py",
    "sheets/test_radio.py",
    "plan/test_same_in_any_period.py",
    "cli/test_plan_cli.py",
)

Outside = Callable[..., None]
# Words of a command to its exit code, what was printed, and what was said on the error stream.
Type = Callable[..., tuple[int, str, str]]
PROPERTY = "outside"


@pytest.fixture(scope="session", autouse=True)
def _no_stages() -> Iterator[None]:
    """What a command says on the error stream is its sentences alone; tests/cli/test_console looks at the stages."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(console.stages, "stream", io.StringIO)
        yield


@pytest.fixture(scope="session", autouse=True)
def _no_waiting_for_the_disk() -> Iterator[None]:
    """Only a power cut shows whether the disk had the bytes, and no test cuts it; processes of their own do wait."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "fsync", os.fstat)
        yield


@pytest.fixture
def outside(record_property: Callable[[str, object], None]) -> Outside:
    """Tells the end of the run what an outside source was compared with: call it after the assertions.

        outside("astropy", 20, "0.002 degree", "places")    # source, how many, largest difference, of what

    The run then ends with a line a source, `astropy: 20 places, worst 0.002 degree`. Calls that name the same source,
    kind and unit are added up, and the largest difference stays. `worst` is a number, a space and its unit.
    """

    def record(source: str, count: int, worst: str, kind: str = "values") -> None:
        number, unit = worst.split(" ", 1)
        # A plain list travels from the workers of pytest-xdist with the report of the test.
        record_property(PROPERTY, [source, int(count), float(number), unit, kind])

    return record


@pytest.fixture
def mutual_moon(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> Type:
    """Types a command as a user does, in the folder `tmp_path`."""
    from pipeline.cli import run

    monkeypatch.chdir(tmp_path)

    def type_(*words: str) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["mutual-moon", *words])
        code = run()
        printed = capsys.readouterr()
        return code, printed.out, printed.err

    return type_


@pytest.fixture(scope="module")
def _plans() -> dict[tuple[str, bool], Any]:
    return {}


@pytest.fixture
def plans_made_once(_plans: dict[tuple[str, bool], Any], monkeypatch: pytest.MonkeyPatch) -> None:
    """A plan or a review of the very same inputs is made once a file of tests: each command would make it anew.

    That it comes out alike each time is what tests/hostile/test_same_bytes.py holds, in processes of their own.
    """
    from pipeline.plan import plan
    from pipeline.review import review

    for module, name in ((plan, "make_plan"), (review, "make_review")):
        monkeypatch.setattr(module, name, _once(_plans, name, getattr(module, name)))


def _once(known: dict[tuple[str, bool], Any], name: str, made: Callable[..., Any]) -> Callable[..., Any]:
    def once(*arguments: Any, **named: Any) -> Any:
        whole = named.pop("calendar", True)
        key = repr((name, [one for one in (*arguments, *named.values()) if not callable(one)]))
        # A whole plan serves those too that ask for none of the calendar's.
        if (key, True) in known:
            return known[key, True]
        if (key, whole) not in known:
            known[key, whole] = made(*arguments, **named) if whole else made(*arguments, **named, calendar=False)
        return known[key, whole]

    return once


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The longest files first, the others as they stand."""
    place = {Path(__file__).parent / name: number for number, name in enumerate(LONGEST)}
    items.sort(key=lambda item: place.get(item.path, len(place)))


def pytest_collection_finish() -> None:
    """From here on the collector looks at what the tests make, and not as often as for a program with little memory."""
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)
    gc.enable()


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> LoadFileScheduling:
    """The tests of one file stay in one process: they share plans and pages that take seconds to make.

    Files are begun as they are collected, not by how many tests they have.
    """
    config.option.loadscopereorder = False
    from xdist.scheduler import LoadFileScheduling

    return LoadFileScheduling(config, log)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """One line a source, in the order of their names."""
    found: dict[str, dict[tuple[str, str], tuple[int, float]]] = {}
    for report in terminalreporter.stats.get("passed", []):
        for name, value in getattr(report, "user_properties", ()):
            if name == PROPERTY and report.when == "call":
                source, count, number, unit, kind = value
                kinds = found.setdefault(source, {})
                before, largest = kinds.get((kind, unit), (0, 0.0))
                kinds[kind, unit] = before + count, max(largest, number)
    if not found:
        return
    terminalreporter.section("checked against the outside")
    for source in sorted(found, key=str.casefold):
        parts = [
            f"{count} {kind}, worst {number:.2g} {unit}" for (kind, unit), (count, number) in found[source].items()
        ]
        terminalreporter.write_line(f"{source}: {'; '.join(parts)}")
