"""Home's sites compared: each against the plan made there, the choice of sites against every choice there is."""

from __future__ import annotations

import dataclasses
import datetime as dt
from itertools import product

import numpy as np
import pytest

from pipeline.agenda.agenda import make_agenda
from pipeline.agenda.candidates import Candidates
from pipeline.agenda.contacts import contacts_of
from pipeline.agenda.milp_model import Choice, Problem
from pipeline.agenda.milp_solve import choose
from pipeline.agenda.slot_grid import make_slot_grid
from pipeline.inputs.horizon import HorizonPoint
from pipeline.inputs.model import WEEKDAYS, Antenna, Hours, Position, Site
from pipeline.inputs.sites import at_site, own_site
from pipeline.outlook import site_choice
from pipeline.outlook.site_choice import Chosen, Ground, _gap, best_choice
from pipeline.outlook.sites import EVEN, NoSites, Sites, WhyBest, make_sites
from pipeline.record.inputs import Inputs
from pipeline.reports.sites_pages import _best_lines as best_lines
from pipeline.reports.sites_pages import sites_table, sites_view
from pipeline.wording.sites import choice_words, proof_words, why_words
from tests.plan.months import TODAY, demo_inputs, one_station, small_inputs, survey_of

FIRST, LAST = dt.date(2027, 3, 13), dt.date(2027, 3, 15)
FREE_FROM, FREE_MINUTES = (9, 21), 90
# Each hides half of the sky, so that partners to the east and to the west are met from different sites.
WALLS = {"West Wall": (200.0, 350.0), "East Wall": (10.0, 170.0)}


def wall(first: float, last: float) -> tuple[HorizonPoint, ...]:
    edges = ((first - 1.0, 0.0), (first, 60.0), (last, 60.0), (last + 1.0, 0.0))
    return tuple(HorizonPoint(azimuth, elevation) for azimuth, elevation in edges)


def world(**policy: object) -> Inputs:
    home = one_station("QA1AAA", 50.0, 10.0, 100.0)
    # Short hours of the rising Moon and of the setting one: few slots, which are soon chosen from.
    hours = tuple(Hours(WEEKDAYS, dt.time(first), dt.time(first + 1, 30)) for first in FREE_FROM)
    home = dataclasses.replace(home, horizon=wall(*WALLS["West Wall"]), name="West Wall", available=hours)
    site = Site(
        name="East Wall",
        position=Position(50.3, 10.4, 300.0),
        horizon=wall(*WALLS["East Wall"]),
        terrain=None,
        mount=None,
        minimum_elevation_deg=None,
        hours_to_get_there=1.0,
    )
    home = dataclasses.replace(home, sites=(own_site(home), site))
    partners = (
        one_station(
            "QE2EAST", 36.0, 138.0, 50.0, antenna=Antenna(dish_diameter_m=5.0), power_w=300.0, polarization="rotatable"
        ),
        one_station("QW3WEST", 40.0, -75.0, 50.0),
        one_station("QN4NEAR", 52.0, 5.0, 20.0),
    )
    figures = {"step_minutes": 20, "maximum_nights": 3, "maximum_slots_per_night": 2, "night_cost": 0.1} | policy
    return small_inputs(home, *partners, first=FIRST, last=LAST, **figures)


@pytest.fixture(scope="module")
def found() -> Sites:
    return make_sites(world(), TODAY)


def inside(start: int, before: float) -> float:
    """Minutes before a start (minutes since 1970) that lie in home's hours of that day."""
    minute = start % 1440
    return sum(max(0.0, min(minute, 60 * at + FREE_MINUTES) - max(minute - before, 60 * at)) for at in FREE_FROM)


def grounds_of(inputs: Inputs, monkeypatch: pytest.MonkeyPatch) -> tuple[list[Ground], int, list[Chosen], Chosen]:
    """What the choice of a comparison is made from."""
    held: list[tuple[list[Ground], int, list[Chosen]]] = []

    def spied(grounds: list[Ground], nights: int, alone: list[Chosen]) -> Chosen:
        held.append((grounds, nights, alone))
        return best_choice(grounds, nights, alone)

    monkeypatch.setattr("pipeline.outlook.sites.best_choice", spied)
    made = make_sites(inputs, TODAY)
    return (*held[0], made.choice)


