"""Where to set up: home's sites night by night, a whole span at each of them, and the best choice of a site a night.

One survey, slot grid and agenda a site, all by the plan's own stages; what was agreed plays no part. A night's worth is
that of its best agenda alone, less the way there and back. Nothing is read or written.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum, auto

import numpy as np
import numpy.typing as npt

from pipeline.agenda.agenda import held_by_nobody, slots_on_offer
from pipeline.agenda.candidates import Candidates
from pipeline.agenda.slot_grid import SlotGrid, make_slot_grid
from pipeline.inputs.model import Site, Station
from pipeline.inputs.sites import at_site
from pipeline.outlook.site_choice import Chosen, Ground, best_alone, best_choice
from pipeline.outlook.worth import Worth
from pipeline.pairs.survey import Progress, Survey, make_survey
from pipeline.record.inputs import Inputs
from pipeline.record.model import Record
from pipeline.windows.beginning import with_beginning
from pipeline.windows.moon_passes import find_passes, split_at
from pipeline.windows.nights import Nights
from pipeline.windows.rules import make_rules
from pipeline.windows.span import plan_number, span_of
from pipeline.windows.windows import Windows, mutual_windows

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

# Passages of one Moon over two sites are highest within this of each other.
SAME_PASSAGE = dt.timedelta(hours=6)
# Contacts that are as good as equal (judgement: less than is printed); then the shorter way decides.
EVEN = 0.05
# A skyline that takes less than this more explains nothing.
LEAST_LOST_H = 0.25


class NoSites(Exception):
    """Home's file names no site beside its own place."""


@dataclass(frozen=True)
class SiteNights:
    """One site over the span, (nights,) each: contacts of each night alone, the same less the way, hours, and partners.

    `hours` are those of all mutual windows together, `lost_hours` what the skyline takes of them. `usable` are calls
    that can be met, `chance` the best one of a usable slot, NaN where there is none. `month` is the best agenda of the
    whole span here.
    """

    site: Site
    contacts: FloatArray
    net: FloatArray
    hours: FloatArray
    lost_hours: FloatArray
    usable: tuple[tuple[str, ...], ...]
    chance: FloatArray
    month: Chosen


class WhyBest(Enum):
    """What decides for a site on a night."""

    ALONE = auto()  # nobody can be worked at another
    PARTNERS = auto()  # partners that the next best misses
    SKYLINE = auto()  # more contacts, and its skyline takes less
    CONTACTS = auto()
    WAY = auto()  # as good or nearly, and nearer
    EVEN = auto()


@dataclass(frozen=True)
class BestSite:
    """The best site of one night alone and the next best, indices of sites, and why.

    Against the next best: `calls` that it misses, contacts more, hours of windows that its skyline takes more, hours of
    its way more, one way.
    """

    best: int
    other: int
    why: WhyBest
    calls: tuple[str, ...] = ()
    contacts_more: float = 0.0
    lost_more_h: float = 0.0
    way_more_h: float = 0.0


@dataclass(frozen=True)
class Sites:
    """Home's sites compared: `best` goes along with the nights, `choice` is the best agenda with a site for each night.

    `home` is the station at the place of its own file, the first of the sites.
    """

    inputs: Inputs
    home: Station
    number: str
    period: Nights
    sites: tuple[SiteNights, ...]
    best: tuple[BestSite | None, ...]
    choice: Chosen
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Looked:
    """What one site's sky and slots are; `night` (its nights,) leads to the span's, -1 where the span has none."""

    site: Site
    survey: Survey
    grid: SlotGrid
    night: IntArray


def make_sites(inputs: Inputs, today: dt.date, progress: Progress | None = None) -> Sites:
    """The comparison over the season's span.

    Raises NoSites where there is nothing to compare, EphemerisUnavailable where the kernel does not serve.
    """
    tell = progress or (lambda _: None)
    if not inputs.home.sites:
        raise NoSites
    inputs = dataclasses.replace(
        inputs, record=Record(corrections=inputs.record.corrections, measurements=inputs.record.measurements)
    )
    home = at_site(inputs.home, inputs.home.sites[0])
    looked: list[_Looked] = []
    for site in home.sites:
        tell(site.name)
        looked.append(_look(dataclasses.replace(inputs, home=at_site(home, site)), site, today, looked[:1]))
    period, policy = looked[0].grid.period, inputs.season.policy
    tell("Best choice")
    grounds = [_ground(one, policy.travel_hour_cost) for one in looked]
    nights = len(period.dates)
    sites = tuple(
        _site_nights(one, ground, nights, best_alone(grounds, number, nights))
        for number, (one, ground) in enumerate(zip(looked, grounds, strict=True))
    )
    return Sites(
        inputs=inputs,
        home=home,
        number=plan_number(inputs, period),
        period=period,
        sites=sites,
        best=tuple(_best_of(sites, night) for night in range(nights)),
        choice=best_choice(grounds, nights, [one.month for one in sites]),
        notes=(f"Moon and Sun from JPL kernel {looked[0].survey.sky.kernel}", *inputs.warnings),
    )


