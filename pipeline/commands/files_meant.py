"""Files and folders that a command is given and does not take: what each is, and the line for it.

Names that are no file, where a log or a folder is meant, are read as the night or the partner that they name.
"""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from pathlib import Path

from pipeline.commands import file_kinds as files
from pipeline.commands import typed_words as kinds
from pipeline.commands.at_hand import AtHand
from pipeline.commands.common import DEFAULT_SEASON
from pipeline.commands.file_kinds import FITTING, call_in, kind_of, suits
from pipeline.commands.lines import in_turn, line, message
from pipeline.commands.options_meant import Command
from pipeline.inputs.moments_said import DATE, said_in

MOST_LINES = 6
LAST = ("last", "latest", "newest", "letzte", "letzter", "dernier", "dernière", "último", "última", "ultimo", "sista")
TAKES = {
    "import": "a table of stations (CSV)",
    "survey": "the table of its card",
    "review": "logs, in ADIF or the log.csv of a night",
    "replies": "a folder of mails, or one mail",
}
WORDS = {
    files.ROSTER: "is a table of stations",
    files.CARD: "is the table of a survey card",
    files.LOG: "is a log",
    files.LOGS: "is a folder of logs",
    files.MAIL: "is mail",
    files.MAILS: "is a folder of mails",
    files.CALENDAR: "is a calendar",
    files.PDF: "is a PDF",
    files.WORKBOOK: "is a workbook",
    files.PICTURE: "is a picture",
    files.ARCHIVE: "is an archive",
    files.DOCUMENT: "is a document of an office program",
    files.PAGE: "is a web page",
    files.CLOSED_MAIL: "is a mail in a form that is not read here",
    files.STATIONS: "is a folder of station files",
    files.LETTERS: "holds letters that go out",
    files.TABLES: "is a folder",
    files.FOLDER: "is a folder",
}
GOES_TO = {
    files.ROSTER: "import",
    files.CARD: "survey",
    files.LOG: "review",
    files.MAIL: "replies",
    files.MAILS: "replies",
    files.CALENDAR: "replies",
}


def file_answer(command: Command, words: Sequence[str], options: Sequence[str], at_hand: AtHand) -> str:
    """What to tell of arguments that are files of another kind, or several of one; empty where they are taken."""
    paths = [Path(word) for word in words if Path(word).exists()]
    if command.name in ("check", "add", "need", "explain", "answer", "propose"):
        if command.name == "answer" and (mails := [one for one in paths if kind_of(one) == files.MAIL]):
            return in_turn("mail is read by replies; write", [line("replies", one.as_posix()) for one in mails])
        strange = [one for one in paths if _is_strange(one, at_hand)]
        return _of_own_file(strange[0], command.name, at_hand) if strange else ""
    if command.name not in FITTING:
        return ""
    if command.name == "survey" and not paths:
        told_by = [Path(one) for at, one in enumerate(options) if at and options[at - 1] == "--heights"]
        paths = [one for one in told_by if one.is_file()]
        if paths and suits("survey", paths[0]) and kind_of(paths[0]) == files.CARD:
            return f"a card stands without an option; write\n  {line('survey', paths[0].as_posix())}"
    if not paths:
        return _no_file(command.name, list(words), options, at_hand)
    odd = [one for one in paths if not suits(command.name, one) and not _is_season_named(one, command.name, paths)]
    fitting = [one for one in paths if one not in odd]
    if odd and fitting and command.name == "review":
        told = f"{', '.join(one.as_posix() for one in odd)} {'are' if odd[1:] else 'is'} no log"
        made = line("review", *(one.as_posix() for one in fitting), *options)
        return f"{told}, and review takes {TAKES['review']}; write\n  {made}"
    if odd:
        return _odd(odd[0], command.name, [one for one in odd if kind_of(one) == kind_of(odd[0])], at_hand)
    if len(paths) > 1 and command.name != kinds.MANY[1]:
        return _several(command.name, paths, options)
    return ""


def _is_strange(path: Path, at_hand: AtHand) -> bool:
    """Whether a file is a station's that the season does not hold, or a season."""
    kind = kind_of(path)
    return kind == files.SEASON or (kind == files.STATION and not at_hand.call_of(str(path)))


def _is_season_named(path: Path, command: str, paths: Sequence[Path]) -> bool:
    """Whether a folder of stations stands beside what the command takes: the season, without its option."""
    is_season = kind_of(path) in (files.STATIONS, files.SEASON)
    return is_season and len(paths) > 1 and any(suits(command, one) for one in paths)


