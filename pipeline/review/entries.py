"""One raw record to a log entry: call, time, band, mode, reports, each judged, every oddity with its line.

Field names and enumerations of ADIF 3.1.x (adif.org). What cannot be mended keeps the record out; nothing else does.
"""

from __future__ import annotations

import datetime as dt
import difflib
import re
from dataclasses import dataclass

from pipeline.inputs.bands import MODES
from pipeline.inputs.modes import BY_EAR
from pipeline.record.inputs import Inputs
from pipeline.record.log_csv import NIL, NO, PERIODS, WHOLE, YES
from pipeline.record.log_entry import Finding, LogEntry
from pipeline.review.adif import RawRecord
from pipeline.review.bands_logged import band_and_frequency
from pipeline.review.reports_given import Report, read_report

# The first contact off the Moon is of 1960; years beyond are slips, and so is what the ephemeris does not reach.
FIRST_YEAR, LAST_YEAR = 1953, 2050
# What a comment says of an attempt that came to nothing.
NOTHING = re.compile(
    r"\b(nil|nothing (heard|decoded|seen)|not heard|no (contact|decodes?|signals?|copy)|(not |in)completed?|failed)\b",
    re.IGNORECASE,
)
NOT_HEARD = re.compile(r"nil|nothing|not heard|no (decode|signal|copy)", re.IGNORECASE)
CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f]")


@dataclass(frozen=True)
class Kept:
    """What became of a record: the entry, None where it cannot be one, and what was found."""

    entry: LogEntry | None
    findings: tuple[Finding, ...]
    stranger: bool = False


class _Judge:
    """Gathers the findings of one record."""

    def __init__(self, raw: RawRecord, file: str) -> None:
        self.raw, self.file = raw, file
        self.call = shown(raw.fields.get("CALL", "").upper(), 20)
        self.notes: list[tuple[int, str, str]] = list(raw.oddities)

    def note(self, what: str, advice: str) -> None:
        self.notes.append((self.raw.line, what, advice))

    def text(self, name: str) -> str:
        return CONTROL.sub(" ", self.raw.fields.get(name, "")).strip()

    def out(self, what: str, advice: str, stranger: bool = False) -> Kept:
        """The record is left out, for this reason."""
        kept = [Finding(self.file, line, self.call, what, advice, False) for line, what, advice in self.notes]
        return Kept(None, (*kept, Finding(self.file, self.raw.line, self.call, what, advice, False)), stranger)

    def findings(self) -> tuple[Finding, ...]:
        return tuple(Finding(self.file, line, self.call, what, advice, True) for line, what, advice in self.notes)


def shown(text: str, longest: int = 40) -> str:
    """Text of a log as a message may show it: one line, no control characters, shortened."""
    text = CONTROL.sub("?", text).strip()
    return text if len(text) <= longest else text[: longest - 3] + "..."


