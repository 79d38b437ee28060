"""The sheets of one night as one document in the order of use: set-up, dish, radio, ladders; and the files beside it.

From a finished plan. `night_room` is one night's folder, `night_rooms` are those that `plan` writes.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.inputs.bounds import LOG
from pipeline.inputs.yaml_tree import read_bytes
from pipeline.operating.night_track import NightTrack, make_night_track
from pipeline.plan.tonight import Offsets
from pipeline.record.night_log import LOG_NAME, log_files
from pipeline.reports.page import margin_rule, page_html, page_rule
from pipeline.reports.rendering import Document
from pipeline.reports.views import PAPERS, Paper
from pipeline.reports.writing import Room, put_in_order
from pipeline.sheets.dish_sheet import DishSheet, dish_sheet
from pipeline.sheets.kept_offsets import OFFSETS_NAME, offsets_in, offsets_text
from pipeline.sheets.ladder_sheet import LadderSheet, ladder_sheet
from pipeline.sheets.night_data import pointing_csv
from pipeline.sheets.radio_sheet import RadioSheet, radio_sheet
from pipeline.sheets.readings import readings
from pipeline.sheets.setup_sheet import SetupSheet, setup_sheet
from pipeline.sheets.tonight import TONIGHT, tonight_html
from pipeline.wording import formats
from pipeline.wording.agenda import change_words
from pipeline.wording.operating import open_answers
from pipeline.wording.slots import night_title

if TYPE_CHECKING:
    from pipeline.agenda.replan import Change
    from pipeline.plan.plan import Plan
    from pipeline.plan.views import NightView, Stretch

NIGHTS = "nights"
# All other files in a night's folder are the crew's.
OWN = frozenset({"sheets.html", "sheets.pdf", "pointing.csv", TONIGHT, LOG_NAME, OFFSETS_NAME})
# Lines of the pointing table that a column of each paper holds.
ROWS_A_BLOCK = {"A4": 45, "letter": 42}


@dataclass(frozen=True)
class Sheets:
    """The whole document."""

    title: str
    author: str
    footer: str
    number: str
    paper: Paper
    night: str
    head: str
    local: str
    open_answers: tuple[str, ...]
    changes: tuple[str, ...]
    setup: SetupSheet | None
    dish: DishSheet
    radio: RadioSheet
    ladders: LadderSheet


def night_rooms(plan: Plan, folder: Path, with_pdf: bool) -> tuple[Room, ...]:
    """All nights of the agenda, and those made before in the period's `folder`: none is left of an older plan.

    Offsets that a night was given stay. Raises OutputBlocked where the folder cannot be put in order after a run that
    was cut short, InputFaults where a night's offsets cannot be read.
    """
    put_in_order(folder)
    made = {file.name for file in (folder / NIGHTS).glob("*-*-*") if file.is_dir()}
    dates = {date for date in plan.period.dates if date.isoformat() in made} | set(plan.nights_with_slots)
    return tuple(
        night_room(plan, date, with_pdf, written_log(folder, date), offsets=kept_offsets(folder, date))
        for date in sorted(dates)
    )


def written_log(folder: Path, date: dt.date) -> bytes | None:
    """The log.csv of a night made before in the period's folder."""
    return log_in(folder / NIGHTS / date.isoformat())


def kept_offsets(folder: Path, date: dt.date) -> Offsets:
    """What a night's dials were told to be off by, in the period's folder. Raises InputFaults."""
    return offsets_in(folder / NIGHTS / date.isoformat())


def log_in(night_folder: Path) -> bytes | None:
    """The log.csv of a night's folder."""
    file = night_folder / LOG_NAME
    return read_bytes(file, LOG, file.as_posix()) if file.is_file() else None


