"""The page for a telephone at the dish: one night as a timetable that knows the time, in one file without a network.

From the night's track, its sheets and the dials minute by minute; the page's script only interpolates these tables.
Sources: a JSON text in a script element (HTML standard, 4.12.1.3), hashes of a content security policy (W3C, level 3).
"""

from __future__ import annotations

import base64
import dataclasses
import datetime as dt
import hashlib
import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
from markupsafe import Markup

from pipeline.operating.dialing import EACH_FOLLOWS
from pipeline.operating.dials import MINUTE_S, dials_at
from pipeline.operating.night_track import NightTrack
from pipeline.operating.search_width import dial_step_hz
from pipeline.operating.turns import turns_of
from pipeline.plan.views import Slot, Stretch
from pipeline.reports.fonts import faces_embedded
from pipeline.reports.page import environment
from pipeline.reports.precision import rounded_tree
from pipeline.reports.unbroken import unbroken
from pipeline.sheets.dish_moving import step_s
from pipeline.sheets.dish_sheet import dial_digits, trouble_at
from pipeline.sheets.ladder_sheet import SlotLadders
from pipeline.sheets.radio_sheet import RadioSlot, echo_nominal_hz
from pipeline.sheets.readings import readings
from pipeline.windows.instants import as_instant
from pipeline.wording import formats, tonight
from pipeline.wording.ladders import ladder_lines

if TYPE_CHECKING:
    from pipeline.plan.views import NightView
    from pipeline.sheets.document import Sheets

FloatArray = npt.NDArray[np.float64]
TONIGHT = "tonight.html"
SCRIPT = ("kept", "figures", "tables", "turns", "timetable", "glass", "touch", "begin")
# An offset beyond these is a slip of the finger: a ring is anywhere, an inclinometer is not.
MOST_DIAL_OFFSET_DEG, MOST_INCLINOMETER_OFFSET_DEG = 180.0, 45.0
DAY = dt.timedelta(days=1)


@dataclass(frozen=True)
class PlainSlot:
    """A slot of the plain timetable."""

    radio: RadioSlot
    feed: str


@dataclass(frozen=True)
class TonightPage:
    """All that the template prints: the plain timetable of `sheets`, and what the script reads."""

    sheets: Sheets
    slots: tuple[PlainSlot, ...]
    heard: dict[str, str]
    data: Markup
    policy: str
    style: Markup
    script: Markup


def tonight_html(night: NightView, track: NightTrack, sheets: Sheets) -> str:
    """The page of one night, from the same track and sheets that the paper is made of."""
    script = _script()
    bare = TonightPage(
        sheets=sheets,
        slots=tuple(PlainSlot(radio, feed) for radio, feed in zip(_radio_slots(sheets), _feeds(sheets), strict=True)),
        heard=tonight.heard_words(),
        data=script_json(tonight_data(night, track, sheets)),
        policy="",
        style=Markup(),
        script=script,
    )
    style = Markup("\n".join(("", faces_embedded(_render(bare)), _part("tonight.css"))))
    policy = (
        f"default-src 'none'; style-src {source_hash(style)}; script-src {source_hash(script)}; font-src data:; "
        "base-uri 'none'; form-action 'none'"
    )
    return _render(dataclasses.replace(bare, style=style, policy=policy))


def _render(page: TonightPage) -> str:
    return environment().get_template(f"{TONIGHT}.jinja").render(page=page, words=tonight)


def _part(name: str) -> Markup:
    """The page's own style or script, as it stands in its element: that very text is hashed."""
    loader = environment().loader
    assert loader, "the templates have a folder"
    return Markup(loader.get_source(environment(), name)[0])


def _script() -> Markup:
    """The parts of the script as one, in the order in which they build on each other; none of its names leaves it."""
    parts = Markup("\n").join(_part(f"tonight/{name}.js") for name in SCRIPT)
    return Markup('(function () {\n"use strict";\n') + parts + Markup("}());")


def source_hash(text: str) -> str:
    """An element's text as a source of a content security policy."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def script_json(values: object) -> Markup:
    """JSON that no script element can be ended by, whatever a station's name holds."""
    text = unbroken(json.dumps(rounded_tree(values), ensure_ascii=False, allow_nan=False, separators=(",", ":")))
    for sign in "<>&\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return Markup(text)


def tonight_data(night: NightView, track: NightTrack, sheets: Sheets) -> dict[str, Any]:
    """What the script reads: instants in ms since 1970, tables with a value a minute, everything else in words."""
    mount = night.inputs.home.mount
    radio, feeds = _radio_slots(sheets), _feeds(sheets)
    shown = readings(track, night.slots, night.inputs.home.bands[night.band].polarization, mount, night.offsets)
    # One offset stands in the field; where the feed's position changes it, the table holds the difference.
    offset_deg = float(shown.inclinometer_offset_deg[0]) if track.time_s.size else 0.0
    slots = [
        made
        for its_ladders, its_radio, feed in zip(sheets.ladders.slots, radio, feeds, strict=True)
        for made in _slot(night, track, its_ladders, its_radio, feed)
    ]
    lines = sheets.setup.steps if sheets.setup else ()
    steps = [
        {"at": _ms(line.begins_utc), "title": line.title, "note": line.note}
        for line in lines
        if line.begins_utc is not None and not line.is_slot
    ]
    return {
        "night": formats.day_long(night.date),
        "key": f"mutual-moon {night.date} {night.number}",
        "edges": [_ms(edge) for edge in night.edges],
        "offsets_of_clock": _clock_offsets(night),
        "steps": steps,
        "slots": sorted(slots, key=lambda one: (one["start"], one["again"])),
        "moon": _moon(track, shown.inclinometer_deg - offset_deg, None if night.slots else _echo_hz(night, track)),
        "echo_send_hz": None if night.slots else echo_nominal_hz(night),
        "antenna": sheets.dish.antenna,
        "resolution_deg": mount.dial_resolution_deg,
        "digits": dial_digits(mount.dial_resolution_deg),
        "dial_offset_deg": night.offsets.of_dial(),
        "inclinometer_offset_deg": offset_deg,
        "most_offset_deg": [MOST_DIAL_OFFSET_DEG, MOST_INCLINOMETER_OFFSET_DEG],
        "words": tonight.page_words(),
    }