def _odd(path: Path, name: str, alike: Sequence[Path], at_hand: AtHand) -> str:
    """One answer for files that are no ones of the command."""
    kind, takes = kind_of(path), f"{name} takes {TAKES[name]}"
    if kind == files.STATION and len(alike) > 1:
        shown = " ".join(f'"{one.as_posix()}"' if " " in one.as_posix() else one.as_posix() for one in alike)
        move = "move" if os.name == "nt" else "mv"
        told = f"{shown} are station files already, and {takes}; move them to the others"
        return f"{told}\n  {move} {shown} {at_hand.file.parent.as_posix()}/\n  {line('check')}"
    if kind in (files.STATION, files.SEASON, files.STATIONS):
        return _of_own_file(path, name, at_hand)
    told = f"{path.as_posix()} {WORDS.get(kind, 'is another kind of file')}, and {takes}"
    if kind == files.SKYLINE:
        told = (
            f"{path.as_posix()} is a skyline, and {takes}; a station's file names it: `horizon: {{file: {path.name}}}`"
        )
        return f"{told}; then\n  {line('check')}"
    if twin := _twin(path, name):
        return f"{told}; {twin.as_posix()} beside it is one; write\n  {line(name, twin.as_posix())}"
    if path.is_dir() and (kind == files.LOGS or name == "review") and (logs := files.logs_in(path)[:MOST_LINES]):
        return in_turn(f"{told}; its logs are read so", [line("review", *(one.as_posix() for one in logs))])
    if kind in GOES_TO:
        several = [one.as_posix() for one in alike]
        lines = [line("review", *several)] if kind == files.LOG else [line(GOES_TO[kind], one) for one in several]
        return in_turn(f"{told}; write", lines[:MOST_LINES])
    return _unread(path, kind, name, told, at_hand)


def _twin(path: Path, name: str) -> Path | None:
    """The file beside one, by its name, that the command takes; in a folder the one that is there."""
    if path.is_dir():
        inside = [one for one in sorted(path.glob("*.csv"))[:MOST_LINES] if kind_of(one) in FITTING[name]]
        return inside[0] if len(inside) == 1 else None
    same = [path.with_suffix(one) for one in (".csv", ".adi", ".eml")]
    return next((one for one in same if one.is_file() and kind_of(one) in FITTING[name]), None)


def _unread(path: Path, kind: str, name: str, told: str, at_hand: AtHand) -> str:
    """What to do with a file that nothing here reads."""
    partner = next(iter(at_hand.partners), "QF4LUM")
    if kind == files.ARCHIVE:
        return f"{told}; unpack it, and give what was in it"
    if kind == files.WORKBOOK and name != "replies":
        made = path.with_suffix(".csv").as_posix()
        return f"{told}; save it in the spreadsheet as CSV with the encoding UTF-8, then\n  {line(name, made)}"
    if kind == files.LETTERS and name == "replies":
        return f"{told}; save what came back in a folder of its own, for instance\n  {line('replies', 'mails')}"
    if kind == files.TABLES and name == "import":
        tables = [one.as_posix() for one in sorted(path.glob("*.csv"))[:MOST_LINES]]
        return in_turn(f"{told}; one table at a time", [line("import", one) for one in tables])
    if path.is_dir():
        return f"{told}; there is none in it"
    ways = {
        "import": ("what one knows of a station is typed so", line("add", "CALL", "--help")),
        "survey": ("heights are typed so", line("survey", "--heights", "300=6,305=7.5")),
        "review": ("the program that made it exports ADIF; then", line("review", path.with_suffix(".adi").as_posix())),
        "replies": ("what somebody answered is noted so", line("answer", partner, "A=yes")),
    }
    if kind == files.CLOSED_MAIL and name == "replies":
        return f"{told}; save it as .eml, then\n  {line('replies', path.with_suffix('.eml').as_posix())}"
    return f"{told}; {ways[name][0]}\n  {ways[name][1]}"


def _of_own_file(path: Path, name: str, at_hand: AtHand) -> str:
    """What to do with a station's file, a season's, or a folder of them, that a command was given."""
    folder, shown = at_hand.file.parent, path.as_posix()
    named = () if at_hand.file == DEFAULT_SEASON else ("--season", at_hand.file.as_posix())
    takes = f", and {name} takes {TAKES[name]}" if name in TAKES else ""
    kind = kind_of(path)
    if kind != files.STATION:
        season = path / "season.yaml" if path.is_dir() else path
        other = () if _same(season, at_hand.file) else ("--season", season.as_posix())
        what = "is the file of a season" if kind == files.SEASON else WORDS[kind]
        verb = "survey" if name == "survey" else "check"
        aim = "for a new card" if name == "survey" else "to look at its stations"
        return f"{shown} {what}{takes}; {aim}\n  {line(verb, *(other or named))}"
    call = call_in(path)
    if _same(path.parent, folder):
        partner = () if call in ("", at_hand.home) else ("--station", call)
        made = line("survey", *partner, *named) if name == "survey" else line("check", call, *named)
        aim = "for a card" if name == "survey" else "to look at it"
        return f"{shown} is the file of a station, {call}{takes}; {aim}\n  {made}"
    told = f"{shown} is the file of a station already{f', {call}' * bool(call)}{takes}"
    if call in (at_hand.home, *at_hand.partners):
        there = at_hand.file_of(call).as_posix()
        return f"{told}; {there} is that of {call}: keep one of the two there, then\n  {line('check', call, *named)}"
    move = "move" if os.name == "nt" else "mv"
    quoted = f'"{shown}"' if " " in shown else shown
    listed = at_hand.inputs is not None and at_hand.inputs.season.partners is not None
    goal = f"{folder.as_posix()}/{'' if path.suffix.lower() in ('.yaml', '.yml') else f'{path.stem}.yaml'}"
    more = f"; add `- {{call: {call}}}` to partners in {at_hand.file.as_posix()}" if listed and call else ""
    return f"{told}; move it to the others{more}\n  {move} {quoted} {goal}\n  {line('check', call, *named)}"


