"""`windows.pdf`: one partner's slots, pointing and dials, and all windows, on one or two sheets for its operating desk.

From the letter's own document and the plan's windows of this partner; pdf/ua-1 through `reports.rendering`. In the
partner's language where the page's font has its letters, the English sheets behind.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from pipeline.inputs.model import mask_arrays
from pipeline.letters.document import Letter
from pipeline.letters.offers import OfferedSlot, offered_slots
from pipeline.letters.templates import WINDOWS, TemplateFault, Templates
from pipeline.letters.two_languages import english_view
from pipeline.reports import fonts, pdf
from pipeline.reports.charts import OUTCOMES, outcome_mark
from pipeline.reports.light_columns import set_right
from pipeline.reports.light_drawings import light, picture_address
from pipeline.reports.moon_tracks import MoonTracks
from pipeline.reports.page import count_rule, margin_rule, page_rule
from pipeline.reports.rendering import Document, render_documents
from pipeline.reports.skylines import HourMark, Skyline, Track, skyline_chart
from pipeline.reports.views import PAPERS
from pipeline.windows.frames import is_missing, records
from pipeline.windows.instants import as_instant
from pipeline.wording import formats, phrases, sentences
from pipeline.wording.speech import Speech, speech_for
from pipeline.wording.words import one_line, short_span

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from pipeline.plan.views import PartnerView

# Points along a window and along a slot; height of the drawing, points.
WINDOW_POINTS, SLOT_POINTS = 49, 9
SKYLINE_HEIGHT = 148.0


@dataclass(frozen=True)
class Line:
    """One window: times in words, length, the Moon at both edges, what it is worth: its mark, its class and its word.

    `figures` are length and Moon for one cell.
    """

    local: str
    utc: str
    length: str
    opens: str
    closes: str
    slot: str
    mark: Markup
    level: str
    outcome: str
    reports: str
    figures: str = ""


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
    heads: Mapping[str, str]


def windows_document(view: PartnerView, letter: Letter, templates: Templates) -> Document:
    """What becomes the PDF: `letter` is in English beneath where the partner has another language."""
    other = english_view(view)
    if other is not None and letter.english is not None and not fonts.can_draw(_page_words(speech_for(view.station))):
        view, letter, other = other, letter.english, None
    sheet = last_sheet = sheet_of(view, letter)
    english = None
    if other is not None and letter.english is not None:
        last_sheet = sheet_of(other, letter.english)
        english = {"sheet": last_sheet, "letter": letter.english}
    # The count is that of the whole document: in its first language.
    count = count_rule(speech_for(view.station).pattern(phrases.PAGE_COUNT))
    html = templates.render(
        WINDOWS,
        sheet=sheet,
        letter=letter,
        english=english,
        faces=Markup(fonts.faces_by_file()),
        page_css=Markup(f"{page_rule(PAPERS[view.paper])}\n{margin_rule(letter.footer)}\n{count}\n{_mark_rules()}"),
        for_pdf=True,
    )
    last = " ".join(last_sheet.heading if last_sheet.lines else (last_sheet.call, last_sheet.name))
    return Document(light(html), view.first_night, view.number, 1, last.strip())


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
    station, zone, speech = view.station, view.station.zone, speech_for(view.station)
    rows, slots, heads = records(view.windows), offered_slots(view), _heads(view, speech)
    lines = [_line(row, zone, _labels(slots, row), speech) for row in rows]
    parts = [(line.length, line.opens, line.closes) for line in lines]
    figures_head, *figures = set_right([(heads["length"], heads["opens"], heads["closes"]), *parts])
    facts = [formats.band(view.band), speech.period(view.first_night, view.last_night)]
    if zone is not None:
        offset = _offsets(zone, *view.edges, speech)
        facts.append(speech.say(phrases.PAGE_ZONE, zone=zone.key.replace("_", " "), offset=offset))
    return Sheet(
        title=f"{station.call} with {view.home.call} by the Moon, plan {view.number}",
        author=letter.sender_name,
        call=station.call,
        name=formats.short(one_line(station.name or "")),
        facts=tuple(facts),
        local_head=speech.say(sentences.HEAD_LOCAL) if zone else "",
        lines=tuple(replace(line, figures=words) for line, words in zip(lines, figures, strict=True)),
        heading=(speech.say(phrases.PAGE_ALL), speech.say(phrases.PAGE_ALL_REST)),
        note=_note(rows, bool(letter.slots), speech),
        skyline=_skyline(view, slots, PAPERS[view.paper].text_width, speech),
        heads=heads | {"figures": figures_head},
    )


def _mark_rules() -> str:
    """Each outcome's mark as the ground of its cell: a drawing in every line costs the PDF engine a tenth more."""
    marks = {word: outcome_mark(word) for word in OUTCOMES}
    return "\n".join(
        f'.every .{word} {{ background-image: url("{picture_address(mark)}"); }}'
        for word, mark in marks.items()
        if mark
    )