def night_room(
    plan: Plan,
    date: dt.date,
    with_pdf: bool,
    log: bytes | None = None,
    changes: Sequence[Change] = (),
    offsets: Offsets | None = None,
    set_up_for: Sequence[Stretch] = (),
) -> Room:
    """The folder of one night. `log` is the log.csv that stands there already: what was written in it stays.

    `changes` says what was re-planned on the spot, `set_up_for` which slots the crew came for before that;
    `offsets` are tonight's, which the folder keeps. Raises EphemerisUnavailable.
    """
    night = dataclasses.replace(plan.night(date), offsets=offsets or Offsets(), set_up_for=tuple(set_up_for))
    slots = night.slots
    track = make_night_track(
        plan.inputs,
        date,
        night.edges,
        [(slot.start, slot.end) for slot in slots],
        sorted({slot.band for slot in slots}),
    )
    view = sheets_view(night, track, changes)
    files = {
        "sheets.html": sheets_html(view, for_pdf=False).encode(),
        "pointing.csv": _pointing(night, track).encode(),
        TONIGHT: tonight_html(night, track, view).encode(),
    }
    if offsets:
        files[OFFSETS_NAME] = offsets_text(offsets).encode()
    documents = {"sheets.pdf": sheets_document(view, date)} if with_pdf else {}

    over = {(one.partner, one.before[0]) for one in changes if one.fate.was_tried and one.before}

    def merge(standing: Path) -> dict[str, bytes]:
        return log_files(date, slots, log_in(standing), {path.name for path in standing.glob("*")}, over)

    files[LOG_NAME] = log_files(date, slots, log, over=over)[LOG_NAME]
    return Room(f"{NIGHTS}/{date.isoformat()}", files, documents, OWN, merge)


def _pointing(night: NightView, track: NightTrack) -> str:
    home = night.inputs.home
    shown = readings(track, night.slots, home.bands[night.band].polarization, home.mount, night.offsets)
    return pointing_csv(track, night.slots, shown, night.offsets)


def sheets_view(night: NightView, track: NightTrack, changes: Sequence[Change]) -> Sheets:
    """All that the templates print."""
    paper = night.inputs.season.report.paper
    told = tuple(change_words(change) for change in changes)
    number = f"plan {night.number}" + (" · re-planned at the site" if changes else "")
    home = night.inputs.home
    setup = setup_sheet(night) if night.slots else None
    return Sheets(
        title=f"Sheets for {formats.day_long(night.date)} {night.date.year}, {home.call} {home.title}",
        author=home.operator or home.call,
        footer=f"Mutual Moon · sheets for the night of {night.date.isoformat()} · {_site(night)} · {number}",
        number=night.number,
        paper=PAPERS[paper],
        night=night_title(night.date, [slot.start for slot in night.slots], night.zone),
        head=f"{_site(night)} · night of {formats.day(night.date)} {night.date.year} · plan {night.number}",
        local=_local(night),
        open_answers=open_answers(night.slots),
        changes=told,
        setup=setup,
        dish=dish_sheet(night, track, ROWS_A_BLOCK[paper]),
        radio=radio_sheet(night, track, told),
        ladders=ladder_sheet(night, track, setup is not None and setup.moon_too_weak),
    )


def _site(night: NightView) -> str:
    home = night.inputs.home
    return f"{home.call} {formats.short(home.title)} · {formats.band(night.band)}"


def _local(night: NightView) -> str:
    """How local time here stands to UTC in this night."""
    return f"local time is {formats.offsets(night.zone, *night.edges)}"


def sheets_html(view: Sheets, for_pdf: bool) -> str:
    """The page: for the PDF engine with fonts by file, else with fonts embedded for any browser."""
    css = f"{page_rule(view.paper)}\n{margin_rule(view.footer, view.head, '; '.join(view.open_answers))}"
    return page_html("sheets.html.jinja", for_pdf, css, sheets=view, setup=view.setup)


def sheets_document(view: Sheets, date: dt.date) -> Document:
    """The PDF to be."""
    least = (2 if view.setup else 1) + max(len(view.radio.pages), 1) + len(view.ladders.pages)
    last = "Ladders" if view.ladders.pages else "Radio"
    return Document(sheets_html(view, for_pdf=True), date, view.number, least, f"{last} {view.night}")
