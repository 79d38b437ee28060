"""`windows.pdf`: one partner's slots, pointing and dials, and all windows, on one or two sheets for its operating desk.

From the letter's own document and the plan's windows of this partner; pdf/ua-1 through `reports.rendering`.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from pipeline.inputs.model import mask_arrays
from pipeline.letters.document import Letter
from pipeline.letters.offers import OfferedSlot, offered_slots
from pipeline.letters.templates import WINDOWS, TemplateFault, Templates
from pipeline.reports import fonts, pdf
from pipeline.reports.charts import outcome_mark
from pipeline.reports.moon_tracks import MoonTracks
from pipeline.reports.page import margin_rule, page_rule
from pipeline.reports.rendering import Document, render_documents
from pipeline.reports.skylines import HourMark, Skyline, Track, skyline_chart
from pipeline.reports.views import PAPERS
from pipeline.windows.frames import is_missing, records
from pipeline.windows.instants import as_instant
from pipeline.wording import formats
from pipeline.wording.partners import skyline_words
from pipeline.wording.words import one_line, short_span

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from pipeline.plan.views import PartnerView

# Points along a window and along a slot; height of the drawing, points.
WINDOW_POINTS, SLOT_POINTS = 49, 9
SKYLINE_HEIGHT = 148.0
# The word that matters, and the rest.
WINDOWS_HEADING = ("All times", "at which the Moon is up for both of us")


@dataclass(frozen=True)
class Line:
    """One window: times in words, length, the Moon at both edges, what it is worth."""

    local: str
    utc: str
    length: str
    opens: str
    closes: str
    slot: str
    mark: Markup
    outcome: str
    reports: str


@dataclass(frozen=True)
class Sheet:
    """What the page's template is given besides the letter."""

    title: str
    author: str
    call: str
    name: str
    facts: tuple[str, ...]
    local_head: str
    lines: tuple[Line, ...]
    heading: tuple[str, str]
    note: str
    skyline: Markup


def windows_document(view: PartnerView, letter: Letter, templates: Templates) -> Document:
    """What becomes the PDF."""
    sheet = sheet_of(view, letter)
    html = templates.render(
        WINDOWS,
        sheet=sheet,
        letter=letter,
        faces=Markup(fonts.faces_by_file()),
        page_css=Markup(f"{page_rule(PAPERS[view.paper])}\n{margin_rule(letter.footer)}"),
        for_pdf=True,
    )
    last = " ".join(sheet.heading if sheet.lines else (sheet.call, sheet.name))
    return Document(html, view.first_night, view.number, 1, last.strip())


def windows_pdfs(
    documents: Mapping[str, Document],
    folder: Path,
    templates: Templates,
    progress: Callable[[str], None] | None = None,
) -> dict[str, bytes]:
    """The PDFs by their paths under `folder`, where those of an earlier run may lie.

    Raises PdfUnavailable where the engine does not load, TemplateFault where a page of the user's own came out wrong.
    """
    try:
        return render_documents(documents, folder, progress=progress)
    except pdf.PdfFault as fault:
        if templates.is_own(WINDOWS):
            raise TemplateFault(templates.sentence(WINDOWS, fault)) from fault
        raise


def sheet_of(view: PartnerView, letter: Letter) -> Sheet:
    """Everything on the page that the letter does not say already."""
    station, zone = view.station, view.station.zone
    rows, slots = records(view.windows), offered_slots(view)
    facts = [formats.band(view.band), formats.period_title(view.first_night, view.last_night)]
    if zone is not None:
        facts.append(f"your time: {zone.key.replace('_', ' ')} ({formats.offsets(zone, *view.edges)})")
    return Sheet(
        title=f"{station.call} with {view.home.call} by the Moon, plan {view.number}",
        author=letter.sender_name,
        call=station.call,
        name=formats.short(one_line(station.name or "")),
        facts=tuple(facts),
        local_head="your time" if zone else "",
        lines=tuple(_line(row, zone, _labels(slots, row)) for row in rows),
        heading=WINDOWS_HEADING,
        note=_note(rows, bool(letter.slots)),
        skyline=_skyline(view, slots, PAPERS[view.paper].text_width),
    )


