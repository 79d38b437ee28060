"""Starts the command line; `python -m pipeline` and `mutual-moon` both come here."""

from __future__ import annotations

import gc
import sys

# So many things are made before unused cycles are looked for: a command ends within seconds, its arrays make none, and
# the looking takes a twentieth of them.
COLLECT_AFTER = 500_000


def main() -> None:
    """Runs the command; whatever goes wrong inside is told in a sentence, never as a traceback."""
    gc.set_threshold(COLLECT_AFTER)
    try:
        from pipeline.commands.console import show_what_can_be_shown

        show_what_can_be_shown(sys.stdout, sys.stderr)
        from pipeline.cli import run

        code = run()
    except KeyboardInterrupt:
        # Also while libraries load, before any command can answer it.
        print("stopped", file=sys.stderr)
        code = 130
    # Nor does it look through all that it has made on its way out, which takes a tenth of a plan.
    gc.freeze()
    sys.exit(code)


if __name__ == "__main__":
    main()
