"""Files beside the stations that nobody reads because of their names, and the names to give them.

What a file is, is told by its first line of `call` or `home`, as the reader tells it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

SUFFIXES = (".yaml", ".yml")
# Never a station by mistake, or read by something else.
OTHERS = (".csv", ".eml", ".ics", ".adi", ".adx", ".jinja", ".pdf", ".bsp", ".log", ".html", ".jsonl", ".json")
WORD_PROCESSORS = (".docx", ".doc", ".rtf", ".odt", ".pages")
BACKUPS = (".bak", ".old", ".orig", ".save", ".swp", ".tmp", "~")
KIND = re.compile(r"^\ufeff?(call|home)[ \t]*[:=][ \t]*['\"]?([A-Za-z0-9/-]*)", re.MULTILINE)
COPY = re.compile(
    r"(?i)( \(\d+\)|[ _-]+(copy|kopie|copia|copie)( ?\(?\d+\)?)?|^(copy of|kopie von|copia de|copie de) .*)$"
)
LARGEST = 100_000


@dataclass(frozen=True)
class Unread:
    """A file that is a station (`call`) or a season (`home`) and is not read; `better` is the name to give it."""

    path: Path
    kind: str
    call: str
    better: str

    @property
    def advice(self) -> str:
        """What is wrong with the name and what to do, as a clause."""
        if self.path.parent.name and self.better == self.path.name:
            return "files in a folder below are not read; move it up"
        return f"only names that end in .yaml are read; rename it to {self.better}"


def unread_files(folder: Path) -> list[Unread]:
    """Stations and seasons of a folder, and of folders in it, whose names keep them from being read."""
    found = []
    try:
        entries = sorted(folder.iterdir())
    except OSError:
        return []
    for path in entries:
        if path.name.startswith(".") or path.name == "record":
            continue
        if path.is_dir():
            found += [one for below in _files(path) if (one := _station_below(below))]
        elif path.suffix.lower() not in SUFFIXES and (one := _misnamed(path)):
            found.append(one)
    return found


def is_copy(name: str) -> bool:
    """Whether a file's name, without its ending, is one that a file manager gives a copy."""
    return COPY.search(name) is not None


def _files(folder: Path) -> list[Path]:
    try:
        return sorted(path for path in folder.iterdir() if path.suffix.lower() in SUFFIXES)
    except OSError:
        return []


def _station_below(path: Path) -> Unread | None:
    kind, call = _kind(path)
    return Unread(path, kind, call, path.name) if kind == "call" else None


def _misnamed(path: Path) -> Unread | None:
    suffix = path.suffix.lower()
    if suffix in OTHERS or suffix in WORD_PROCESSORS or not path.is_file():
        return None
    stem = path.name.split(".")[0].rstrip("~")
    better = f"{stem}.yaml"
    beside = any(path.with_name(stem + ending).exists() for ending in SUFFIXES)
    if beside and path.name.lower().endswith(BACKUPS):
        return None
    kind, call = _kind(path)
    return Unread(path, kind, call, better) if kind else None


def _kind(path: Path) -> tuple[str, str]:
    """`call` or `home` and what stands behind it; two empty texts where it is neither."""
    try:
        if path.stat().st_size > LARGEST:
            return "", ""
        text = path.read_bytes().decode("utf-8", "replace")
    except OSError:
        return "", ""
    found = KIND.search(text)
    return (found[1], found[2].upper()) if found else ("", "")