def _look(inputs: Inputs, site: Site, today: dt.date, first: Sequence[_Looked]) -> _Looked:
    survey = make_survey(inputs, span_of(inputs, today), lambda _: None, shifts=False)
    inputs = with_beginning(inputs, survey.period)
    grid = make_slot_grid(inputs, survey.period, survey.windows, survey.samples, survey.modes)
    own = survey.period.highest
    span = (first[0].survey if first else survey).period.highest
    night = [next((n for n, at in enumerate(span) if abs(at - one) < SAME_PASSAGE), -1) for one in own]
    return _Looked(site, survey, grid, np.array(night, dtype=np.int64))


def _ground(looked: _Looked, hour_cost: float) -> Ground:
    """The slots of a site on the nights of the span, and what the way costs a night."""
    pool = slots_on_offer(looked.grid, held_by_nobody())
    pool = pool.take(np.flatnonzero(looked.night[pool.night] >= 0))
    return Ground(
        looked.grid,
        dataclasses.replace(pool, night=looked.night[pool.night]),
        pool,
        2.0 * looked.site.hours_to_get_there * hour_cost,
    )


def _site_nights(looked: _Looked, ground: Ground, nights: int, month: Chosen) -> SiteNights:
    worth, calls = Worth(looked.grid, held_by_nobody()), [one.call for one in looked.grid.inputs.partners]
    contacts, chance = np.zeros(nights), np.full(nights, np.nan)
    usable: list[tuple[str, ...]] = [()] * nights
    for own, night in enumerate(looked.night):
        best: Candidates = worth.best_on(own)
        if night < 0 or not best.pair.size:
            continue
        contacts[night] = worth.contacts_alone([own])
        usable[night] = tuple(calls[pair] for pair in best.pair)
        chance[night] = float(best.chance.max())
    hours, lost = _hours(looked, nights)
    net = contacts - np.where(contacts > 0.0, ground.way_cost, 0.0)
    return SiteNights(looked.site, contacts, net, hours, lost, tuple(usable), chance, month)


def _hours(looked: _Looked, nights: int) -> tuple[FloatArray, FloatArray]:
    """Hours of mutual windows of each night, all partners together, and those that the skyline takes: (nights,)."""
    survey, home = looked.survey, looked.grid.inputs.home
    found = _by_night(looked, survey.pairs, nights)
    if not home.horizon:
        return found, np.zeros(nights)
    bare = make_rules([dataclasses.replace(home, horizon=(), terrain=None)])
    (free,) = find_passes(survey.look, bare, 1, 0.0, survey.sky.duration_s)
    free = split_at(free, survey.period.edges_s(survey.sky.start))
    every = [mutual_windows(free, other, survey.period_s) for other in survey.passes[1:]]
    return found, np.maximum(_by_night(looked, every, nights) - found, 0.0)


def _by_night(looked: _Looked, pairs: Sequence[Windows], nights: int) -> FloatArray:
    hours = np.zeros(nights)
    for one in pairs:
        own = looked.survey.period.night_index(one.start_s, looked.survey.sky.start)
        night = looked.night[np.clip(own, 0, looked.night.size - 1)]
        np.add.at(hours, night[night >= 0], (one.end_s - one.start_s)[night >= 0] / 3600.0)
    return hours


def _best_of(sites: Sequence[SiteNights], night: int) -> BestSite | None:
    """Of sites as good as equal the one with the shorter way, then the one named first."""
    net = np.array([one.net[night] if one.contacts[night] > 0.0 else -np.inf for one in sites])
    if not np.isfinite(net).any():
        return None
    order: list[int] = []
    left = [number for number in range(len(sites)) if np.isfinite(net[number])]
    while left:
        top = max(net[number] for number in left)
        even = [number for number in left if net[number] > top - EVEN]
        order.append(min(even, key=lambda number: (sites[number].site.hours_to_get_there, number)))
        left.remove(order[-1])
    if len(order) == 1:
        return BestSite(order[0], order[0], WhyBest.ALONE)
    return _why(sites, night, order[0], order[1])


def _why(sites: Sequence[SiteNights], night: int, best: int, other: int) -> BestSite:
    one, two = sites[best], sites[other]
    more, lost = float(one.contacts[night] - two.contacts[night]), float(two.lost_hours[night] - one.lost_hours[night])
    way = two.site.hours_to_get_there - one.site.hours_to_get_there
    calls = tuple(call for call in one.usable[night] if call not in two.usable[night])
    if more > EVEN:
        why = WhyBest.PARTNERS if calls else WhyBest.SKYLINE if lost > LEAST_LOST_H else WhyBest.CONTACTS
    else:
        why = WhyBest.WAY if way > 0.0 else WhyBest.EVEN
    return BestSite(best, other, why, calls, more, lost, way)
