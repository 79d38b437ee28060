"""Every absence of random small seasons: the change that is printed, put through the files, gives that very slot.

Nothing here looks at how a remedy was found: a season is read from files with the change in it, its sky computed anew,
its agenda made, and the slot looked up.
"""

from __future__ import annotations

import random
import shutil
from pathlib import Path

import pandas as pd
import pytest

from pipeline.absence.causes import Cause
from pipeline.absence.changes import changed_inputs
from pipeline.absence.remedies import MoreNights
from pipeline.absence.trying import LEAST_AGENDAS, MOST_AGENDAS, Attempts
from pipeline.absence.why_not import partners_without_slot
from pipeline.agenda.agenda import Agenda, make_agenda
from pipeline.agenda.slot_grid import SlotGrid, make_slot_grid
from pipeline.inputs.what_if import read_changes
from pipeline.plan.plan import make_plan
from pipeline.record.inputs import read_inputs
from pipeline.reports.tables import absences_table
from tests.agenda.slot_grids import grid_of, march, march_inputs, with_wish
from tests.plan.months import SEASON_FILE, TODAY, survey_of

PARTNERS = ("QF4LUM", "QZ5KAR", "QN1PIK", "QG8FEN", "QK3RED", "QX6ICE", "QT8NUI")
HOURS = ("always", '[{"days":["sat","sun"],"from":"13:00","to":"18:00"}]', '[{"from":"12:00","to":"18:30"}]',
         '[{"from":"18:00","to":"00:30"}]', '[{"days":["tue","thu"],"from":"03:00","to":"07:00"}]')  # fmt: skip


# Any seeds; the later ones have two obstacles at once, of hours, nights, equipment and the Sun.
SEEDS = (*range(9), 64, 81, 83, 88)


def _season(seed: int) -> list[str]:
    """Changes that make a small season of the demo's: eight nights, four partners, rules that forbid much."""
    dice = random.Random(seed)
    calls = dice.sample(PARTNERS, 4)
    wishes = ",".join(f'{{"call":"{call}","contacts_wanted":{dice.choice((1, 1, 2))}}}' for call in calls)
    first = dice.randrange(1, 24)
    made = [
        "season.months=",
        f"season.dates=2027-03-{first:02}/2027-03-{first + 7:02}",
        f"season.partners=[{wishes}]",
        "season.policy.step_minutes=30",
        f"season.policy.maximum_nights={dice.choice((1, 2, 6))}",
        f"season.policy.maximum_slots_per_night={dice.choice((1, 3))}",
        f"season.policy.night_cost={dice.choice((0, 0.3, 0.8))}",
        f"season.policy.minimum_sun_separation_deg={dice.choice((5, 5, 60))}",
        f"season.policy.latest_hour_on_work_nights={dice.choice(('01:00', '19:00'))}",
        f"season.policy.nights={dice.choice(('[mon,tue,wed,thu,fri,sat,sun]', '[fri,sat]'))}",
        f"QM7TOR.available={dice.choice(HOURS)}",
    ]
    for call in calls:
        if dice.random() < 0.5:
            made.append(f"{call}.available={dice.choice(HOURS)}")
        if dice.random() < 0.4:
            made.append(f"{call}.bands.3cm.power_w={dice.choice((3, 6, 12))}")
        if dice.random() < 0.2:
            made.append(f"{call}.unavailable_dates=[2027-03-01/2027-03-31]")
        if dice.random() < 0.1:
            made.append(f"{call}.bands.3cm.modes=[SSB]")
    return made


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("stations")
    for file in SEASON_FILE.parent.glob("*.yaml"):
        shutil.copy(file, folder)
    return folder / "season.yaml"


