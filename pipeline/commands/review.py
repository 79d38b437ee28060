"""`review`: logs against predictions, what they teach of the stations, and whether the chances were honest."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline.commands.common import (
    DEFAULT_OUT,
    DEFAULT_SEASON,
    NOTHING_FOUND,
    OutFolder,
    SeasonFile,
    app,
    makes_pdf,
    read,
    retyped,
    say,
    stop,
    tell,
    typed,
)
from pipeline.wording.pasted import pasted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pipeline.record.inputs import Inputs
    from pipeline.record.log_entry import Finding, LogEntry
    from pipeline.record.outcomes import KnownSlot
    from pipeline.record.writing import Changed
    from pipeline.review.review import Review

# What `--unlogged` may say of slots that no log tells of.
UNLOGGED = ("failed", "absent", "rained")


@app.command(epilog="Example: mutual-moon review march.adi out/2027-03/nights/2027-03-13/log.csv")
def review(
    logs: Annotated[list[Path], typer.Argument(help="Logs: ADIF (.adi, .adx) or a log.csv of the sheets.")],
    season: SeasonFile = DEFAULT_SEASON,
    out: OutFolder = DEFAULT_OUT,
    apply: Annotated[
        bool, typer.Option("--apply", help="Write corrections, and how slots went, into the record.")
    ] = False,
    unlogged: Annotated[
        str | None,
        typer.Option(
            metavar="WORD", help="How all agreed slots without a line in the logs went: failed, absent or rained."
        ),
    ] = None,
    no_pdf: Annotated[bool, typer.Option("--no-pdf", help="Write HTML and CSV, no PDF.")] = False,
) -> None:
    """Compares logs with predictions, and learns corrections of the stations that the next plan can use."""
    from pipeline.ephemeris.timescale import EphemerisUnavailable
    from pipeline.inputs.faults import InputFaults
    from pipeline.letters.answers import changed_lines
    from pipeline.record.attempts import attempts_text
    from pipeline.record.writing import RecordBusy, record_lock
    from pipeline.reports.blocked import OutputBlocked
    from pipeline.reports.pdf import PdfUnavailable
    from pipeline.review.report import write_review
    from pipeline.review.review import NothingToReview
    from pipeline.review.text import review_text

    applied: list[Path] = []
    noted: list[Changed] = []
    try:
        basis = _basis(season)
        missing = [path for path in logs if not path.is_file()]
        if missing:
            what = "no such file; a log in ADIF or a log.csv of the sheets is meant"
            stop("\n".join(f"{path}: {what}" for path in missing))
        if unlogged is not None and unlogged.casefold() not in UNLOGGED:
            stop(f"--unlogged is '{unlogged}'; {', '.join(UNLOGGED[:-1])} or {UNLOGGED[-1]} is meant")
        said = _Said((unlogged or "").casefold(), out)
        with_pdf = makes_pdf(no_pdf)
        made, pages = _made(logs, basis, with_pdf, said)
        asked = [str(one) for one in made.findings if one.asks]
        if apply and asked:
            stop("\n".join([*asked, "Nothing was applied: by these times the log would teach the wrong things."]))
        if apply:
            with record_lock(season.parent):
                # Another run may have written to the record meanwhile; what it learnt counts as well.
                now = _basis(season)
                if not now.same_as(basis):
                    made, pages = _made(logs, now, with_pdf, said, made.findings)
                # The pages first: where they cannot be written, the record is as it was.
                files = write_review(pages, out)
                noted = _note_outcomes(made, season.parent, out)
                applied = _apply(made, season.parent)
        else:
            files = write_review(pages, out)
    except NothingToReview as nothing:
        stop(str(nothing), NOTHING_FOUND)
    except (InputFaults, EphemerisUnavailable, PdfUnavailable, OutputBlocked, RecordBusy) as problem:
        stop(str(problem))
    say(review_text(made))
    _say_skyline(made, season)
    for change in noted:
        say("\n".join(changed_lines(change, {})))
    if noted:
        say(f"noted in {season.parent / 'record' / 'agenda.yaml'}; `answer` says otherwise where the log is wrong")
    for file in (*files, *applied[-1:]):
        say(f"written: {file}")
    elsewhere = "".join(
        f" --{name} {pasted(given)}"
        for name, given, usual in (("season", season, DEFAULT_SEASON), ("out", out, DEFAULT_OUT))
        if given != usual
    )
    command = typed(f"review {' '.join(pasted(path) for path in logs)}{elsewhere} --apply")
    if apply and made.lessons:
        say(f"{typed(f'plan{elsewhere}')} uses it; deleting it takes the corrections back.")
    elif apply:
        say("The log teaches nothing of the stations yet; its attempts count in the next review.")
    elif made.corrections != basis.inputs.record.corrections:
        say(f"The record was not changed; {command} puts the corrections into it.")
    elif attempts_text(made.learnt_from) != attempts_text(basis.known):
        say(f"The record was not changed; {command} keeps the attempts there, so that months add up.")


def _say_skyline(made: Review, season: Path) -> None:
    """Points of the skyline that the logs tell of, and the command that takes them; nothing is written."""
    from pipeline.review.skyline_told import told_points
    from pipeline.wording.skylines import FAR_DEG, told_words

    told = told_points(made.logged, made.inputs)
    if not told:
        return
    say("The log tells of the skyline:")
    for one in told:
        where = f"{one.entry.file}, line {one.entry.line}"
        point = (one.azimuth_deg, one.elevation_deg)
        say(f"  {told_words(where, one.entry.remarks, point, one.stands_deg, one.moon_apart_deg)}")
    heights = {one.azimuth_deg: one.elevation_deg for one in told if one.moon_apart_deg <= FAR_DEG}
    if heights:
        pairs = ",".join(f"{azimuth:g}={height:g}" for azimuth, height in heights.items())
        say(f"  where that is right: {retyped(f'survey --heights {pairs}', season)}")


@dataclass(frozen=True)
class _Basis:
    """What a review starts from: the inputs, and the attempts that earlier reviews have learnt from."""

    inputs: Inputs
    known: tuple[LogEntry, ...]

    def same_as(self, other: _Basis) -> bool:
        """Whether a review comes out alike from both."""
        return self._parts == other._parts

    @property
    def _parts(self) -> tuple[object, ...]:
        """Offers too: a slot that a letter has told meanwhile may be one without a line."""
        return self.inputs.digest, self.inputs.record.ledger_sha256, self.known


def _basis(season: Path) -> _Basis:
    from pipeline.record.attempts import remembered

    return _Basis(read(season, None), remembered(season.parent))


@dataclass(frozen=True)
class _Said:
    """How unlogged slots went, by the command line; empty where it says nothing. Plans are looked for in `out`."""

    word: str
    out: Path


def _made(
    logs: list[Path], basis: _Basis, with_pdf: bool, said: _Said, told: tuple[Finding, ...] = ()
) -> tuple[Review, dict[str, bytes]]:
    """The review and its pages, written nowhere yet; what is odd in the logs is told first, if it was not already."""
    from pipeline.reports.plan_on_disk import with_sites_on_disk
    from pipeline.review.reading_logs import read_logs
    from pipeline.review.report import review_files
    from pipeline.review.review import make_review, silences_of
    from pipeline.review.text import findings_text

    inputs = with_sites_on_disk(basis.inputs, said.out)
    entries, findings = read_logs(logs, inputs)
    if findings and findings != told:
        say(findings_text(findings))
    silences = silences_of(entries, inputs, _planned(entries, inputs, said.out), said.word)
    made = make_review(entries, findings, inputs, tell, basis.known, silences)
    tell("Pages")
    return made, review_files(made, with_pdf)


def _planned(entries: Sequence[LogEntry], inputs: Inputs, out: Path) -> list[KnownSlot]:
    """The slots of the plan on disk for the time of the logs' last attempt."""
    from pipeline.letters.offered import AnswerFault, in_agenda
    from pipeline.record.outcomes import KnownSlot
    from pipeline.windows.span import span_of

    if not entries:
        return []
    agenda = out / span_of(inputs, entries[-1].time_utc.date()).name / "data" / "agenda.csv"
    try:
        rows = [row for one in inputs.partners for row in in_agenda(one.call, agenda)]
    except AnswerFault:
        return []  # a plan that cannot be read knows no slot; the log still does
    return [KnownSlot(one.partner, one.operator, one.label, one.start_utc, one.end_utc) for one in rows]


