"""Hours on site: from arriving before a night's first slot to the end of its last one, and what they cost the policy.

From slots, home's hours and the policy's `setup_minutes.arrive`, `hour_cost` and `setup_within_hours`; packing up is
not counted. Minutes are since 1970.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import numpy.typing as npt

from pipeline.agenda.candidates import Candidates
from pipeline.agenda.commitments import Commitments, Kept
from pipeline.agenda.milp_hours import SiteHours
from pipeline.agenda.slot_grid import SlotGrid

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


def hours_on_site(slots: Iterable[Kept], arrive_minutes: float) -> float:
    """Hours of all nights of these slots together."""
    spans = spans_of(slots)
    return sum((last - first + arrive_minutes) / 60.0 for first, last in spans.values())


def spans_of(slots: Iterable[Kept]) -> dict[int, tuple[int, int]]:
    """When the first slot of each night begins and its last one ends."""
    spans: dict[int, tuple[int, int]] = {}
    for one in slots:
        night = one.night
        first, last = spans.get(night, (one.start, one.end))
        spans[night] = (min(first, one.start), max(last, one.end))
    return spans


def site_hours(grid: SlotGrid, held: Commitments, pool: Candidates) -> SiteHours | None:
    """What hours cost where slots of this pool are chosen beside those agreed; None where they cost nothing.

    Each hour of arriving outside home's own hours costs one further; `setup_within_hours` forbids it, save what is
    agreed. Where home moves the way to each night's site is paid there and back.
    """
    policy, nights = grid.inputs.season.policy, len(grid.period.dates)
    arrive, minute_cost, way = policy.setup_minutes.arrive, policy.hour_cost / 60.0, way_costs(grid)
    if not minute_cost and not policy.setup_within_hours and not way.any():
        return None
    first, last = np.full((2, nights), np.nan)
    for night, span in spans_of(held.kept).items():
        first[night], last[night] = span
    outside = minutes_outside(grid, pool.start, arrive)
    arriving = minute_cost * (arrive + outside) + way[pool.night]
    return SiteHours(
        minute_cost=minute_cost,
        end=pool.end,
        arriving=np.where(outside > 0.0, np.inf, arriving) if policy.setup_within_hours else arriving,
        held_first=first,
        held_last=last,
        held_arriving=minute_cost * (arrive + minutes_outside(grid, np.nan_to_num(first), arrive)) + way,
    )


def way_costs(grid: SlotGrid) -> FloatArray:
    """What the way to each night's site and back costs, contacts, (nights,); nothing where home does not move."""
    inputs = grid.inputs
    hours = [inputs.home_on(date).hours_to_get_there if inputs.sites else 0.0 for date in grid.period.dates]
    return 2.0 * inputs.season.policy.travel_hour_cost * np.array(hours)


def minutes_outside(grid: SlotGrid, start: npt.ArrayLike, arrive_minutes: float) -> FloatArray:
    """Minutes of arriving before each start that lie outside home's own hours, both (n,); starts are minutes too."""
    until = np.asarray(start, float)
    inside = _minutes_until(grid, until) - _minutes_until(grid, until - arrive_minutes)
    return np.maximum(arrive_minutes - inside, 0.0)


def _minutes_until(grid: SlotGrid, moment: FloatArray) -> FloatArray:
    """Minutes of home's hours in the period before each moment."""
    edges = grid.home_open.astype(float)
    if not edges.size:
        return np.zeros(moment.shape)
    lengths = np.cumsum(edges[:, 1] - edges[:, 0])
    before = np.stack([np.append(0.0, lengths[:-1]), lengths], axis=1)
    return np.interp(moment, edges.ravel(), before.ravel())
