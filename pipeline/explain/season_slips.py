"""What is odd in a season's dates, as values: answers that are due when the season is over."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from pipeline.explain.oddities import AnswersLate, Oddity
from pipeline.inputs.model import Season


def season_oddities(season: Season, last_night: dt.date) -> tuple[Oddity, ...]:
    """None where nothing is odd; `last_night` is the last that is planned."""
    return tuple(_answers(season, last_night))


def _answers(season: Season, last_night: dt.date) -> Iterator[Oddity]:
    due = season.letters.reply_by
    if due is not None and due > last_night:
        yield AnswersLate(due, last_night)
