"""What continuous integration runs, `python3 pipeline/bootstrap.py test [PYTEST ARGUMENTS]`: ruff, mypy, then pytest.

The closing line of pytest comes last; the exit code is not 0 where any of the three finds a fault.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Sequence


def main(arguments: Sequence[str]) -> int:
    tools = [tool for tool in ("ruff check .", "mypy") if subprocess.call([sys.executable, "-m", *tool.split()])]
    code = subprocess.call([sys.executable, "-m", "pytest", "-n", "auto", *arguments])
    if tools:
        print(f"Faults found further up by: {', '.join(tools)}.", file=sys.stderr, flush=True)
    return code or len(tools)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
