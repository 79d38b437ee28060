"""HTML to PDF by the browser that the machine has, where WeasyPrint's libraries do not load: same pages, no PDF/UA.

Edge, Chrome and Chromium print headless by their own command line (`--print-to-pdf`). Each print has a fresh profile,
no network and a bound in time; processes and folders are gone after it, however it ends.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from functools import cache
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import IO

from pipeline.reports import browser_watch, fonts
from pipeline.reports.browser_watch import NOT_STARTED, clear

# Names one browser by its program's path, before all usual places.
VARIABLE = "MUTUAL_MOON_BROWSER"
# Usual places and names: common practice, from memory.
WINDOWS_FOLDERS = ("ProgramFiles(x86)", "ProgramFiles", "LocalAppData")
WINDOWS_PROGRAMS = (
    r"Microsoft\Edge\Application\msedge.exe",
    r"Google\Chrome\Application\chrome.exe",
    r"Chromium\Application\chrome.exe",
)
MAC_PROGRAMS = ("Google Chrome", "Microsoft Edge", "Chromium")
PATH_NAMES = (
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "microsoft-edge",
    "microsoft-edge-stable",
    "msedge",
    "chrome",
)
# Far more than any page takes; a browser that says nothing for so long hangs.
BOUND_S = 120.0
# A folder of ours that is so old belongs to no print that still runs.
STALE_S = 3600.0
PREFIX = "mutual-moon-page-"
WATCH = Path(browser_watch.__file__)
SWITCHES = (
    "--headless=new",
    "--no-first-run",
    "--no-default-browser-check",
    "--disable-extensions",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-gpu",
    "--disable-breakpad",
    "--host-resolver-rules=MAP * ~NOTFOUND",
    "--no-pdf-header-footer",
    "--export-tagged-pdf",
    "--generate-pdf-document-outline",
)


class BrowserFailed(RuntimeError):
    """The browser wrote no PDF; the text is one sentence for the user."""


def places(platform: str, environment: Mapping[str, str]) -> list[str]:
    """Full paths at which a browser usually lies on this system: `platform` as sys.platform."""
    if platform == "win32":
        folders = [environment[name] for name in WINDOWS_FOLDERS if environment.get(name)]
        return [str(PureWindowsPath(folder, program)) for program in WINDOWS_PROGRAMS for folder in folders]
    if platform == "darwin":
        roots = ["/", *([environment["HOME"]] if environment.get("HOME") else [])]
        return [
            str(PurePosixPath(root, "Applications", f"{name}.app", "Contents", "MacOS", name))
            for name in MAC_PROGRAMS
            for root in roots
        ]
    return []


def find(platform: str = sys.platform, environment: Mapping[str, str] = os.environ) -> Path | None:
    """The browser to print with, or None. One named by the variable is taken or nothing is."""
    named = environment.get(VARIABLE)
    if named:
        return Path(named) if Path(named).is_file() else None
    for place in places(platform, environment):
        if Path(place).is_file():
            return Path(place)
    found = (shutil.which(name, path=environment.get("PATH", "")) for name in PATH_NAMES)
    return next((Path(program) for program in found if program), None)


@cache
def version_of(program: Path) -> str:
    """The browser's version in its own words; on Windows, where asking opens a window, that of its folder."""
    if sys.platform == "win32":
        numbers = [entry.name for entry in program.parent.iterdir() if re.fullmatch(r"\d+(\.\d+){3}", entry.name)]
        return f"{program.stem} {' '.join(sorted(numbers))}".strip()
    try:
        with (
            tempfile.TemporaryDirectory(prefix=PREFIX) as folder,
            tempfile.TemporaryFile() as answer,
            _running([str(program), "--version"], answer, Path(folder)) as process,
        ):
            process.wait(BOUND_S)
            answer.seek(0)
            said = answer.read()
    except (OSError, subprocess.TimeoutExpired):
        return program.stem
    # Some builds add where they run; the name and the number suffice.
    found = re.search(rb"[A-Z][A-Za-z ]*\d+(\.\d+)+", said)
    return found[0].decode() if found else program.stem


