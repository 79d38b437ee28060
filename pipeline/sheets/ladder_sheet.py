"""The ladder sheet: what to do when a slot goes quiet, its messages, the air tonight, and a mark for each period.

From the night's slots; figures by `operating.ladders`, words by `wording.ladders`.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pipeline.operating.air_tonight import AirTonight, air_tonight
from pipeline.operating.dials import slot_dials
from pipeline.operating.ladder_figures import ladder_figures, moon_rise_db, slot_means
from pipeline.operating.ladders import Do, Ladder, LadderFigures, Rung, ladders_of
from pipeline.operating.turns import End, turns_of
from pipeline.plan.views import Slot
from pipeline.reports.views import PAPERS
from pipeline.sheets.ladder_fit import text_size_pt
from pipeline.sheets.noise_check import NoiseCheck
from pipeline.wording import formats
from pipeline.wording.ladders import (
    HEARD_WORDS,
    MESSAGES,
    STEP_WORDS,
    cloud_words,
    figure_words,
    minutes_words,
    odds_words,
    rain_words,
    weaker_words,
)

if TYPE_CHECKING:
    from pipeline.operating.night_track import NightTrack
    from pipeline.plan.views import NightView

SLOTS_A_PAGE = 3
TAIL = (Do.RING, Do.FALL_BACK, Do.PACK)
# More marks than this are too narrow for a pencil: then a mark stands for several periods.
MOST_MARKS = 60
NOT_AGREED = 16 * "_"
SEE_ABOVE = "see above"


@dataclass(frozen=True)
class SlotLadders:
    """All that a slot's ladders tell, as values."""

    slot: Slot
    figures: LadderFigures
    ladders: tuple[Ladder, ...]
    air: AirTonight | None


@dataclass(frozen=True)
class Cell:
    """A step in one slot."""

    minutes: str
    figure: str


@dataclass(frozen=True)
class Row:
    """A step for all slots of the page."""

    step: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class Section:
    """A ladder: what is heard, how likely in each slot, its steps."""

    title: str
    odds: tuple[str, ...]
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class Marks:
    """A line of the log: one mark a period, each named by the clock."""

    words: str
    clocks: tuple[str, ...]


@dataclass(frozen=True)
class SlotMarks:
    """Both directions of a slot."""

    number: str
    call: str
    lines: tuple[Marks, ...]
    note: str


@dataclass(frozen=True)
class LadderPage:
    """One page at `text_pt`: its slots' heads, what is known of each, the ladders, their common end and the marks."""

    heads: tuple[tuple[str, str, str], ...]
    facts: tuple[Row, ...]
    sections: tuple[Section, ...]
    marks: tuple[SlotMarks, ...]
    text_pt: float


@dataclass(frozen=True)
class LadderSheet:
    """Up to three slots a page, and the values behind them; `messages` are (what was heard, what is sent next)."""

    pages: tuple[LadderPage, ...]
    slots: tuple[SlotLadders, ...]
    messages: tuple[tuple[str, str], ...] = MESSAGES


def night_ladders(night: NightView, track: NightTrack, moon_too_weak: bool = False) -> tuple[SlotLadders, ...]:
    """The ladders of every slot as values: sheet and telephone page take the same.

    `moon_too_weak`: the set-up sheet says that this dish cannot measure the Moon's noise; no ladder asks for it.
    """
    made = []
    for slot in night.slots:
        means = slot_means(night.samples, slot)
        rise = moon_rise_db(means)
        seen = not math.isnan(rise) and not moon_too_weak and NoiseCheck(rise, 0.0, ()).is_measurable
        figures = ladder_figures(night, slot, slot_dials(night.inputs, track.sky, slot), seen)
        made.append(SlotLadders(slot, figures, ladders_of(figures), air_tonight(night, slot)))
    return tuple(made)


def ladder_sheet(night: NightView, track: NightTrack, moon_too_weak: bool = False) -> LadderSheet:
    """The sheet of one night; no page without a slot."""
    made = night_ladders(night, track, moon_too_weak)
    starts = range(0, len(made), SLOTS_A_PAGE)
    return LadderSheet(tuple(_page(night, made[start : start + SLOTS_A_PAGE]) for start in starts), made)