def _heads(view: PartnerView, speech: Speech) -> dict[str, str]:
    """The short words of the page by what they stand over."""
    key = phrases.PAGE_SKYLINE_KEY if view.station.zone else phrases.PAGE_SKYLINE_KEY_UTC
    return {
        "by": speech.say(phrases.PAGE_BY, home=view.home.call),
        "slot": speech.say(phrases.PAGE_SLOT),
        "answer": speech.say(phrases.PAGE_ANSWER),
        "other": speech.pattern(phrases.PAGE_OR),
        "air": speech.say(sentences.AIR_TITLE),
        "skyline": speech.say(phrases.PAGE_SKYLINE),
        "skyline_key": speech.say(key),
        "length": speech.say(phrases.PAGE_LENGTH),
        "opens": speech.say(phrases.PAGE_OPENS),
        "closes": speech.say(phrases.PAGE_CLOSES),
        "outcome": speech.say(phrases.PAGE_OUTCOME),
        "reports": speech.say(phrases.PAGE_REPORTS),
    }


def _page_words(speech: Speech) -> str:
    """Words of the page, enough to tell whether a font has the letters of their language."""
    return "".join(map(speech.pattern, (phrases.PAGE_SKYLINE_KEY, phrases.PAGE_NOTE, phrases.PAGE_ALL_REST)))


def _offsets(zone: ZoneInfo, first: dt.datetime, last: dt.datetime, speech: Speech) -> str:
    """`UTC+2`, or `UTC+2, from Sun 28 Mar UTC+3` where the clocks change in between."""
    text = formats.offset(first.astimezone(zone).utcoffset())
    for moment, _, after in formats.clock_changes(zone, first, last):
        date = speech.day(moment.astimezone(zone).date(), False)
        text = speech.say(phrases.PAGE_OFFSET, before=text, date=date, after=after)
    return text


def _slot_span(start: dt.datetime, end: dt.datetime, zone: dt.tzinfo, speech: Speech) -> str:
    """`Fri 12 Mar 22:15–23:15`; the end's date stands there where it is another."""
    edges = [moment.astimezone(zone) for moment in (start, end)]
    first, last = (f"{speech.day(moment.date(), False)} {formats.clock(moment)}" for moment in edges)
    return f"{first}–{formats.clock(edges[1])}" if edges[0].date() == edges[1].date() else f"{first} – {last}"


def _window_span(start: dt.datetime, end: dt.datetime, zone: dt.tzinfo, speech: Speech) -> str:
    """A window's edges in a narrow column: other languages write longer dates, and get a dash between the hours."""
    return short_span(start, end, zone, False) if speech.locale is None else _slot_span(start, end, zone, speech)


def _skyline(view: PartnerView, slots: tuple[OfferedSlot, ...], width: float, speech: Speech) -> Markup:
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
                label = f"{one.label} {_slot_span(one.start_utc, one.end_utc, zone, speech)}"
                told.append((Track(*seen, slot=True), label))
    if not told:
        return Markup("")
    heights = [
        speech.say(phrases.PAGE_SLOT_HEIGHT, slot=label, degrees=f"{track.highest_deg:.0f}") for track, label in told
    ]
    title = speech.say(phrases.PAGE_SKYLINE_SHOWS, call=view.call, slots=speech.listed(heights))
    points = tuple(map(speech.say, phrases.PAGE_POINTS))
    drawing = Skyline(mask_arrays(view.station), passages, hours, told, title, points)
    return skyline_chart(drawing, width, SKYLINE_HEIGHT)


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


def _line(row: dict[str, Any], zone: ZoneInfo | None, slot: str, speech: Speech) -> Line:
    start, end = formats.inward(as_instant(row["window_start_utc"]), as_instant(row["window_end_utc"]))
    outcome = str(row.get("outcome") or "")
    values = [row.get(f"report_at_{end}_db") for end in ("partner", "home")]
    known = not any(is_missing(value) for value in values)
    return Line(
        local=_window_span(start, end, zone, speech) if zone else "",
        utc=_window_span(start, end, dt.UTC, speech),
        length=formats.duration((end - start).total_seconds() / 60.0),
        opens=_moon(row, "start"),
        closes=_moon(row, "end"),
        slot=slot,
        mark=outcome_mark(outcome) if outcome else Markup(""),
        level=outcome.replace(" ", "-"),
        outcome=speech.say(phrases.OUTCOMES[outcome]) if outcome else "",
        reports=" / ".join(formats.signed(float(value or 0.0), 0) for value in values) if known else "",
    )


def _moon(row: dict[str, Any], edge: str) -> str:
    """Azimuth and apparent elevation at the partner."""
    height = row.get(f"partner_apparent_elevation_{edge}_deg", row[f"partner_elevation_{edge}_deg"])
    # A digit's width of space before a short one: elevations stand in one column.
    return f"{formats.azimuth(row[f'partner_azimuth_{edge}_deg'])} {formats.elevation(height):\N{FIGURE SPACE}>6}"


def _note(rows: list[dict[str, Any]], has_slots: bool, speech: Speech) -> str:
    """How the lines are read."""
    if not rows:
        return ""
    note = speech.say(phrases.PAGE_NOTE)
    return f"{note} {speech.say(phrases.PAGE_TINTED)}" if has_slots else note
