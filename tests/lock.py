"""Writes what bootstrap.py installs anew from pyproject.toml: `python3 pipeline/bootstrap.py lock [UV ARGUMENTS]`.

One resolution for Linux, Windows and Mac and every Python that pyproject.toml allows, each file with its hash. What is
locked already stays where pyproject.toml still allows it; `lock --upgrade` takes the newest of everything.
"""

from __future__ import annotations

import subprocess
import sys
import tomllib
from collections.abc import Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
TESTS, RUN = Path(".lock/tests.txt"), Path(".lock/run.txt")


def oldest_python() -> str:
    """The oldest Python of pyproject.toml, e.g. '3.11'."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return str(project["requires-python"]).removeprefix(">=")


def commands(arguments: Sequence[str]) -> list[list[str]]:
    """The lock of everything first; the one of the program alone takes the same versions."""
    # uv would fetch interpreters of its own; the name of an index may hold a password.
    uv = [sys.executable, "-m", "uv", "--no-config", "--no-python-downloads", "pip", "compile", "--quiet"]
    uv += [
        "--universal",
        "--generate-hashes",
        "--no-header",
        "--no-annotate",
        "--no-emit-index-url",
        "--no-emit-find-links",
    ]
    uv += ["--python", sys.executable, "--python-version", oldest_python(), "--group", "setup", *arguments]
    return [
        [*uv, "pyproject.toml", "--all-extras", "--output-file", str(TESTS)],
        [*uv, "pyproject.toml", "--constraints", str(TESTS), "--output-file", str(RUN)],
    ]


def main(arguments: Sequence[str]) -> int:
    (ROOT / TESTS).parent.mkdir(exist_ok=True)
    for command in commands(arguments):
        if code := subprocess.call(command, cwd=ROOT, stdout=subprocess.DEVNULL):
            return code
    print(f"Written: {TESTS}, {RUN}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
