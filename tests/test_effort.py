"""No test is held against the clock on the wall, which runs on while a busy machine does something else."""

from __future__ import annotations

import ast
import re
import time
from pathlib import Path

import numpy as np
import pytest

from tests.conftest import LONGEST
from tests.effort import counted

TESTS = Path(__file__).parent
# Run by hand: these measure, and wait for processes.
BY_HAND = {"bench", "soak", "fresh.py"}
FILES = sorted(path for path in TESTS.rglob("*.py") if not BY_HAND & set(path.relative_to(TESTS).parts))
CLOCKS = ("time", "perf_counter", "monotonic")


def wall_clocks(source: str) -> list[int]:
    """The lines that read one of the module time's wall clocks, in seconds or in nanoseconds."""
    names = {f"{name}{end}" for name in CLOCKS for end in ("", "_ns")}
    lines = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id == "time":
            lines += [node.lineno] if node.attr in names else []
        if isinstance(node, ast.ImportFrom) and node.module == "time":
            lines += [node.lineno for alias in node.names if alias.name in names]
    return sorted(lines)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.relative_to(TESTS).as_posix())
def test_no_test_reads_a_wall_clock(path: Path) -> None:
    assert wall_clocks(path.read_text(encoding="utf-8")) == []


def test_the_longest_files_are_begun_first(request: pytest.FixtureRequest) -> None:
    """Those that are named are there; of what is collected now none of them stands behind another file."""
    assert [name for name in LONGEST if not (TESTS / name).is_file()] == []
    first = [item.path in {TESTS / name for name in LONGEST} for item in request.session.items]
    assert first == sorted(first, reverse=True)


def test_products_of_matrices_take_one_thread() -> None:
    """Threads that wait for each other burn processor time that no other thread of ours has used."""
    matrix = np.ones((800, 800))
    whole, mine = time.process_time(), time.thread_time()
    for _ in range(5):
        matrix @ matrix
    assert time.process_time() - whole < 1.3 * (time.thread_time() - mine)


def test_wall_clocks_are_found() -> None:
    assert wall_clocks("import time\nbegan = time.perf_counter()\n\nassert time.time_ns() > began\n") == [2, 4]
    assert wall_clocks("from time import monotonic, sleep") == [1]
    assert wall_clocks("import time\ntime.thread_time()\ntime.sleep(1)") == []


def test_effort_is_the_same_however_long_it_takes() -> None:
    """A pause adds its one call and no time; a loop adds its calls, a search inside C its time."""
    with counted() as none:
        pass
    with counted() as pause:
        time.sleep(0.2)
    assert pause.calls - none.calls == 1
    assert pause.processor_s < 0.1
    with counted() as loop:
        for _ in range(1000):
            len("")
    assert loop.calls - none.calls == 1000
    with counted() as search:
        re.search("(a|aa)*b", "a" * 26)
    assert search.processor_s > 10.0 * pause.processor_s
