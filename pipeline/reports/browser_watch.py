"""Runs one browser beside the process that wants a page, and outlives that one just long enough to end it.

A program of its own, `browser_watch.py FOLDER COMMAND...`, of the standard library alone. Its standard input is held by
the one that started it: that it ends, by a close or because that process was killed, ends the browser and its folder.
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import threading
import time
from contextlib import suppress
from pathlib import Path

NOT_STARTED = 126


def end(process: subprocess.Popen[bytes]) -> None:
    """Ends a program with all that it started: its process group, on Windows its tree."""
    if sys.platform == "win32":
        if process.poll() is None:
            quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
            subprocess.run(["taskkill", "/T", "/F", "/PID", str(process.pid)], check=False, **quiet)
    else:
        # The group outlives its first process as long as a child is left in it.
        with suppress(ProcessLookupError, PermissionError):
            os.killpg(process.pid, signal.SIGKILL)
    process.wait()


def clear(folder: Path) -> None:
    """Removes the folder; a process that is just ending may still write into it, so that one try is not enough."""
    for _ in range(20):
        shutil.rmtree(folder, ignore_errors=True)
        if not folder.exists():
            return
        time.sleep(0.1)


def main(folder: Path, command: list[str]) -> int:
    """The browser's exit code, or NOT_STARTED after one line on the error stream."""
    try:
        process = subprocess.Popen(
            command,
            stdin=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=sys.platform != "win32",
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        )
    except OSError as error:
        print(error.strerror or error, file=sys.stderr)
        return NOT_STARTED

    alone = threading.Event()

    def watch() -> None:
        # Not through a buffer, whose lock this thread would still hold when the program ends.
        while os.read(0, 4096):
            pass
        alone.set()
        end(process)
        clear(folder)
        os._exit(1)

    watcher = threading.Thread(target=watch, daemon=True)
    watcher.start()
    code = process.wait()
    if alone.is_set():
        watcher.join()
    end(process)
    return code


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), sys.argv[2:]))
