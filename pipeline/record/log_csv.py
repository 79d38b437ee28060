"""The schema of log.csv: its columns, what each may say, and its rows as values; `night` and `review` read by it alike.

What a row does not tell, or not in words that are understood, is asked for with its line; nothing is guessed.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from pipeline.inputs.bounds import in_utc
from pipeline.record.log_table import TableRow, head_names, read_table
from pipeline.record.log_text import Oddity

# Filled in by the program, as far as the plan knows.
PREFILLED = (
    "partner", "night", "slot_start_utc", "slot_end_utc", "frequency_mhz", "band", "mode", "operator",
)  # fmt: skip
# Filled in at the dish; `completed` is yes or no, so that an attempt that failed is logged as well.
BY_HAND = ("report_sent", "report_received", "completed", "time_utc", "remarks")
LOG_COLUMNS = (*PREFILLED, *BY_HAND)
# Columns that a log may have besides: of the periods in which an end listened, how many there were and how many it
# decoded. At home the partner was to be heard, at the partner home.
WAYS = ("at_home", "at_partner")
PERIODS = tuple(f"periods_{what}_{way}" for way in WAYS for what in ("tried", "heard"))
# Whether the decodes of a way were guessed by a program with help of what was expected: yes or no.
GUESSED = tuple(f"guessed_{way}" for way in WAYS)
# A row in which none of these is filled in was not attempted.
FILLED_IN = (*BY_HAND, *PERIODS)
KNOWN = {name: name for name in (*LOG_COLUMNS, *PERIODS, *GUESSED)} | {"call": "partner"}
# Words that tell whether a contact was completed; NIL tells besides that nothing was heard.
YES = (
    "yes", "y", "true", "1", "x", "ok", "ja", "j", "oui", "si", "sì", "sí", "sim", "tak", "ano", "igen", "kyllä", "да",
    "はい", "✓", "✔", "☑", "✅", "√",
)  # fmt: skip
NO = (
    "no", "n", "false", "0", "nein", "non", "não", "nao", "nie", "ne", "nej", "nei", "nee", "nem", "ei", "нет",
    "いいえ", "✗", "✘", "❌", "☐",
)  # fmt: skip
NIL = ("nil",)
COMPLETED = dict.fromkeys(YES, True) | dict.fromkeys((*NO, *NIL), False)
CLOCK = re.compile(r"(\d{1,2})[:.h]?(\d{2})(?:[:.]?(\d{2}))?\s*(?:Z|UTC)?", re.IGNORECASE | re.ASCII)
WHOLE = re.compile(r"\d{1,4}", re.ASCII)
HALF_DAY, DAY = dt.timedelta(hours=12), dt.timedelta(days=1)
# A date of figures alone and a time of day, as spreadsheets show what was ISO 8601.
DRESSED = re.compile(
    r"(\d{1,4})[./-](\d{1,2})[./-](\d{2,4}),?[ T]+(\d{1,2})[:.h](\d{2})(?:[:.]\d{2})?\s*"
    r"([ap]\.?m\.?)?(?:\s*(?:Z|UTC))?",
    re.IGNORECASE | re.ASCII,
)
LONGEST_SHOWN = 30


@dataclass(frozen=True)
class Way:
    """Periods in which one end listened, and those of them that it decoded; None where the log does not tell.

    `guessed`: a program read them with help of what was expected.
    """

    tried: int | None = None
    heard: int | None = None
    guessed: bool = False


@dataclass(frozen=True)
class LogRow:
    """One row: `cells` as written, by column, and what they say. Instants are aware, in UTC.

    `completed` is None where the row does not tell; `nothing_heard` where it says so. `time_utc` is None
    where no time is given. `at_home` is what home heard of the partner, `at_partner` the other way. `oddities` are
    told, and so are `questions`: with one of these nobody knows how the attempt ended.
    """

    line: int
    cells: Mapping[str, str]
    slot_start_utc: dt.datetime | None
    slot_end_utc: dt.datetime | None
    time_utc: dt.datetime | None
    completed: bool | None
    nothing_heard: bool
    at_home: Way
    at_partner: Way
    oddities: tuple[Oddity, ...]
    questions: tuple[Oddity, ...]

    @property
    def attempted(self) -> bool:
        """Whether somebody wrote in a column that tells of an attempt."""
        return any(self.cells.get(name) for name in FILLED_IN)

    @property
    def is_filled_in(self) -> bool:
        """Whether somebody wrote in the row, be it in a column of its own."""
        return any(value for name, value in self.cells.items() if name not in PREFILLED)


@dataclass(frozen=True)
class Log:
    """The rows of a log.csv, blank lines left out, and what is odd about the file as a whole."""

    rows: tuple[LogRow, ...]
    oddities: tuple[Oddity, ...]

    @cached_property
    def attempts(self) -> tuple[LogRow, ...]:
        """The rows that tell of an attempt."""
        return tuple(row for row in self.rows if row.attempted)


def read_log(text: str) -> Log | None:
    """The rows of a log; None where the first line does not name the columns of one: a partner, and a slot or time."""
    names = head_names(text, KNOWN)
    if "partner" not in names or not {"slot_start_utc", "time_utc"} & set(names):
        return None
    table = read_table(text, KNOWN)
    return Log(tuple(_row(row) for row in table.rows), table.oddities)


def _row(row: TableRow) -> LogRow:
    odd, questions = list(row.oddities), []
    start, end = (_edge(row, name, odd) for name in ("slot_start_utc", "slot_end_utc"))
    said = row.cells.get("completed", "")
    completed = COMPLETED.get(said.casefold())
    if completed is None:
        words = f"'{said[:LONGEST_SHOWN]}', which is neither yes nor no" if said else "left empty"
        advice = "it is not counted; write yes or no"
        questions.append(Oddity(row.line, f"whether the contact was completed is {words}", advice))
    at_home, at_partner = (_way(row, way, odd) for way in WAYS)
    time = _time(row, start, odd)
    if start is None and time is None and row.cells.get("slot_start_utc"):
        # A spreadsheet's own dates: one answer with both as they should stand, and nothing of what follows of them.
        names = ("slot_start_utc", "slot_end_utc", "time_utc")
        odd = [one for one in odd if not one.what.startswith(names)]
        questions.append(_in_other_dress(row))
    return LogRow(
        line=row.line,
        cells=row.cells,
        slot_start_utc=start,
        slot_end_utc=end,
        time_utc=time,
        completed=completed,
        nothing_heard=said.casefold() in NIL,
        at_home=at_home,
        at_partner=at_partner,
        oddities=tuple(odd),
        questions=tuple(questions),
    )


def _edge(row: TableRow, name: str, odd: list[Oddity]) -> dt.datetime | None:
    text = row.cells.get(name, "")
    found = _instant(text)
    if text and found is None:
        odd.append(Oddity(row.line, f"{name} '{text[:LONGEST_SHOWN]}' is no time", "write it as 2027-03-13T01:15Z"))
    return found


def _in_other_dress(row: TableRow) -> Oddity:
    """The ends of a slot as a spreadsheet of some country wrote them, and as they are taken."""
    stand = {name: row.cells[name] for name in ("slot_start_utc", "slot_end_utc") if row.cells.get(name)}
    right = [_as_instant(text, row.cells.get("night", "")) for text in stand.values()]
    told = " and ".join(f"{name} '{text[:LONGEST_SHOWN]}'" for name, text in stand.items())
    verb = "are no times" if len(stand) > 1 else "is no time"
    meant = "2027-03-13T01:15Z" if None in right else " and ".join(one or "" for one in right)
    return Oddity(row.line, f"{told} {verb}", f"a review does not count the row; write {meant}")


def _as_instant(text: str, night: str) -> str | None:
    """A date of figures and a time of day as ISO 8601; of two orders that of the night's date, else the day first."""
    found = DRESSED.fullmatch(text.strip())
    if found is None:
        return None
    first, second, third, hours, minutes = (int(part) for part in found.groups()[:5])
    half = (found[6] or "").casefold()
    hours = hours % 12 + (12 if half.startswith("p") else 0) if half else hours
    orders = [(first, second, third)] if first > 31 else [(third, second, first), (third, first, second)]
    made = []
    for year, month, day in orders:
        try:
            made.append(dt.datetime(year + 2000 if year < 100 else year, month, day, hours, minutes))
        except ValueError:
            continue
    near = [one for one in made if night[:10] in (f"{one:%Y-%m-%d}", f"{one - DAY:%Y-%m-%d}")]
    return next((f"{one:%Y-%m-%dT%H:%MZ}" for one in near or made), None)


