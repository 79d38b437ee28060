"""Times for a reader who switches clocks: the words by home's clock, and the same words by UTC and by each partner's.

From the plan's zones. All words are made here, so that the page's script only swaps texts; paper shows home's alone.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from markupsafe import Markup, escape

from pipeline.reports.views import period_edges
from pipeline.wording import formats

if TYPE_CHECKING:
    from pipeline.plan.plan import Plan

# Parts the words by one clock from those by the next; no time is written with it.
BETWEEN = "|"


class Timed(str):
    """Words by home's clock that know the instant they tell, and how they read by the other clocks."""

    instant: dt.datetime
    by_other_clocks: tuple[str, ...]


@dataclass(frozen=True)
class Clock:
    """A clock to choose: `place` in `other_zones` from 1 on, 0 for home; what stands in the list and on the pages."""

    place: int
    name: str
    label: str
    words: str


def other_zones(plan: Plan) -> tuple[dt.tzinfo, ...]:
    """UTC, then the zones of the partners, each once."""
    zones = {str(one.zone): one.zone for one in plan.inputs.partners if one.zone is not None}
    return (dt.UTC, *zones.values())


def timed(plan: Plan, instant: dt.datetime, words: Callable[[dt.tzinfo], str]) -> Timed:
    """The words that `words` makes of a zone, by all clocks."""
    told = Timed(words(plan.zone))
    told.instant = instant.astimezone(dt.UTC)
    told.by_other_clocks = tuple(words(zone) for zone in other_zones(plan))
    return told


def time_element(words: str) -> Markup:
    """`<time>` with the words by the other clocks beside it; what tells no instant stays as it is."""
    if not isinstance(words, Timed):
        return escape(words)
    others = escape(BETWEEN.join(words.by_other_clocks))
    return Markup(f'<time datetime="{words.instant:%Y-%m-%dT%H:%MZ}" data-clocks="{others}">{escape(words)}</time>')


def whose(calls: str | Sequence[str]) -> Markup:
    """The attribute that says to which partners an element belongs."""
    told = calls if isinstance(calls, str) else " ".join(calls)
    return Markup(f' data-calls="{escape(told)}"')


def clocks_of(plan: Plan) -> tuple[Clock, ...]:
    """Home's clock, UTC, and that of each partner whose zone is known."""
    edges = period_edges(plan)
    places = {str(zone): place for place, zone in enumerate(other_zones(plan), start=1)}
    offsets = {str(zone): formats.offsets(zone, *edges) for zone in other_zones(plan)}
    home = formats.offsets(plan.zone, *edges)
    own = Clock(0, plan.inputs.home.call, f"home, {plan.inputs.home.call} ({home})", "")
    found = [own, Clock(1, "UTC", "UTC", "times in UTC")]
    for station in plan.inputs.partners:
        if station.zone is not None:
            offset = offsets[str(station.zone)]
            words = f"times at {station.call}, {offset}"
            found.append(Clock(places[str(station.zone)], station.call, f"{station.call} ({offset})", words))
    return tuple(found)


def clock_notes(zone: dt.tzinfo, edges: tuple[dt.datetime, dt.datetime], whose: str) -> tuple[str, ...]:
    """A sentence for each clock change of a zone between two instants."""
    notes = []
    for moment, before, after in formats.clock_changes(zone, *edges):
        there = moment.astimezone(zone)
        notes.append(
            f"Clocks {whose} change on {formats.day_long(there.date())} at {formats.clock(moment)} UTC: "
            f"{before} before, {after} after."
        )
    return tuple(notes)
