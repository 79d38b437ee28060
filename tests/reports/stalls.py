"""A run of ours that comes to a page and stays there: `python -m tests.reports.stalls stall PAGES`.

STALL_WAY is how pages are made, `browser` or `weasyprint`: both are stand-ins that open the named pipe `alive` in
STALL_FOLDER, say one line into it and wait; whoever reads the pipe to its end knows that all of them are gone.
"""

from __future__ import annotations

import datetime as dt
import os
import signal
import sys
import tempfile
import time
from pathlib import Path

from pipeline.commands.common import app
from pipeline.reports import pdf
from pipeline.reports.rendering import Document, render_documents

BROWSER = "#!/bin/sh\nexec 3>{pipe}\nsleep 600 3>&3 &\necho here >&3\nwait\n"


def stay(html: str, *_: object) -> bytes:
    """In WeasyPrint's place."""
    with (Path(html) / "alive").open("w", encoding="utf-8") as pipe:
        print("here", file=pipe, flush=True)
        time.sleep(600)
    return b""


def set_up(way: str, folder: Path) -> None:
    """In the process that was started and, since it is imported there as well, in those that it starts."""
    tempfile.tempdir = str(folder / "temporary")
    if way == "browser":
        program = folder / "browser"
        if not program.exists():
            program.write_text(BROWSER.format(pipe=folder / "alive"), encoding="utf-8")
            program.chmod(0o755)
        engine = pdf.Engine("a browser", program)
    else:
        engine = pdf.Engine("WeasyPrint")
        pdf._laid_out = stay
    pdf.engine = lambda: engine  # type: ignore[assignment]


WAY, FOLDER = os.environ["STALL_WAY"], Path(os.environ["STALL_FOLDER"])
set_up(WAY, FOLDER)
# A shell that starts the tests in the background lets them ignore Ctrl-C, and whatever they start with them.
signal.signal(signal.SIGINT, signal.default_int_handler)


@app.command()
def stall(pages: int) -> None:
    """Makes so many pages."""
    one = Document(str(FOLDER), dt.date(2027, 3, 1), "0000", 1, "")
    render_documents({f"{page}.pdf": one for page in range(pages)}, FOLDER, workers=pages)


if __name__ == "__main__":
    from pipeline.__main__ import main

    sys.argv[0] = "mutual-moon"
    main()