def _ms(moment: dt.datetime) -> int:
    return round(moment.timestamp() * 1000)


def _radio_slots(sheets: Sheets) -> tuple[RadioSlot, ...]:
    return tuple(slot for page in sheets.radio.pages for slot in page)


def _feeds(sheets: Sheets) -> tuple[str, ...]:
    return tuple(feed.words for feed in (*sheets.dish.feeds, *sheets.dish.more_feeds))


def _clock_offsets(night: NightView) -> list[list[int]]:
    """From when on local time stands how many minutes before UTC."""
    first, last = night.edges[0] - DAY, night.edges[1] + DAY
    begins = [first, *(moment for moment, _, _ in formats.clock_changes(night.zone, first, last))]
    return [
        [_ms(at), round((at.astimezone(night.zone).utcoffset() or dt.timedelta()).total_seconds() / 60)]
        for at in begins
    ]


def _slot(
    night: NightView, track: NightTrack, ladders: SlotLadders, radio: RadioSlot, feed: str
) -> list[dict[str, Any]]:
    """The slot, and once more its fall-back of the same night."""
    slot = ladders.slot
    said = {ladder.heard: ladder_lines(ladder, ladders.figures) for ladder in ladders.ladders}
    shared = {
        "number": radio.number,
        "call": slot.call,
        "state": f" ({radio.state})" if radio.state else "",
        "feed": feed,
        "turns": _turns(slot),
        "send_moves": night.inputs.season.policy.dialing != EACH_FOLLOWS,
        "step_hz": dial_step_hz(slot.home_mhz * 1e6),
        "ladders": {key: said[heard] for key, heard in tonight.HEARD.items()},
    }
    spans = [(slot.start, slot.end), *((slot.again_tonight,) if slot.again_tonight else ())]
    return [
        shared
        | {"again": bool(number), "start": _ms(start), "end": _ms(end)}
        | _tables(night, track, slot, (start, end))
        for number, (start, end) in enumerate(spans)
    ]


def _turns(slot: Slot) -> dict[str, Any] | None:
    """Who sends when; None where no mode is in common."""
    if slot.mode is None:
        return None
    turns = turns_of(slot.opener, slot.mode)
    return {"opener": turns.opener, "period_ms": turns.period_s * 1000.0}


def _tables(night: NightView, track: NightTrack, slot: Slot, span: Stretch) -> dict[str, Any]:
    """Dials a minute from the start to the end or the minute after it, and for which instants the dish is set."""
    start, end = span
    minutes = math.ceil((end - start).total_seconds() / MINUTE_S)
    times = tuple(start + dt.timedelta(minutes=minute) for minute in range(minutes + 1))
    dials = dials_at(night.inputs, track.sky, slot, times, len(times))
    return {
        "send_hz": dials.dialing.home_transmit_hz.tolist(),
        "listen_hz": dials.dialing.home_receive_hz.tolist(),
        "listen_a_minute_hz": dials.receive_a_minute_hz.tolist(),
        "aims": [_ms(aim) for aim in aims(start, end, step_s(track.half_beam_s))],
        "step_ms": step_s(track.half_beam_s) * 1000.0,
    }


def aims(start: dt.datetime, end: dt.datetime, every_s: float) -> Sequence[dt.datetime]:
    """The instants for which the dish is set, each the middle of its step: the start, and on while the slot lasts."""
    steps = math.ceil((end - start).total_seconds() / every_s - 0.5)
    return [start + dt.timedelta(seconds=every_s * number) for number in range(steps + 1)]


def _moon(track: NightTrack, elevation_deg: FloatArray, echo_hz: FloatArray | None) -> list[dict[str, Any]]:
    """The minutes of the pass (n,) in runs without a gap: azimuth and elevation to dial, and what forbids a minute."""
    if not track.time_s.size:
        return []
    breaks = np.flatnonzero(np.diff(track.time_s) > 1.5 * MINUTE_S) + 1
    return [
        {
            "start": _ms(as_instant(track.time_utc[rows[0]])),
            "azimuth_deg": track.moon.azimuth_deg[rows].tolist(),
            "elevation_deg": elevation_deg[rows].tolist(),
            "trouble": [trouble_at(track, int(row)) for row in rows],
            "echo_hz": None if echo_hz is None else echo_hz[rows].tolist(),
        }
        for rows in np.split(np.arange(track.time_s.size), breaks)
    ]


def _echo_hz(night: NightView, track: NightTrack) -> FloatArray:
    return np.asarray(echo_nominal_hz(night) + track.home_echo_doppler_hz)