def _page(night: NightView, some: Sequence[SlotLadders]) -> LadderPage:
    told: set[Do] = set()
    sections = []
    for place, ladder in enumerate(some[0].ladders):
        columns = [one.ladders[place] for one in some]
        rows = _rows(columns, some, told)
        odds = tuple(odds_words(one.odds, each.figures) for one, each in zip(columns, some, strict=True))
        likely = tuple(words and f"likely: {words}" for words in odds)
        sections.append(Section(HEARD_WORDS[ladder.heard], likely, rows))
    ends = tuple(_row(do, [_tail(one, do) for one in some], some) for do in TAIL)
    facts, marks = _facts(night, some), tuple(_marks(one.slot) for one in some)
    sections.append(Section("Every ladder ends", ("",) * len(some), ends))
    heads = [Row(one.title, tuple(Cell("", words) for words in one.odds)) for one in sections]
    all_rows = [*facts, *heads, *(row for one in sections for row in one.rows)]
    printed = [(row.step, *(f"{cell.minutes} {cell.figure}" for cell in row.cells)) for row in all_rows]
    lines = sum(len(one.lines) for one in marks)
    return LadderPage(
        heads=tuple((str(one.slot.number), one.slot.call, _span(one.slot)) for one in some),
        facts=facts,
        sections=tuple(sections),
        marks=marks,
        text_pt=text_size_pt(printed, lines, PAPERS[night.inputs.season.report.paper]),
    )


def _rows(columns: Sequence[Ladder], some: Sequence[SlotLadders], told: set[Do]) -> tuple[Row, ...]:
    """The steps of one kind of ladder over all slots, each where the first slot that has it has it.

    What an earlier ladder of the page told is not told again.
    """
    order: list[Do] = []
    for ladder in columns:
        order += [rung.do for rung in ladder.rungs if rung.do not in order and rung.do not in TAIL]
    order.sort(key=lambda do: min(_place(ladder, do) for ladder in columns))
    rows = []
    for do in order:
        rungs = [next((rung for rung in ladder.rungs if rung.do is do), None) for ladder in columns]
        rows.append(_row(do, rungs, some, do in told))
        told.add(do)
    return tuple(rows)


def _place(ladder: Ladder, do: Do) -> int:
    return next((place for place, rung in enumerate(ladder.rungs) if rung.do is do), len(ladder.rungs))


def _tail(one: SlotLadders, do: Do) -> Rung | None:
    return next((rung for rung in one.ladders[0].rungs if rung.do is do), None)


def _row(do: Do, rungs: Sequence[Rung | None], some: Sequence[SlotLadders], is_told: bool = False) -> Row:
    cells = []
    for rung, one in zip(rungs, some, strict=True):
        if rung is None:
            cells.append(Cell("", "none" if do is Do.FALL_BACK else ""))
            continue
        figure = figure_words(do, one.figures)
        cells.append(Cell(minutes_words(rung.minutes), SEE_ABOVE if is_told and figure else figure))
    return Row(STEP_WORDS[do], tuple(cells))


def _span(slot: Slot) -> str:
    return f"{formats.clock(slot.start)}–{formats.clock(slot.end)}"


def _facts(night: NightView, some: Sequence[SlotLadders]) -> tuple[Row, ...]:
    """Whose end is the weaker, how to reach them, who has our key, the weather's price."""
    meet = night.inputs.season.letters.meet
    telephones = [one.slot.partner.telephone or "" for one in some]

    def row(head: str, words: Sequence[str]) -> Row:
        return Row(head, tuple(Cell("", one) for one in words))

    return (
        row("Hears less", [weaker_words(one.figures) for one in some]),
        row("We meet", [one.slot.partner.meet or meet or NOT_AGREED for one in some]),
        *((row("Their telephone", telephones),) if any(telephones) else ()),
        row("Rain falling here", [rain_words(one.air) for one in some]),
        row("A cloud that hides the Moon", [cloud_words(one.air) for one in some]),
    )


def _marks(slot: Slot) -> SlotMarks:
    """One mark a period and way, from the opener's first period on; several periods a mark in very short ones."""
    if slot.mode is None:
        return SlotMarks(str(slot.number), slot.call, (), "")
    turns = turns_of(slot.opener, slot.mode)
    # Where a slot begins on the other's minute, nobody sends in that one.
    begin = turns.first_start(turns.opener, slot.start)
    ways: tuple[tuple[End, str], ...] = (("partner", "we heard them"), ("home", "they heard us"))
    lines, each = [], 1
    for end, words in ways:
        starts = _period_starts(slot, turns.first_start(end, begin), turns.period_s)
        each = math.ceil(len(starts) / MOST_MARKS) or 1
        lines.append(Marks(words, tuple(f"{one:%M}" for one in starts[::each])))
    note = f"{each} periods a mark" if each > 1 else ""
    return SlotMarks(str(slot.number), slot.call, tuple(lines), note)


def _period_starts(slot: Slot, first: dt.datetime, period_s: float) -> list[dt.datetime]:
    """Every period of one end that ends within the slot."""
    step, length = dt.timedelta(seconds=2 * period_s), dt.timedelta(seconds=period_s)
    number = max(int((slot.end - length - first) / step) + 1, 0) if slot.end - length >= first else 0
    return [first + step * place for place in range(number)]
