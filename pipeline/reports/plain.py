"""Explanations and station checks as plain text for a terminal: aligned columns, folded to its width.

Numbers are printed with the digits that an engineer needs to follow a sum; files keep all of them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from pipeline.explain.explanation import Explanation, Line, Section, Value
from pipeline.explain.oddities import Oddity
from pipeline.explain.station_check import StationCheck
from pipeline.pairs.measured import correction_from
from pipeline.reports.folding import WIDTH, folded
from pipeline.reports.method_view import assumed_words
from pipeline.wording import safe_side
from pipeline.wording.corrections import correction_words
from pipeline.wording.explain import headline_words, note_words, source_words
from pipeline.wording.measured import figures_words
from pipeline.wording.plausibility import oddity_words

QUANTITY, NUMBER, UNIT = 28, 10, 5
# Where in the files a remark of a check belongs, as `qf4lum.yaml, line 9: `; empty where that is not known.
Placed = Callable[[StationCheck, Oddity], str]
INDENT = "  "
MARK = "*"
# Digits after the point by unit; for other units the size of the number decides.
DIGITS = {"deg": 2, "dB": 2, "dBi": 2, "dBW": 2, "K": 1, "Hz": 1, "Hz/s": 3, "km": 0, "s": 3, "m": 1, "": 3}
ASSUMED = f"{MARK} rests on a figure that the station file does not give: a default of the band is taken."
CAUTION = (
    "A caution, never a compliance statement; local codes and licensed practice come first. Off the axis the density "
    "falls fast, but a low Moon sweeps the beam over people and roofs. Never look along the axis; transmitter off for "
    "work at the feed."
)


def explanation_text(explanation: Explanation, width: int = WIDTH) -> str:
    """The whole explanation, section by section, its sources numbered at the end."""
    place = f" at {explanation.site}" if explanation.site else ""
    title = f"{explanation.home}{place} and {explanation.partner}, {explanation.instant:%Y-%m-%d %H:%M:%S} UTC"
    head = f"{title}\n{INDENT}{headline_words(explanation.headline)}"
    return _set([head, *_sections(explanation.sections)], width)


def nowhere(check: StationCheck, odd: Oddity) -> str:
    """Where nothing is known of the lines of files."""
    return ""


def station_check_text(check: StationCheck, width: int = WIDTH, place: Placed = nowhere) -> str:
    """One station: figures, the caution, what was assumed, what looks odd, `place` saying in which line."""
    blocks = [_title(check), *_sections(check.sections), f"Caution\n{INDENT}{CAUTION}"]
    if check.assumed:
        blocks.append(f"Assumed, since the file does not say\n{INDENT}{_assumed(check)}")
    if check.oddities:
        said = (f"{INDENT}- {place(check, one)}{oddity_words(one)}" for one in check.oddities)
        blocks.append("\n".join(["Worth a second look", *said]))
    return _set(blocks, width)


def check_table_text(checks: Sequence[StationCheck], width: int = WIDTH, place: Placed = nowhere) -> str:
    """All stations, a row each, then what was assumed and what looks odd, station by station."""
    heads = (
        ("", "band", "gain", "beam", "cold", "own", "ground", "Sun", "Moon", "public"),
        ("", "", "", "width", "sky", "echo", "noise", "noise", "noise", "beyond"),
        ("", "", "dBi", "deg", "K", "dB", "dB", "dB", "dB", "m"),
    )
    wide = max([8, *(len(check.station.call) for check in checks)])
    widths = (wide, 6, 5, 5, 5, 6, 6, 5, 5, 9)
    rows = [*heads, *(_row(check) for check in checks)]
    table = [
        INDENT
        + "  ".join(
            _cell(text, width, place) for place, (text, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]
    notes = (
        "Cold sky: whole system at the zenith. Own echo: in 2500 Hz at 384,400 km. Ground, Sun and Moon noise: what "
        "they add to the noise of a cold sky. Public beyond: distance on the axis, at full power, from which the "
        "level for the general public is kept; 0: kept in front of the dish, never at the feed."
    )
    blocks = ["\n".join(table), f"{INDENT}{notes}\n{INDENT}{CAUTION}"]
    for check in checks:
        said = [f"{INDENT}- {place(check, one)}{oddity_words(one)}" for one in check.oddities]
        if check.assumed:
            said.append(f"{INDENT}- assumed: {_assumed(check)}")
        taken = None if check.measured is None else correction_from(check.measured)
        if check.measured is not None and check.measured.figures is not None and taken is not None:
            found = figures_words(check.measured, check.measured.figures)
            said.append(f"{INDENT}- measured: {found} The plan takes it as {correction_words(taken)}.")
        blocks.append("\n".join([_title(check), *said]))
    return _set(blocks, width)


def _row(check: StationCheck) -> tuple[str, ...]:
    figures, far = check.figures, check.exposure
    return (
        check.station.call,
        check.band,
        f"{figures['gain']:.1f}",
        f"{figures['beamwidth']:.2f}",
        f"{figures['cold sky, whole system']:.0f}",
        f"{figures['own echo at mean distance']:.1f}",
        f"{figures['ground noise rise']:.1f}",
        f"{figures['Sun noise rise']:.1f}",
        f"{figures['Moon noise rise']:.1f}",
        "not known" if far is None else safe_side.up(far.general_public_peak_m),
    )


def _cell(text: str, width: int, place: int) -> str:
    """The call and the band stand left, numbers right."""
    return f"{text:{width}}" if place < 2 else f"{text:>{width}}"


def _title(check: StationCheck) -> str:
    away = "" if check.from_home_km is None else f", {check.from_home_km:,.0f} km from home"
    place = f"at {check.locator}{away}"
    return f"{check.station.call} {check.station.title}, {check.band}, {check.frequency_mhz:g} MHz, {place}"


def _assumed(check: StationCheck) -> str:
    station, below_deg = check.station, check.unknown_skyline_deg
    words = [
        f"all equipment on {check.band}" if key == f"bands.{check.band}" else assumed_words(key, station, below_deg)
        for key in check.assumed
    ]
    return "; ".join(dict.fromkeys(words)).replace("\N{NO-BREAK SPACE}", " ") + "."


def _sections(sections: Sequence[Section]) -> list[str]:
    """The sections, the meaning of the mark where there is one, and the list of sources."""
    lines = [line for section in sections for line in section.lines]
    sources = list(dict.fromkeys(source_words(line.source) for line in lines if line.source))
    blocks = [_section(section, sources) for section in sections]
    if any(line.assumed for line in lines):
        blocks.append(ASSUMED)
    listed = [f"{INDENT}[{place}] {source}" for place, source in enumerate(sources, 1)]
    return [*blocks, "\n".join(["Sources", *listed])]


def _section(section: Section, sources: list[str]) -> str:
    note = [f"{INDENT}{note_words(section.note)}"] if section.note else []
    return "\n".join([section.title, *(_line(line, sources) for line in section.lines), *note])


def _line(line: Line, sources: list[str]) -> str:
    """Quantity, value, unit, mark, then the formula and the number of its source."""
    mark = MARK if line.assumed else " "
    source = f"[{sources.index(source_words(line.source)) + 1}]" if line.source else ""
    # A number of a source stays with the word before it.
    why = f"{line.formula}\N{NO-BREAK SPACE}{source}".strip()
    if isinstance(line.value, str):
        # Words need no column of their own: they take the room of number and unit.
        words = f"{line.value} {line.unit}".strip()
        space = " " if len(words) >= NUMBER + 1 + UNIT and line.assumed else ""
        head = f"{INDENT}{line.quantity:{QUANTITY}} {words:<{NUMBER + 1 + UNIT}}{space}{mark} "
    else:
        value = line.value
        if line.at_least and value is not None:
            value = safe_side.rounded(value, "up", DIGITS[line.unit])
        head = f"{INDENT}{line.quantity:{QUANTITY}} {printed(value, line.unit):>{NUMBER}} {line.unit:{UNIT}}{mark} "
    return f"{head}{why}".rstrip()


def _set(blocks: Sequence[str], width: int) -> str:
    """Blocks with an empty line between them, folded."""
    return folded("\n\n".join(blocks), width).replace("\N{NO-BREAK SPACE}", " ")


def printed(value: Value, unit: str) -> str:
    """A number with the digits of its unit; `not known` for None; a word as it is."""
    if value is None:
        return "not known"
    if isinstance(value, str):
        return value
    if unit == "MHz":
        return f"{value:.10g}"
    text = f"{value:,.{DIGITS.get(unit, 2)}f}"
    return text.removeprefix("-") if float(text.replace(",", "")) == 0.0 else text
