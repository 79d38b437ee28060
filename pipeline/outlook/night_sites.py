"""Where home stands on which night, chosen by the best agenda of all sites: `policy.sites: best`.

Nights on which something is agreed or offered keep their site; a night not in use belongs to the site of the night in
use before it, so that whatever is put there later costs no change.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pipeline.agenda.agenda import slots_on_offer
from pipeline.agenda.commitments import Commitments, Kept, make_commitments
from pipeline.agenda.slot_grid import SlotGrid, make_slot_grid
from pipeline.inputs.season import BEST
from pipeline.inputs.sites import at_site
from pipeline.outlook.site_choice import Chosen, Ground, best_alone, best_choice, filled
from pipeline.pairs.survey import Progress, Survey, moving, site_surveys
from pipeline.record.inputs import Inputs
from pipeline.windows.beginning import with_beginning
from pipeline.windows.span import span_of
from pipeline.windows.standing import sites_agreed


@dataclass(frozen=True)
class Sited:
    """The inputs with the site of each night, the survey of that home, and the choice behind it."""

    inputs: Inputs
    survey: Survey
    choice: Chosen


def choose_sites(inputs: Inputs, today: dt.date, progress: Progress) -> Sited | None:
    """The best choice of a site a night; None where the season asks for none or it has been made already.

    Raises EphemerisUnavailable where the kernel is missing or does not cover the period.
    """
    if inputs.season.policy.sites != BEST or inputs.sites:
        return None
    homes = [at_site(inputs.home, one) for one in inputs.home.sites]
    surveys = site_surveys(inputs, homes, span_of(inputs, today), progress)
    period = surveys[0].period
    inputs = with_beginning(inputs, period)
    progress("Best choice of sites")
    grids = [
        make_slot_grid(dataclasses.replace(inputs, home=home), period, one.windows, one.samples, one.modes)
        for home, one in zip(homes, surveys, strict=True)
    ]
    names = [one.title for one in homes]
    stays = {period.dates.index(night): names.index(name) for night, name in sites_agreed(inputs, period).items()}
    grounds = _grounds(grids, stays)
    nights = len(period.dates)
    choice = best_choice(grounds, nights, [best_alone(grounds, site, nights) for site in range(len(grounds))])
    at = filled(stays | choice.at, nights).tolist()
    sites = {date: names[site] for date, site in zip(period.dates, at, strict=True)}
    inputs = dataclasses.replace(inputs, sites=sites)
    return Sited(inputs, moving(inputs, surveys, at), choice)


def _grounds(grids: Sequence[SlotGrid], stays: dict[int, int]) -> list[Ground]:
    """Each site's slots; `stays` leads from nights that keep their site to it."""
    held = _held([make_commitments(grid) for grid in grids], stays)
    # A night of which nothing stands any more may be set up for anywhere.
    agreed = {one.night: stays.get(one.night, 0) for one in held.kept}
    cost, grounds = grids[0].inputs.season.policy.travel_hour_cost, []
    for site, grid in enumerate(grids):
        pool = slots_on_offer(grid, held)
        elsewhere = [night for night, place in (stays | agreed).items() if place != site]
        pool = pool.take(np.flatnonzero(~np.isin(pool.night, elsewhere)))
        here = tuple(sorted(night for night, place in agreed.items() if place == site))
        grounds.append(Ground(grid, pool, pool, 2.0 * grid.inputs.home.hours_to_get_there * cost, held, here))
    return grounds


def _held(each: Sequence[Commitments], stays: dict[int, int]) -> Commitments:
    """What the record holds home to, each slot as it is at the site of its night."""

    def at_their_sites(kept: Sequence[tuple[Kept, ...]]) -> tuple[Kept, ...]:
        return tuple(same[stays.get(same[0].night, 0)] for same in zip(*kept, strict=True))

    return dataclasses.replace(
        each[0], kept=at_their_sites([one.kept for one in each]), lost=at_their_sites([one.lost for one in each])
    )