def test_no_choice_of_sites_is_better(monkeypatch: pytest.MonkeyPatch) -> None:
    # Every assignment of sites to nights, each solved exactly by the agenda's own program.
    grounds, nights, alone, _ = grounds_of(world(), monkeypatch)
    policy = grounds[0].grid.inputs.season.policy
    for change, way in ((0.1, 0.04), (0.3, 0.0), (1.0, 0.3)):
        priced = dataclasses.replace(policy, site_change_cost=change)
        inputs = dataclasses.replace(
            grounds[0].grid.inputs, season=dataclasses.replace(grounds[0].grid.inputs.season, policy=priced)
        )
        here = [
            dataclasses.replace(one, grid=dataclasses.replace(one.grid, inputs=inputs), way_cost=way * number)
            for number, one in enumerate(grounds)
        ]
        single = [site_choice.best_alone(here, site, nights) for site in range(2)]
        best = max(
            site_choice._solved(here, np.array(each)[None, :] == np.arange(2)[:, None]).chosen.net
            for each in product(range(2), repeat=nights)
        )
        choice = best_choice(here, nights, single)
        assert choice.net == pytest.approx(best, abs=2e-4)
        assert choice.gap is not None
        assert choice.net + choice.gap >= best - 2e-4
        # Where nothing bounds the agendas of one site, the whole does.
        unbounded = best_choice(here, nights, [dataclasses.replace(one, gap=None) for one in single])
        assert unbounded.gap is not None
        assert unbounded.net + unbounded.gap >= best - 2e-4
    assert len(alone) == 2


def test_nights_that_say_the_same_are_one_line(found: Sites) -> None:
    view = sites_view(found)
    night = dataclasses.replace(view.nights[0], best="Kernberg", why="as good as Lake Meadow, and 0.5 h nearer")
    same = dataclasses.replace(view, nights=(night,) * 3)
    assert best_lines(same) == ["  on each of 3 nights Kernberg, as good as Lake Meadow, and 0.5 h nearer"]
    other = dataclasses.replace(same, nights=(*same.nights, dataclasses.replace(night, best="Weir")))
    assert len(best_lines(other)) == 4
    assert len(best_lines(dataclasses.replace(same, nights=(night,)))) == 1


def test_a_large_choice_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    """The agenda's own program is asked for a bound of all sites together, of nothing else."""
    asked: list[bool] = []

    def spied(problem: Problem, bounded: bool = True) -> Choice:
        asked.append(bounded)
        return choose(problem, bounded=bounded)

    monkeypatch.setattr(site_choice, "choose", spied)
    grounds, nights, alone, _ = grounds_of(world(), monkeypatch)
    asked.clear()
    best_choice(grounds, nights, alone)
    assert asked[0]
    assert sum(asked) == 1


def test_what_is_chosen_costs_what_it_says(found: Sites) -> None:
    choice, policy = found.choice, found.inputs.season.policy
    assert set(choice.at.values()) == {0, 1}
    hours = 0.0
    for night in choice.at:
        mine = [one for one in choice.slots if one.night == night]
        hours += (mine[-1].end - mine[0].start + policy.setup_minutes.arrive) / 60.0
        # Arriving outside home's own hours costs that once more.
        hours += (policy.setup_minutes.arrive - inside(mine[0].start, policy.setup_minutes.arrive)) / 60.0
    road = sum(2.0 * found.sites[site].site.hours_to_get_there for site in choice.at.values())
    spent = len(choice.at) * policy.night_cost + hours * policy.hour_cost
    spent += road * policy.travel_hour_cost + choice.changes * policy.site_change_cost
    assert choice.contacts == pytest.approx(contacts_of(choice.slots, found.inputs.wishes))
    assert choice.net == pytest.approx(choice.contacts - spent, abs=0.002)
    for one, other in zip(choice.slots, choice.slots[1:], strict=False):
        assert other.start >= one.end + policy.gap_minutes


def test_a_site_alone_is_the_plan_made_there(found: Sites) -> None:
    for one in found.sites:
        inputs = dataclasses.replace(found.inputs, home=at_site(found.home, one.site))
        survey = survey_of(inputs)
        grid = make_slot_grid(inputs, survey.period, survey.windows, survey.samples, survey.modes)
        if one.site.hours_to_get_there == 0.0:
            agenda = make_agenda(grid)
            assert one.month.contacts == pytest.approx(contacts_of(agenda.slots, inputs.wishes))
        # Hours of windows, and those that a free horizon would have.
        minutes = survey.windows["duration_min"].sum()
        assert one.hours.sum() == pytest.approx(minutes / 60.0, abs=0.01)
        free = survey_of(dataclasses.replace(inputs, home=dataclasses.replace(inputs.home, horizon=())))
        lost = (free.windows["duration_min"].sum() - minutes) / 60.0
        assert lost > 5.0
        assert one.lost_hours.sum() == pytest.approx(lost, abs=0.01)


