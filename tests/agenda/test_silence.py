"""Remarks of a C library inside the solver never stand between our lines: a JSON on standard output stays one."""

import subprocess
import sys

import pytest

PROGRAM = """
import ctypes, sys
from contextlib import nullcontext
from pipeline.agenda.silence import silent_solver
libc = ctypes.CDLL("ucrtbase" if sys.platform == "win32" else None)
print("before")
with {context}:
    libc.printf(b"%s", b"a remark of the solver\\n")
print("after")
"""


@pytest.mark.parametrize(
    ("context", "told"),
    [("silent_solver()", ["after", "before"]), ("nullcontext()", ["a remark of the solver", "after", "before"])],
)
def test_what_c_prints_inside_is_lost_and_what_python_prints_is_not(context: str, told: list[str]) -> None:
    """Without it the remark does come, so that the case above is a case."""
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM.format(context=context)], capture_output=True, text=True, check=True
    )
    assert sorted(done.stdout.split("\n")[:-1]) == told
    assert done.stderr == ""


def test_without_standard_output_nothing_fails() -> None:
    program = "import os; os.close(1)\nfrom pipeline.agenda.silence import silent_solver\nwith silent_solver(): pass"
    subprocess.run([sys.executable, "-c", program], check=True)