def printable(html: str) -> str:
    """The page as the browser is to see it.

    Browsers know no `bookmark-level` and put every heading into the outline: those that the stylesheet keeps out become
    paragraphs of the same look; a second heading of the class `kept` stays. OpenType outlines would be drawn as Type 3:
    the same fonts stand there as TrueType.
    """
    html = html.replace(fonts.faces_by_file(), fonts.faces_by_file("ttf"))
    html = re.sub(r'<h1 class="again">(.*?)</h1>', r'<p class="again">\1</p>', html, flags=re.DOTALL)
    return re.sub(r'<h2(?: class="(?!kept")([^"]*)")?>(.*?)</h2>', _as_paragraph, html, flags=re.DOTALL)


def _as_paragraph(heading: re.Match[str]) -> str:
    """A second heading as a paragraph of its look."""
    classes = f"h2 {heading[1]}" if heading[1] else "h2"
    return f'<p class="{classes}">{heading[2]}</p>'


def print_page(html: str, program: Path, bound_s: float = BOUND_S) -> bytes:
    """The PDF of one HTML page. Raises BrowserFailed where none is written within `bound_s` seconds."""
    _sweep()
    folder = Path(tempfile.mkdtemp(prefix=PREFIX))
    try:
        page, target = folder / "page.html", folder / "page.pdf"
        page.write_text(printable(html), encoding="utf-8")
        command = [str(program), *SWITCHES, f"--user-data-dir={folder / 'profile'}", f"--print-to-pdf={target}"]
        if hasattr(os, "geteuid") and os.geteuid() == 0:
            # The sandbox refuses to start for root.
            command.append("--no-sandbox")
        try:
            with _running([*command, page.as_uri()], subprocess.DEVNULL, folder) as process:
                code = process.wait(timeout=bound_s)
                said = process.stderr.read().decode(errors="replace").strip() if process.stderr else ""
        except subprocess.TimeoutExpired as late:
            raise BrowserFailed(f"the browser {program} printed nothing within {bound_s:g} seconds") from late
        if code == NOT_STARTED and said:
            raise BrowserFailed(f"the browser {program} does not start: {said}")
        if not target.is_file() or not (content := target.read_bytes()).startswith(b"%PDF"):
            raise BrowserFailed(f"the browser {program} ended with code {code} and printed nothing")
        return content
    finally:
        clear(folder)


@contextmanager
def _running(command: list[str], stdout: int | IO[bytes], folder: Path) -> Iterator[subprocess.Popen[bytes]]:
    """A program under watch: it ends with all that it started when the block is left, and when this process is killed.

    In the second case `folder` goes too.
    """
    windows = sys.platform == "win32"
    process = subprocess.Popen(
        [sys.executable, "-I", "-S", str(WATCH), str(folder), *command],
        stdin=subprocess.PIPE,
        stdout=stdout,
        stderr=subprocess.PIPE,
        # Ctrl-C is ours to answer.
        start_new_session=not windows,
        creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
    )
    try:
        yield process
    finally:
        for stream in (process.stdin, process.stderr):
            if stream is not None:
                stream.close()
        process.wait()


def _sweep() -> None:
    """Removes what a print left that could not end in order, long after the bound of any."""
    for folder in Path(tempfile.gettempdir()).glob(f"{PREFIX}*"):
        with suppress(OSError):
            if time.time() - folder.stat().st_mtime > STALE_S:
                shutil.rmtree(folder, ignore_errors=True)


# What the browser writes down of pages and outline stands in the file as plain dictionaries, one object after another.
MEDIA_BOX = re.compile(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]")
OUTLINE_ENTRY = re.compile(rb"<<[^<>]*/Title (\((?:\\.|[^\\)])*\)|<[0-9A-Fa-f]*>)[^<>]*/Parent", re.DOTALL)


def page_sizes(content: bytes) -> list[tuple[float, float]]:
    """Width and height of each page, points."""
    return [(float(width), float(height)) for width, height in MEDIA_BOX.findall(content)]


def outline(content: bytes) -> list[str]:
    """The titles of the outline in the file's order."""
    return [_text(found) for found in OUTLINE_ENTRY.findall(content)]


def _text(string: bytes) -> str:
    """A text string of ISO 32000-1, 7.9.2: UTF-16 with its mark, else one byte a letter."""
    if string.startswith(b"<"):
        raw = bytes.fromhex(string[1:-1].decode())
    else:
        raw = re.sub(
            rb"\\([0-7]{1,3}|.)",
            lambda found: bytes([int(found[1], 8)]) if found[1].isdigit() else found[1],
            string[1:-1],
            flags=re.DOTALL,
        )
    return raw[2:].decode("utf-16-be") if raw.startswith(b"\xfe\xff") else raw.decode("latin-1")
