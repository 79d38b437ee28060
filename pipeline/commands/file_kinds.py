"""What a file or a folder is, by its name and first bytes: a station's file, a table, a log, mail, or none of these."""

from __future__ import annotations

import re
from pathlib import Path

STATION, SEASON, ROSTER, CARD, SKYLINE, LOG, MAIL, CALENDAR = (
    "station", "season", "roster", "card", "skyline", "log", "mail", "calendar",
)  # fmt: skip
PDF, WORKBOOK, PICTURE, ARCHIVE, DOCUMENT, PAGE, CLOSED_MAIL = (
    "pdf", "workbook", "picture", "archive", "document", "page", "closed_mail",
)  # fmt: skip
STATIONS, LOGS, MAILS, LETTERS, TABLES, FOLDER, UNKNOWN = (
    "stations", "logs", "mails", "letters", "tables", "folder", "",
)  # fmt: skip
# What each command that reads files takes; `import` itself tells how a workbook becomes a table.
FITTING = {
    "import": (ROSTER, WORKBOOK),
    "survey": (CARD,),
    "review": (LOG,),
    "replies": (MAIL, CALENDAR, MAILS, FOLDER, TABLES),
}
LOOKED_AT_BYTES = 4096
MOST_LOOKED_AT = 200
PACKED = {
    **dict.fromkeys((".xlsx", ".xlsm", ".ods", ".numbers"), WORKBOOK),
    **dict.fromkeys((".docx", ".odt", ".pages", ".pptx"), DOCUMENT),
}
COMPOUND = {".doc": DOCUMENT, ".msg": CLOSED_MAIL}
STARTS = (
    (b"%PDF", PDF),
    (b"\xff\xd8\xff", PICTURE),
    (b"\x89PNG", PICTURE),
    (b"GIF8", PICTURE),
    (b"\x1f\x8b", ARCHIVE),
    (b"7z\xbc\xaf", ARCHIVE),
    (b"Rar!", ARCHIVE),
    (b"{\\rtf", DOCUMENT),
    (b"From ", MAIL),
)
HEADER = re.compile(r"(?:From|Received|Return-Path|Delivered-To|MIME-Version|Message-ID): ?\S", re.IGNORECASE)
ADIF = re.compile(r"<(?:eoh|eor|(?:call|qso_date|time_on|adif_ver):\d+(?::\w)?)>", re.IGNORECASE)
ADX = re.compile(r"<ADX\b", re.IGNORECASE)


def suits(command: str, path: Path) -> bool:
    """Whether a command takes a file, as far as its first bytes tell."""
    kind = kind_of(path)
    return command not in FITTING or kind == UNKNOWN or kind in FITTING[command]


def kind_of(path: Path) -> str:
    """Which of the kinds above; UNKNOWN where nothing tells, or nothing can be read."""
    try:
        if path.is_dir():
            return _of_folder(path)
        with path.open("rb") as file:
            return _of_bytes(file.read(LOOKED_AT_BYTES), path.suffix.lower())
    except (OSError, ValueError):
        return UNKNOWN


def call_in(path: Path) -> str:
    """The call that a station's file begins with; empty where it has none."""
    try:
        found = re.search(r"(?m)^call:\s*[\"']?([A-Za-z0-9/]+)", path.read_text("utf-8", "replace")[:LOOKED_AT_BYTES])
    except OSError:
        return ""
    return found[1].upper() if found else ""


def _of_bytes(start: bytes, suffix: str) -> str:
    if start.startswith(b"PK\x03\x04"):
        return PACKED.get(suffix, ARCHIVE)
    if start.startswith(b"\xd0\xcf\x11\xe0"):
        return COMPOUND.get(suffix, WORKBOOK)
    if start[4:8] == b"ftyp":
        return PICTURE
    if known := next((kind for begin, kind in STARTS if start.startswith(begin)), ""):
        return known
    text = start.decode("utf-8-sig", "replace").replace("\0", "")
    return _of_text(text.lstrip(), suffix)


def _of_text(text: str, suffix: str) -> str:
    if suffix in (".yaml", ".yml"):
        return SEASON if re.search(r"(?m)^home:", text) else STATION if re.search(r"(?m)^call:", text) else UNKNOWN
    if re.search(r"(?m)^call: ?\S", text) and re.search(r"(?m)^position:", text):
        return STATION
    if text.startswith("BEGIN:VCALENDAR"):
        return CALENDAR
    if suffix in (".adi", ".adx") or ADIF.search(text) or ADX.search(text):
        return LOG
    if re.match(r"(?i)<!doctype html|<html", text):
        return PAGE
    if suffix in (".eml", ".mbox") or HEADER.match(text):
        return MAIL
    return _of_columns(
        {re.sub(r'[" ]', "", one).casefold() for one in re.split("[,;\t]", text.partition("\n")[0].strip())}
    )


def _of_columns(columns: set[str]) -> str:
    """What a table is, by the columns of its first line."""
    if {"azimuth_deg", "measured_elevation_deg"} <= columns:
        return CARD
    if {"slot_start_utc", "report_sent"} <= columns:
        return LOG
    if "call" in columns and any(one.split(".")[0] in ("position", "locator", "bands") for one in columns):
        return ROSTER
    return SKYLINE if columns == {"azimuth_deg", "elevation_deg"} else UNKNOWN


def _of_folder(path: Path) -> str:
    inside = sorted(path.iterdir())[:MOST_LOOKED_AT]
    names = {one.name for one in inside}
    if {"cur", "new"} <= names:
        return MAILS
    if "letter.eml" in names or any((one / "letter.eml").is_file() for one in inside):
        return LETTERS
    suffixes = {one.suffix.lower() for one in inside}
    if suffixes & {".yaml", ".yml"}:
        return STATIONS
    if suffixes & {".eml", ".mbox", ".ics"}:
        return MAILS
    if logs_in(path):
        return LOGS
    return TABLES if ".csv" in suffixes else FOLDER


def logs_in(path: Path) -> list[Path]:
    """The logs in a folder, and those of the nights below it."""
    found = [one for one in sorted(path.iterdir())[:MOST_LOOKED_AT] if one.suffix.lower() in (".adi", ".adx")]
    own = [path / "log.csv"] if (path / "log.csv").is_file() else []
    below = [*path.glob("*/log.csv"), *path.glob("nights/*/log.csv"), *path.glob("*/nights/*/log.csv")]
    return [*own, *found, *sorted(set(below))[:MOST_LOOKED_AT]]