def entry_of(raw: RawRecord, file: str, inputs: Inputs) -> Kept:
    """The entry of one record, or the reason why there is none."""
    judge = _Judge(raw, file)
    home = {inputs.home.call, *(operator.call for operator in inputs.season.operators)}
    partners = [station.call for station in inputs.partners]
    if not judge.call:
        return judge.out("the record has no CALL", "write the partner's call")
    if known_call(judge.call, sorted(home)):
        advice = "this looks like a partner's own log; the review takes home's"
        return judge.out(f"the call {judge.call} is home itself", advice)
    keeper = judge.text("STATION_CALLSIGN").upper()
    if keeper and not known_call(keeper, sorted(home)):
        advice = f"only records of {inputs.home.call} and its operators can be compared"
        return judge.out(f"the record was logged at {shown(keeper, 20)}, not at {inputs.home.call}", advice)
    call = known_call(judge.call, partners)
    if call is None:
        near = difflib.get_close_matches(judge.call, partners, 1, 0.8)
        advice = f"is {near[0]} meant?" if near else "add it to the season to have its records compared"
        return judge.out(f"the station {judge.call} is no partner of this season", advice, stranger=True)
    if call != judge.call:
        advice = "if it stood at another place, add a station file with the whole call"
        judge.note(f"the call {judge.call} is taken for {call}", advice)
    instant = _instant(judge)
    if instant is None:
        return judge.out(_no_time(judge), "write QSO_DATE as 20270313 and TIME_ON as 0115, UTC")
    if not FIRST_YEAR <= instant.year <= LAST_YEAR:
        return judge.out(f"the year {instant.year} cannot be right", "write QSO_DATE as 20270313")
    band, frequency, notes = band_and_frequency(
        judge.text("BAND"), judge.text("FREQ"), judge.text("BAND_RX"), _bands_of(inputs, call)
    )
    for what, advice in notes:
        judge.note(what, advice)
    idle = _without_figures(inputs, call, band)
    mode = _mode(judge)
    sent, received = (_report(judge, name, mode) for name in ("RST_SENT", "RST_RCVD"))
    completed, heard = _completed(judge, sent, received)
    way = judge.text("PROP_MODE").upper()
    entry = LogEntry(
        file=file,
        line=raw.line,
        call=call,
        operator=_operator(judge, inputs, home),
        time_utc=instant,
        band=band,
        frequency_mhz=frequency,
        mode=mode,
        report_sent=shown(judge.text("RST_SENT"), 20),
        report_received=shown(judge.text("RST_RCVD"), 20),
        report_sent_db=sent.snr_db,
        report_received_db=received.snr_db,
        completed=completed,
        heard=heard,
        moonbounce=way in ("", "EME"),
        remarks=shown(judge.text("COMMENT"), 200),
        slot_start_utc=_edge(judge, "SLOT_START"),
        slot_end_utc=_edge(judge, "SLOT_END"),
        **{name: _periods(judge, name) for name in PERIODS},  # type: ignore[arg-type]
        guessed_at_home="GUESSED_AT_HOME" in judge.raw.fields,
        guessed_at_partner="GUESSED_AT_PARTNER" in judge.raw.fields,
    )
    found = judge.findings()
    if idle and entry.moonbounce:
        found += (Finding(file, raw.line, judge.call, *idle, False),)
    return Kept(entry, found)


def known_call(call: str, known: list[str]) -> str | None:
    """The known call that a call stands for: itself, or the one among its parts (`QF4LUM/P`, `VE3/QF4LUM`)."""
    by_capitals = {one.upper(): one for one in known}
    if call in by_capitals:
        return by_capitals[call]
    return next((by_capitals[part] for part in call.split("/") if part in by_capitals), None)


def _bands_of(inputs: Inputs, call: str) -> tuple[str, tuple[str, ...]]:
    """The band planned with a partner, and all bands that both ends have figures for."""
    both = tuple(band for band in inputs.home.bands if band in inputs.partner(call).bands)
    return inputs.bands[inputs.place_of(call)], both


def _without_figures(inputs: Inputs, call: str, band: str) -> tuple[str, str] | None:
    """Why a record on this band cannot be compared, and what would be right; None where it can."""
    if "/" in band:
        sent, received = band.split("/")
        return f"sent on {sent}, received on {received}", "contacts across bands are not compared"
    missing = [station.call for station in (inputs.home, inputs.partner(call)) if band not in station.bands]
    advice = "add that band to the station's file to have it compared"
    return (f"there are no figures for {band} at {' and '.join(missing)}", advice) if missing else None


def _instant(judge: _Judge) -> dt.datetime | None:
    """The record's instant; times and dates in other dress are taken with a note."""
    if "INSTANT" in judge.raw.fields:
        return dt.datetime.fromisoformat(judge.raw.fields["INSTANT"])
    date, clock = judge.text("QSO_DATE"), judge.text("TIME_ON")
    if not clock and judge.text("TIME_OFF"):
        date, clock = judge.text("QSO_DATE_OFF") or date, judge.text("TIME_OFF")
        judge.note("TIME_ON is missing", "TIME_OFF is taken")
    figures = re.sub(r"[-/.]", "", date)
    if not re.fullmatch(r"\d{8}", figures, re.ASCII):
        return None
    hours = re.sub(r"[:.]|\s*Z$", "", clock)
    if not re.fullmatch(r"\d{3,6}", hours, re.ASCII):
        return None
    # Spreadsheets drop a leading zero.
    hours = hours.zfill(4 if len(hours) < 5 else 6)
    try:
        instant = dt.datetime.strptime(figures + hours.ljust(6, "0"), "%Y%m%d%H%M%S").replace(tzinfo=dt.UTC)
    except ValueError:
        return None
    if figures != date or hours != clock:
        judge.note(f"date and time stand as {shown(date, 12)} {shown(clock, 12)}", f"{figures} {hours} is taken")
    return instant