@pytest.mark.parametrize("seed", SEEDS)
def test_the_change_that_is_printed_gives_that_slot(season: Path, seed: int, capfd: pytest.CaptureFixture[str]) -> None:
    base = _season(seed)
    inputs = read_inputs(season, None, read_changes(base))
    plan = make_plan(inputs, TODAY, calendar=False)
    table = absences_table(plan)
    wanted = {wish.call: wish.contacts_wanted for wish in inputs.wishes}
    has = plan.agenda.groupby("partner").size().to_dict()
    assert list(table["partner"]) == [call for call in wanted if min(has.get(call, 0), wanted[call]) < wanted[call]]
    for row in table.itertuples():
        assert row.cause
        if pd.isna(row.change):
            assert pd.isna(row.slot_start_utc)
            assert pd.isna(row.chance)
            continue
        changed = read_inputs(season, None, read_changes([*base, *row.change.split()]))
        scene = survey_of(changed)
        grid = make_slot_grid(changed, scene.period, scene.windows, scene.samples, scene.modes)
        slots = [one for one in make_agenda(grid).slots if changed.partners[one.pair].call == row.partner]
        assert len(slots) > has.get(row.partner, 0), row
        chances = {one.start * 60: float(one.slot.chance[0]) for one in slots}
        assert chances.get(int(row.slot_start_utc.timestamp())) == pytest.approx(row.chance, abs=1e-6), (row, chances)
    printed = capfd.readouterr()
    assert (printed.out, printed.err) == ("", ""), "a solver speaks"


def test_random_seasons_meet_many_causes(season: Path) -> None:
    """So that the test above has something to try: the causes and the changes of its seasons, from values alone."""
    told = [change for seed in SEEDS for change in _season(seed)]
    assert sum("power_w" in one for one in told) >= 5
    assert sum("unavailable_dates" in one for one in told) >= 3
    assert sum("modes" in one for one in told) >= 1


def test_reasons_cost_few_agendas(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of the order of the agenda's own cost: so many whole agendas, counted, however many partners have none."""
    made: list[Agenda] = []

    def counting(again: SlotGrid, **bounds: bool) -> Agenda:
        made.append(make_agenda(again, **bounds))
        return made[-1]

    monkeypatch.setattr("pipeline.absence.trying.make_agenda", counting)
    grid = grid_of(march_inputs(maximum_nights=1))
    absences = partners_without_slot(grid, make_agenda(grid), march().no_windows)
    assert len([one for one in absences if one is not None]) >= 5
    assert 1 <= len(made) <= MOST_AGENDAS
    # Nobody wants anything that is not there: nothing is tried.
    made.clear()
    partners_without_slot(grid_of(march_inputs()), make_agenda(grid_of(march_inputs())), march().no_windows)
    assert not made


def test_a_large_problem_is_tried_once(monkeypatch: pytest.MonkeyPatch) -> None:
    grid = grid_of(march_inputs())
    attempts = Attempts(grid, make_agenda(grid))
    assert attempts.left == MOST_AGENDAS
    monkeypatch.setattr("pipeline.absence.trying.PAIRS_TO_PRICE", 10)
    assert attempts.left == LEAST_AGENDAS == 1
    attempts.made["a change"] = attempts.agenda
    assert attempts.left == 0
    assert attempts.outcome(0, (MoreNights(7),)) is None


def test_one_agenda_serves_all_who_ask_for_the_same() -> None:
    """One night is full: whoever seven of them let in is told so from one trial."""
    inputs = march_inputs(maximum_nights=1)
    grid = grid_of(inputs)
    attempts = Attempts(grid, make_agenda(grid))
    for pair in range(len(inputs.partners)):
        attempts.outcome(pair, (MoreNights(2),))
    assert len(attempts.made) == 1
    again = make_agenda(grid_of(changed_inputs(inputs, 0, MoreNights(2))))
    assert [(one.pair, one.start) for one in attempts.made["season.policy.maximum_nights=2"].slots] == [
        (one.pair, one.start) for one in again.slots
    ]


def test_a_partner_with_too_few_slots_is_told_why() -> None:
    inputs = with_wish(march_inputs(maximum_nights=2), "QZ5KAR", contacts_wanted=4)
    grid = grid_of(inputs)
    agenda = make_agenda(grid)
    pair = inputs.place_of("QZ5KAR")
    has = len([one for one in agenda.slots if one.pair == pair])
    absence = partners_without_slot(grid, agenda, march().no_windows)[pair]
    assert 0 < has < 4
    assert absence is not None
    assert (absence.has, absence.wanted) == (has, 4)
    assert absence.cause is not Cause.NOT_WANTED
