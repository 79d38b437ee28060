"""Starts the command line; `python -m pipeline` and `mutual-moon` both come here."""

from __future__ import annotations

import io
import sys


def main() -> None:
    """Runs the command; whatever goes wrong inside is told in a sentence, never as a traceback."""
    # A terminal of an old code page shows a question mark for a dash that it does not have.
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    try:
        from pipeline.cli import run

        code = run()
    except KeyboardInterrupt:
        # Also while libraries load, before any command can answer it.
        print("stopped", file=sys.stderr)
        code = 130
    sys.exit(code)


if __name__ == "__main__":
    main()