def test_the_best_site_of_a_night_and_why(found: Sites) -> None:
    table = sites_table(found)
    assert len(table) == 2 * len(found.period.dates)
    kinds = set()
    for night, best in enumerate(found.best):
        net = [one.net[night] for one in found.sites]
        if best is None:
            assert max(one.contacts[night] for one in found.sites) == 0.0
            continue
        kinds.add(best.why)
        assert net[best.best] >= max(net) - EVEN
        words = why_words(best, found.sites)
        here, there = (found.sites[number] for number in (best.best, best.other))
        if best.why is WhyBest.PARTNERS:
            assert set(best.calls) == set(here.usable[night]) - set(there.usable[night])
            assert all(call in words for call in best.calls)
        if best.why is WhyBest.SKYLINE:
            assert there.lost_hours[night] > here.lost_hours[night]
        row = table[(table["night"] == found.period.dates[night]) & table["best"]]
        assert list(row["site"]) == [here.site.name]
        assert list(row["reason"]) == [words]
    assert kinds


def test_a_dear_change_keeps_one_site_and_a_dear_road_the_near_one() -> None:
    still = make_sites(world(site_change_cost=5.0), TODAY)
    assert still.choice.changes == 0
    assert "No change of site earns what it costs." in choice_words(still)
    near = make_sites(world(travel_hour_cost=5.0), TODAY)
    assert set(near.choice.at.values()) == {0}
    assert all(best is None or best.best == 0 for best in near.best if best is None or near.sites[0].contacts.any())


def test_words_of_the_choice(found: Sites) -> None:
    words = choice_words(found)
    assert "West Wall on " in words
    assert "East Wall on " in words
    assert " of site; at " in words
    assert proof_words(dataclasses.replace(found.choice, gap=0.0)).endswith("that is proven.")
    assert "by 0.12 of a contact at most" in proof_words(dataclasses.replace(found.choice, gap=0.12))
    assert "is not known" in proof_words(dataclasses.replace(found.choice, gap=None))


def test_without_sites_there_is_nothing_to_compare() -> None:
    bare = world()
    bare = dataclasses.replace(bare, home=dataclasses.replace(bare.home, sites=()))
    with pytest.raises(NoSites):
        make_sites(bare, TODAY)


def test_the_beach_of_readme_in_march_and_in_a_fortnight(monkeypatch: pytest.MonkeyPatch) -> None:
    """More slots and pairs of them than at one site, yet no partner has more than it can have.

    The fortnight is proven, the month to 0.02 contacts.
    """
    inputs = demo_inputs()
    beach = Site(
        name="Salt Beach",
        position=Position(-34.71, -55.95, 4.0),
        horizon=tuple(HorizonPoint(*point) for point in ((90.0, 0.5), (200.0, 0.2), (270.0, 9.0), (350.0, 12.0))),
        terrain=None,
        mount=None,
        minimum_elevation_deg=1.0,
        hours_to_get_there=0.75,
    )
    home = dataclasses.replace(inputs.home, sites=(own_site(inputs.home), beach))
    grounds, nights, alone, month = grounds_of(dataclasses.replace(inputs, home=home), monkeypatch)
    dates = grounds[0].grid.period.dates
    assert {dates[night].day: site for night, site in month.at.items()} == {6: 0, 13: 0, 19: 0, 26: 1}
    assert [f"{one.contacts:.1f}" for one in (month, *alone)] == ["6.2", "6.0", "5.3"]
    assert month.gap < 0.02

    def in_fortnight(pool: Candidates) -> Candidates:
        return pool.take(np.flatnonzero(np.isin(pool.night, [n for n, one in enumerate(dates) if 12 <= one.day <= 27])))

    few = [dataclasses.replace(one, pool=in_fortnight(one.pool), own=in_fortnight(one.own)) for one in grounds]
    single = [site_choice.best_alone(few, site, nights) for site in range(2)]
    choice = best_choice(few, nights, single)
    assert {dates[night].day: site for night, site in choice.at.items()} == {13: 1, 19: 1, 26: 1}
    assert [f"{one.contacts:.1f}" for one in (choice, *single)] == ["4.4", "4.2", "4.4"]
    assert choice.gap == 0.0


def test_a_gap_is_told_and_rounding_is_none() -> None:
    assert _gap(2.01, 2.0) == pytest.approx(0.01)
    assert _gap(2.0 + 2e-6, 2.0) == pytest.approx(2e-6)
    assert _gap(2.0 + 1e-12, 2.0) == 0.0
    assert _gap(1.9, 2.0) == 0.0
    assert _gap(np.inf, 2.0) is None