def _no_time(judge: _Judge) -> str:
    """What is wrong with a record that has no instant."""
    date, clock = shown(judge.text("QSO_DATE"), 12), shown(judge.text("TIME_ON"), 12)
    if date and clock:
        return f"QSO_DATE {date} with TIME_ON {clock} is no date and time"
    if not date and not clock:
        return "date and time are missing"
    return "the date is missing" if clock else "the time is missing"


def _edge(judge: _Judge, name: str) -> dt.datetime | None:
    text = judge.raw.fields.get(name)
    return dt.datetime.fromisoformat(text) if text else None


def _periods(judge: _Judge, name: str) -> int | None:
    """A number of periods; only the sheets' log.csv tells it, and there it has been judged."""
    text = judge.raw.fields.get(name.upper(), "")
    return int(text) if WHOLE.fullmatch(text) else None


def _mode(judge: _Judge) -> str:
    """The mode as our table names it: by SUBMODE where that is the known one (Q65 is one of MFSK)."""
    mode, submode = judge.text("MODE").upper(), judge.text("SUBMODE").upper()
    for text in (submode, mode):
        # JT65B and Q65-60D name a variant after their mode; the longest name is tried first.
        for known in sorted(MODES, key=len, reverse=True):
            if re.fullmatch(re.escape(known) + r"([A-F]|[-_ ].*)?", text):
                return known
    if mode or submode:
        judge.note(f"the mode {shown(submode or mode, 20)} is not in the mode table", "its chance is not worked out")
    else:
        judge.note("the mode is missing", "its chance is not worked out")
    return shown(submode or mode, 20)


def _report(judge: _Judge, name: str, mode: str) -> Report:
    report = read_report(judge.text(name), mode in BY_EAR)
    if report.oddity:
        judge.note(report.oddity, "write it like -22, or O, M, 559 by ear; it is not used as a figure")
    return report


def _completed(judge: _Judge, sent: Report, received: Report) -> tuple[bool, bool | None]:
    """Whether the contact was completed, and whether home heard the partner."""
    # A report sent tells that the partner was heard; one received too, for a message of the partner's carried it.
    heard = True if sent.heard or received.heard else sent.heard
    said = judge.text("QSO_COMPLETE").casefold()
    if "QSO_COMPLETE" not in judge.raw.fields:
        return _by_silence(judge, sent, received, heard)
    if said in YES:
        return True, True
    if said in NIL:
        return False, heard or False
    if said not in NO:
        word = f"'{shown(judge.text('QSO_COMPLETE'), 10)}'" if said else "left empty"
        judge.note(f"whether the contact was completed is {word}", "it is counted as not completed; write yes or no")
    return False, heard


def _by_silence(judge: _Judge, sent: Report, received: Report, heard: bool | None) -> tuple[bool, bool | None]:
    """The same where QSO_COMPLETE is missing, which in ADIF means completed: unless the record says otherwise."""
    if sent.heard is False or received.heard is False:
        judge.note("QSO_COMPLETE is missing, but a report says nothing was heard", "it is counted as not completed")
        return False, heard
    if judge.text("RST_SENT") or judge.text("RST_RCVD"):
        return True, True
    failed = NOTHING.search(judge.text("COMMENT"))
    if failed:
        judge.note(f"QSO_COMPLETE is missing, but the comment says '{failed[0]}'", "it is counted as not completed")
        return False, False if NOT_HEARD.search(failed[0]) else None
    advice = "it is counted as completed; write QSO_COMPLETE N or NIL where it was not"
    judge.note("there is neither a report nor QSO_COMPLETE", advice)
    return True, True


def _operator(judge: _Judge, inputs: Inputs, home: set[str]) -> str:
    """The call used at home."""
    keeper, operator = judge.text("STATION_CALLSIGN").upper(), judge.text("OPERATOR").upper()
    if keeper and not inputs.season.operators:
        # Who sat at home's dish makes no difference where the season names nobody.
        return inputs.home.call
    operator = operator or keeper
    if not operator:
        return inputs.season.operators[0].call if len(inputs.season.operators) == 1 else inputs.home.call
    known = known_call(operator, sorted(home))
    if known is None:
        judge.note(f"the operator {shown(operator, 20)} is not in the season", "add the call to operators")
    return known or shown(operator, 20)
