"""What a proposed time is judged on: survey, slot grid and agenda of the season, made from its inputs alone.

The stages are those of a plan, up to the agenda; none of its pages.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from pipeline.agenda.agenda import Agenda, Chosen, make_agenda
from pipeline.agenda.slot_grid import SlotGrid, make_slot_grid
from pipeline.pairs.survey import Progress, Survey, make_survey
from pipeline.record.inputs import Inputs
from pipeline.windows.beginning import with_beginning
from pipeline.windows.instants import minutes_of
from pipeline.windows.span import Span


@dataclass(frozen=True)
class Ground:
    """What a time is judged on."""

    survey: Survey
    grid: SlotGrid
    agenda: Agenda

    def holds(self, instant: dt.datetime) -> bool:
        """Whether an instant lies in a night for which something is planned."""
        period = self.grid.period
        return period.start <= instant < period.end and not self.grid.is_past(minutes_of(instant))

    def ahead(self, pair: int) -> list[Chosen]:
        """A partner's slots that are not over."""
        return [one for one in self.agenda.slots if one.pair == pair and not one.is_over]

    @property
    def edges(self) -> tuple[dt.datetime, dt.datetime]:
        """From when to when something is planned, UTC; without any time between where all of it is over."""
        period = self.grid.period
        begin = [start for start, date in zip(period.edges, period.dates, strict=False) if not self._is_past(date)]
        return (begin[0] if begin else period.end), period.end

    def _is_past(self, date: dt.date) -> bool:
        return self.grid.inputs.is_past(date)


def make_ground(inputs: Inputs, span: Span, tell: Progress) -> Ground:
    """The ground of a span.

    Raises EphemerisUnavailable where the kernel is missing or does not cover it, NoNight where it has none.
    """
    survey = make_survey(inputs, span, tell)
    inputs = with_beginning(inputs, survey.period)
    tell("Agenda")
    grid = make_slot_grid(inputs, survey.period, survey.windows, survey.samples, survey.modes)
    return Ground(survey, grid, make_agenda(grid))