def _same(one: Path, other: Path) -> bool:
    try:
        return one.resolve() == other.resolve()
    except OSError:
        return False


def _several(name: str, paths: Sequence[Path], options: Sequence[str]) -> str:
    """Several files of a command that takes one: a line each; mails by the folders in which they lie."""
    paths = [one for one in paths if kind_of(one) not in (files.STATIONS, files.SEASON)]
    if len(paths) < 2:
        return ""
    if name == "replies" and all(one.is_file() for one in paths):
        folders = list(dict.fromkeys(one.parent.as_posix() for one in paths))
        if folders != ["."]:
            told = (
                f"replies takes the folder in which the mails lie, not each of them{'' if folders[1:] else '; write'}"
            )
            return in_turn(told, [line(name, one, *options) for one in folders[:MOST_LINES]])
    lines = [line(name, one.as_posix(), *options) for one in paths[:MOST_LINES]]
    return in_turn(f"{name} takes one {'mail or folder' if name == 'replies' else 'table'} at a time", lines)


def _no_file(name: str, words: Sequence[str], options: Sequence[str], at_hand: AtHand) -> str:
    """An address, names with a star, a night or a partner, where a file or folder is wanted."""
    if web := next((word for word in words if re.match(r"(?i)(https?|ftp)://", word)), ""):
        made = Path(web.partition("?")[0]).name or "file"
        return f"{web} is an address, and nothing is fetched; save the file, then\n  {line(name, made, *options)}"
    if starred := next((Path(word) for word in words if "*" in word and Path(word).parent.is_dir()), None):
        return _starred(starred, name, options)
    called = next((call for word in words if (call := _call(word, at_hand))), "")
    if name == "review" and words and not any(Path(word).suffix and word[-1].isalpha() for word in words):
        return _of_nights(words, called, options, at_hand)
    if name == "replies" and called and not re.search("[/\\\\]", words[0]):
        kept = [one for one in options if one not in ("--yes", "--all")]
        told = f"replies takes {TAKES[name]}; what {called} answered is noted by hand, for instance"
        return f"{told}\n  {line('answer', called, 'A=yes', *kept)}"
    return ""


def _starred(path: Path, name: str, options: Sequence[str]) -> str:
    """The names that a star stands for, where the shell has put in none."""
    inside = [one.as_posix() for one in sorted(path.parent.glob(path.name)) if suits(name, one)]
    given = [path.parent.as_posix()] if name == "replies" else inside
    each = [[one] for one in given] if name in ("import", "survey") else [given]
    lines = [line(name, *one, *options) for one in each[:MOST_LINES] if one]
    if not inside:
        return f"{path.as_posix()}: no such file is there; {name} takes {TAKES[name]}"
    return in_turn(f"{path.as_posix()} stands as it is typed here, its names are not put in", lines)


def _of_nights(words: Sequence[str], call: str, options: Sequence[str], at_hand: AtHand) -> str:
    """The logs of the nights that words name, or in which a partner has a slot."""
    shown, logs = " ".join(words), at_hand.night_logs()
    said = said_in(shown, (DATE,), at_hand.season).readings
    said = said or tuple(one for word in words for one in said_in(word, (DATE,), at_hand.season).readings)
    dates = [f"{one.date}" for one in said if one.date]
    if words[0].casefold() in LAST and logs:
        return f"review takes a log; the last one is read so\n  {line('review', logs[-1][1].as_posix(), *options)}"
    if own := [log.as_posix() for night, log in logs if night in dates]:
        what = "are nights; their logs are read so" if own[1:] else "is a night; its log is read so"
        return f"review takes a log, and {shown} {what}\n  {line('review', *own, *options)}"
    if dates and not logs:
        told = f"review takes a log, and {shown} is a night without one in {at_hand.out.as_posix()}"
        return f"{told}; its sheets and its log are laid out by\n  {line('night', dates[0])}"
    if not dates and not call:
        return ""
    told = f"is a night without one in {at_hand.out.as_posix()}; there are others"
    if not dates:
        told, logs = f"is no file; those of the nights of {call} are", at_hand.night_logs(call)
    lines = [(line("review", log.as_posix(), *options), f"{night} is meant") for night, log in logs]
    return message([f"review takes a log, and {shown} {told}"], lines[-MOST_LINES:]) if lines else ""


def _call(word: str, at_hand: AtHand) -> str:
    """A partner by call, name or address."""
    upper = word.upper()
    return upper if upper in at_hand.partners else at_hand.call_of(word)