def _note_outcomes(made: Review, folder: Path, out: Path) -> list[Changed]:
    """How the logs say that slots went, into the record where it says nothing; the caller holds its lock."""
    from pipeline.inputs.season import BEST
    from pipeline.record.attempts import LABEL
    from pipeline.record.outcomes import known_slots, logged_outcomes
    from pipeline.record.writing import set_slots
    from pipeline.windows.standing import standing_at

    inputs, entries = made.inputs, [one for one in made.learnt_from if one.file != LABEL and not one.silent]
    if not entries:
        return []
    known = [*known_slots(inputs.record), *_planned(entries, inputs, out)]
    outcomes = logged_outcomes(entries, known, inputs.record.answers)
    if inputs.season.policy.sites == BEST:
        places = standing_at(inputs, [one.start_utc for one in outcomes])
        outcomes = [replace(one, site=at.home.title) for one, at in zip(outcomes, places, strict=True)]
    season, never = inputs.season, entries[0].time_utc
    default = season.operators[0].call if season.operators else inputs.home.call
    # Each by its very start: no letter is looked for in any period.
    return set_slots(folder, outcomes, (never, never), default, season.policy.slot_minutes.most)


def _apply(made: Review, folder: Path) -> list[Path]:
    """The attempts into the record, with what they teach; the caller holds its lock. Returns the files."""
    from pipeline.record.attempts import NAME, attempts_text
    from pipeline.record.corrections_writing import write_learnt

    corrections = made.corrections if made.lessons else None
    return write_learnt(folder, {NAME: attempts_text(made.learnt_from)}, corrections)