def _skyline(view: PartnerView, slots: tuple[OfferedSlot, ...], width: float) -> Markup:
    """The Moon over the partner's own skyline: each slot's track, and the window around it with its full hours."""
    moon, zone = MoonTracks(view.samples), view.station.zone or dt.UTC
    passages, hours, told = [], [], []
    for row in records(view.windows):
        mine = [one for one in slots if one.start_utc < row["window_end_utc"] and one.end_utc > row["window_start_utc"]]
        if not mine:
            continue
        start, end = as_instant(row["window_start_utc"]), as_instant(row["window_end_utc"])
        whole = moon.at("partner", start, end, WINDOW_POINTS)
        if whole is not None:
            passages.append(Track(*whole, slot=False))
            hours += _hour_marks(moon, (start, end), mine, zone)
        for one in mine:
            seen = moon.at("partner", one.start_utc, one.end_utc, SLOT_POINTS)
            if seen is not None:
                label = f"{one.label} {formats.slot_span(one.start_utc, one.end_utc, zone)}"
                told.append((Track(*seen, slot=True), label))
    if not told:
        return Markup("")
    title = skyline_words(view.call, [(label, track.highest_deg) for track, label in told])
    return skyline_chart(Skyline(mask_arrays(view.station), passages, hours, told, title), width, SKYLINE_HEIGHT)


def _hour_marks(
    moon: MoonTracks, window: tuple[dt.datetime, dt.datetime], slots: list[OfferedSlot], zone: dt.tzinfo
) -> list[HourMark]:
    """Where the Moon stands at each full hour of a window outside its slots."""
    start, end = window
    whole = dt.timedelta(hours=1)
    first = start.replace(minute=0, second=0, microsecond=0) + whole
    marks = []
    for moment in (first + whole * step for step in range(int((end - first) / whole) + 1) if first <= end):
        seen = moon.at("partner", moment, moment, 1)
        if seen is not None and not any(one.start_utc <= moment <= one.end_utc for one in slots):
            marks.append(HourMark(float(seen[0][0]), float(seen[1][0]), f"{moment.astimezone(zone):%H:%M}"))
    return marks


def _labels(slots: tuple[OfferedSlot, ...], row: dict[str, Any]) -> str:
    """The labels of the slots in a window: `A`."""
    return ", ".join(
        slot.label
        for slot in slots
        if slot.start_utc < row["window_end_utc"] and slot.end_utc > row["window_start_utc"]
    )


def _line(row: dict[str, Any], zone: ZoneInfo | None, slot: str) -> Line:
    start, end = formats.inward(as_instant(row["window_start_utc"]), as_instant(row["window_end_utc"]))
    outcome = str(row.get("outcome") or "")
    values = [row.get(f"report_at_{end}_db") for end in ("partner", "home")]
    known = not any(is_missing(value) for value in values)
    return Line(
        local=short_span(start, end, zone, year=False) if zone else "",
        utc=short_span(start, end, dt.UTC, year=False),
        length=formats.duration((end - start).total_seconds() / 60.0),
        opens=_moon(row, "start"),
        closes=_moon(row, "end"),
        slot=slot,
        mark=outcome_mark(outcome) if outcome else Markup(""),
        outcome=outcome,
        reports=" / ".join(formats.signed(float(value or 0.0), 0) for value in values) if known else "",
    )


def _moon(row: dict[str, Any], edge: str) -> str:
    """Azimuth and apparent elevation at the partner."""
    height = row.get(f"partner_apparent_elevation_{edge}_deg", row[f"partner_elevation_{edge}_deg"])
    # A digit's width of space before a short one: elevations stand in one column.
    return f"{formats.azimuth(row[f'partner_azimuth_{edge}_deg'])} {formats.elevation(height):\N{FIGURE SPACE}>6}"


def _note(rows: list[dict[str, Any]], has_slots: bool) -> str:
    if not rows:
        return ""
    asked = " Tinted: with a slot. Only the slots are asked for." if has_slots else ""
    return (
        "Times are rounded into the window to the whole minute. Moon: azimuth from true north, then elevation, as you "
        "see it. Reports: you hear us, we hear you, in decibels (in 2500 Hz, ±3 dB), in the best part of the window."
        f"{asked}"
    )
