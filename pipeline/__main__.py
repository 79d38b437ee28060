"""Starts the command line; `python -m pipeline` and `mutual-moon` both come here."""

from __future__ import annotations

import sys


def main() -> None:
    """Runs the command; whatever goes wrong inside is told in a sentence, never as a traceback."""
    from pipeline.cli import run

    sys.exit(run())


if __name__ == "__main__":
    main()