def _time(row: TableRow, start: dt.datetime | None, odd: list[Oddity]) -> dt.datetime | None:
    """The time of the contact, by the clock or whole."""
    text = row.cells.get("time_utc", "")
    found = _instant(text) or _clock_time(text, start)
    if text and found is None:
        advice = "write it as 01:23 or 2027-03-13T01:23Z"
        odd.append(Oddity(row.line, f"time_utc '{text[:LONGEST_SHOWN]}' is no time", advice))
    return found


def _way(row: TableRow, way: str, odd: list[Oddity]) -> Way:
    """The periods of one way; what cannot be is asked for and not taken."""
    tried, heard = (_count(row, f"periods_{what}_{way}", odd) for what in ("tried", "heard"))
    if tried is not None and heard is not None and heard > tried:
        what = f"periods_heard_{way} is {heard}, more than the {tried} of periods_tried_{way}"
        odd.append(Oddity(row.line, what, "neither is taken; write how many were tried, and how many of them heard"))
        return Way(guessed=_guessed(row, way, odd))
    return Way(tried, heard, _guessed(row, way, odd))


def _guessed(row: TableRow, way: str, odd: list[Oddity]) -> bool:
    text = row.cells.get(f"guessed_{way}", "")
    if not text or text.casefold() in NO:
        return False
    if text.casefold() not in YES:
        what = f"guessed_{way} '{text[:LONGEST_SHOWN]}' is neither yes nor no"
        odd.append(Oddity(row.line, what, "it is taken as yes, so that the row counts for less"))
    return True


def _count(row: TableRow, name: str, odd: list[Oddity]) -> int | None:
    text = row.cells.get(name, "")
    if not text:
        return None
    if WHOLE.fullmatch(text):
        return int(text)
    what = f"{name} '{text[:LONGEST_SHOWN]}' is no number of periods"
    odd.append(Oddity(row.line, what, "it is not taken; write a whole number, 0 where there was none"))
    return None


def _instant(text: str) -> dt.datetime | None:
    """An ISO 8601 instant; without an offset it is UTC. None for anything else."""
    # A bare time of four figures would pass as a year's date.
    if len(text) <= 9:
        return None
    try:
        found = dt.datetime.fromisoformat(text.replace(" UTC", "Z"))
        return in_utc(found.replace(tzinfo=dt.UTC) if found.tzinfo is None else found)
    except ValueError:
        return None


def _clock_time(text: str, slot_start: dt.datetime | None) -> dt.datetime | None:
    """Hours and minutes on the date that brings them nearest to the slot's start."""
    found = CLOCK.fullmatch(text)
    if found is None or slot_start is None:
        return None
    hours, minutes, seconds = (int(part or 0) for part in found.groups())
    if hours > 23 or minutes > 59 or seconds > 59:
        return None
    try:
        at = slot_start.replace(hour=hours, minute=minutes, second=seconds, microsecond=0)
        if at - slot_start > HALF_DAY:
            return at - 2 * HALF_DAY
        return at + 2 * HALF_DAY if slot_start - at > HALF_DAY else at
    except OverflowError:
        return None
