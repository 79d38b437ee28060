"""Best slots against a search through every start, outcome words against the policy, chances slot by slot."""

from __future__ import annotations

import dataclasses

import numpy as np
import numpy.typing as npt
import pandas as pd
import pytest

from pipeline.inputs.lengths import SlotMinutes
from pipeline.inputs.model import OutcomeThresholds, Policy
from pipeline.inputs.modes import Mode
from pipeline.link.chance import STATION_SPREAD_DB
from pipeline.pairs.assumed import RECEIVE, TRANSMIT
from pipeline.pairs.outcomes import BestSlots, Contacts, find_best_slots, opener_of, outcome_words, slot_chances
from pipeline.windows.samples import Steps
from tests.link.contacts import chance_of_contact
from tests.plan.months import demo_inputs, month_plan, with_policy

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

MODE = Mode(mode="CW", period_s=60.0, tone_spacing_hz=50.0, needed_snr_db=-15.0, messages=4)


def _rows(random: np.random.Generator) -> tuple[FloatArray, IntArray]:
    """Windows of 10 minutes to 6 hours with ragged edges and steps of five minutes between; some overlap in time."""
    times, windows = [], []
    for window in range(random.integers(1, 12)):
        start = random.uniform(0.0, 86400.0)
        end = start + random.uniform(600.0, 6 * 3600.0)
        inner = np.arange(np.floor(start / 300.0) + 1, np.ceil(end / 300.0)) * 300.0
        times.append(np.concatenate([[start], inner, [end]]))
        windows.append(np.full(times[-1].size, window))
    return np.concatenate(times), np.concatenate(windows)


def _search(time_s: FloatArray, merit: FloatArray, sun_deg: FloatArray, policy: Policy) -> tuple[int, int] | None:
    """One window: first and last row of the best slot by trying each row in turn."""
    length = policy.slot_minutes.most * 60.0
    starts = (
        [0]
        if time_s[-1] - time_s[0] <= length
        else [i for i in range(time_s.size) if time_s[i] + length <= time_s[-1] + 1e-6]
    )
    best, found = -np.inf, None
    for first in starts:
        inside = [i for i in range(first, time_s.size) if time_s[i] <= time_s[first] + length + 1e-6]
        if min(sun_deg[i] for i in inside) < policy.minimum_sun_separation_deg:
            continue
        mean = float(np.mean([merit[i] for i in inside]))
        if mean > best + 1e-9:
            best, found = mean, (first, inside[-1])
    return found


@pytest.mark.parametrize("seed", range(12))
def test_best_slot_by_trying_them_all(seed: int) -> None:
    random = np.random.default_rng(seed)
    time_s, window = _rows(random)
    merit = random.normal(0.0, 3.0, time_s.size)
    sun_deg = random.uniform(4.9, 40.0, time_s.size)
    policy = Policy(slot_minutes=SlotMinutes(10, int(random.choice([15, 30, 60, 120]))))
    slots = find_best_slots(time_s, window, merit, sun_deg, policy)
    for index in range(int(window[-1]) + 1):
        rows = np.flatnonzero(window == index)
        found = _search(time_s[rows], merit[rows], sun_deg[rows], policy)
        assert bool(slots.allowed[index]) == (found is not None)
        expected = (0, rows.size - 1) if found is None else found
        assert (slots.first_row[index] - rows[0], slots.last_row[index] - rows[0]) == expected


def test_no_windows_at_all() -> None:
    nothing = np.zeros(0)
    slots = find_best_slots(nothing, nothing.astype(int), nothing, nothing, Policy())
    assert slots.first_row.size == slots.last_row.size == slots.allowed.size == 0
    steps = Steps(nothing, nothing.astype(int), nothing.astype(int))
    contacts = Contacts(nothing.astype(bool), [], {"home": nothing, "partner": nothing})
    chances = slot_chances(steps, {"home": nothing, "partner": nothing}, slots, contacts, 3600.0)
    assert chances.size == 0


def test_sun_limit_takes_the_slots_near_it() -> None:
    """The best hour stands too near the Sun by a hair: the next best is taken; under a wider limit there is none."""
    time_s = np.arange(0.0, 4 * 3600.0 + 1, 300.0)
    window = np.zeros(time_s.size, dtype=int)
    merit = -np.abs(time_s - 5400.0)
    sun_deg = np.where(time_s < 6000.0, 4.999, 6.0)
    chosen = find_best_slots(time_s, window, merit, sun_deg, Policy(minimum_sun_separation_deg=5.0))
    assert time_s[chosen.first_row[0]] == 6000.0
    assert not find_best_slots(time_s, window, merit, sun_deg, Policy(minimum_sun_separation_deg=7.0)).allowed[0]
    free = find_best_slots(time_s, window, merit, sun_deg, Policy(minimum_sun_separation_deg=0.0))
    assert time_s[free.first_row[0]] == 3600.0


def _one_window(time_s: FloatArray) -> Steps:
    return Steps(time_s, *np.zeros((2, time_s.size), dtype=int))


def _contact(opener: str, mode: Mode) -> Contacts:
    spread_db = np.array([STATION_SPREAD_DB])
    return Contacts(np.array([opener == "home"]), [mode], {"home": spread_db, "partner": spread_db})


def _one_slot(time_s: FloatArray, margin_db: FloatArray, length_s: float, opener: str = "home") -> float:
    slots = BestSlots(
        np.array([0]), np.array([int(np.searchsorted(time_s, length_s, side="right")) - 1]), np.array([True])
    )
    margins = {"home": margin_db, "partner": margin_db}
    return float(slot_chances(_one_window(time_s), margins, slots, _contact(opener, MODE), length_s)[0])


def test_chance_of_a_slot_is_that_of_its_periods() -> None:
    time_s = np.arange(0.0, 7201.0, 300.0)
    margin = np.linspace(-4.0, 1.0, time_s.size)
    middle = np.interp((np.arange(60) + 0.5) * 60.0, time_s, margin)
    assert _one_slot(time_s, margin, 3600.0) == pytest.approx(
        float(chance_of_contact(middle[None], middle[None], 4)[0])
    )


def test_a_slot_from_a_ragged_edge_has_its_full_length() -> None:
    """It begins 3.5 minutes before the next sample, so its end lies between two samples of a window that goes on."""
    ragged = np.concatenate([[0.0], np.arange(210.0, 3 * 3600.0, 300.0)])
    flat = np.full(ragged.size, -2.0)
    even = np.arange(0.0, 3 * 3600.0, 300.0)
    assert _one_slot(ragged, flat, 3600.0) == pytest.approx(_one_slot(even, np.full(even.size, -2.0), 3600.0))


def test_a_window_shorter_than_the_slot_has_fewer_periods() -> None:
    short = np.array([0.0, 300.0, 600.0, 650.0])
    expected = float(chance_of_contact(np.full((1, 10), 0.0), np.full((1, 10), 0.0), 4)[0])
    assert _one_slot(short, np.zeros(4), 3600.0) == pytest.approx(expected)


def test_who_opens_decides_whose_margin_counts_first() -> None:
    """One message: only the listener's margin counts, and the listener is the one who did not open."""
    time_s = np.arange(0.0, 3601.0, 300.0)
    one = dataclasses.replace(MODE, messages=1)
    slots = BestSlots(np.array([0]), np.array([time_s.size - 1]), np.array([True]))
    margins = {"home": np.full(time_s.size, 20.0), "partner": np.full(time_s.size, -40.0)}
    by_opener = {
        opener: float(slot_chances(_one_window(time_s), margins, slots, _contact(opener, one), 3600.0)[0])
        for opener in ("home", "partner")
    }
    assert by_opener["partner"] == pytest.approx(1.0)
    assert by_opener["home"] == pytest.approx(0.0, abs=1e-9)


def test_outcome_words_follow_the_policy() -> None:
    chance = np.array([1.0, 0.9, 0.8999, 0.6, 0.5999, 0.25, 0.2499, 0.0])
    assert outcome_words(chance, Policy()).tolist() == [
        "strong", "strong", "workable", "workable", "marginal", "marginal", "unlikely", "unlikely",
    ]  # fmt: skip
    strict = Policy(outcome_thresholds=OutcomeThresholds(strong=0.99, workable=0.95, marginal=0.9))
    assert outcome_words(chance[:3], strict).tolist() == ["strong", "marginal", "unlikely"]


def test_nothing_assumed_is_strong() -> None:
    chance = np.array([1.0, 1.0, 0.7, 0.3, 0.1])
    assumed = np.array([True, False, True, True, True])
    assert outcome_words(chance, Policy(), assumed).tolist() == [
        "workable", "strong", "workable", "marginal", "unlikely",
    ]  # fmt: skip


def test_the_eastern_station_opens() -> None:
    """East the shorter way round, across the date line as well."""
    inputs = with_policy(demo_inputs(), first_to_transmit="eastern")
    opens = {one.call: opener_of(inputs, index) for index, one in enumerate(inputs.partners)}
    # Home stands at 56 W: Finland and South Africa lie east of it, Wyoming (109 W) and New Zealand west.
    assert (opens["QF4LUM"], opens["QZ5KAR"], opens["QN1PIK"], opens["QT8NUI"]) == (
        "partner",
        "partner",
        "home",
        "home",
    )
    assert {opener_of(with_policy(inputs, first_to_transmit="home"), index) for index in range(3)} == {"home"}


@pytest.mark.parametrize(
    ("east_deg", "opener"),
    [(0.0, "home"), (0.1, "partner"), (179.9, "partner"), (180.0, "home"), (180.1, "home"), (359.9, "home")],
)
def test_half_a_turn_to_the_east(east_deg: float, opener: str) -> None:
    """From the same meridian to the opposite one; on either of them home opens."""
    inputs = with_policy(demo_inputs(), first_to_transmit="eastern")
    place = dataclasses.replace(inputs.home.position, longitude_deg=-56.0)
    far = (place.longitude_deg + east_deg + 180.0) % 360.0 - 180.0
    partner = dataclasses.replace(inputs.partners[0], position=dataclasses.replace(place, longitude_deg=far))
    home = dataclasses.replace(inputs.home, position=place)
    assert opener_of(dataclasses.replace(inputs, home=home, partners=(partner,)), 0) == opener


def test_of_equal_slots_the_earliest() -> None:
    time_s = np.arange(0.0, 4 * 3600.0 + 1, 300.0)
    merit = np.where((time_s >= 3600.0) & (time_s <= 3 * 3600.0), 1.0, 0.0)
    window = np.zeros(time_s.size, dtype=int)
    slots = find_best_slots(time_s, window, merit, np.full(time_s.size, 90.0), Policy(slot_minutes=SlotMinutes(60, 60)))
    assert time_s[slots.first_row[0]] == 3600.0


def test_windows_of_a_month_follow_their_samples() -> None:
    """Each window's figures are the means over the rows of its slot, found again from the samples alone."""
    plan = month_plan()
    policy = plan.inputs.season.policy
    length = pd.Timedelta(minutes=policy.slot_minutes.most)
    mixed = []
    for row in plan.windows.itertuples():
        mine = plan.samples[
            (plan.samples["partner"] == row.partner)
            & plan.samples["time_utc"].between(row.window_start_utc, row.window_end_utc)
        ]
        assert row.degradation_least_db == mine["degradation_db"].min()
        assert mine.loc[mine["degradation_db"].idxmin(), "time_utc"] == row.best_time_utc
        if pd.isna(row.slot_start_utc):
            assert row.chance == 0.0
            continue
        slot = mine[mine["time_utc"].between(row.slot_start_utc, row.slot_start_utc + length)]
        nearest = slot[["home_sun_separation_deg", "partner_sun_separation_deg"]].to_numpy().min()
        assert nearest >= policy.minimum_sun_separation_deg
        assert row.report_at_home_db == pytest.approx(slot["snr_at_home_db"].mean())
        assert row.margin_at_partner_db == pytest.approx(slot["margin_at_partner_db"].mean())
        assert row.doppler_spread_hz == pytest.approx(slot["doppler_spread_hz"].mean())
        share = (slot["worse_end"] == "partner").mean()
        assert row.worse_end == ("partner" if share >= 0.5 else "home")
        mixed.append(share)
    # Shares of a third to two thirds are among them, a half as well.
    assert {0.5} < {share for share in mixed if 0.3 < share < 0.7}
    words = outcome_words(plan.windows["chance"].to_numpy(), policy)
    # What the files do not state of a link: a skyline, or a figure of the equipment. Then nothing is strong.
    figures = {"horizon", "bands.3cm", *(f"bands.3cm.{name}" for name in (*TRANSMIT, *RECEIVE))}
    doubtful = {one.call for one in plan.inputs.partners if figures & set(one.assumed)}
    assert not figures & set(plan.inputs.home.assumed)
    assert 0 < len(doubtful) < len(plan.inputs.partners)
    lowered = [
        "workable" if word == "strong" and call in doubtful else word
        for word, call in zip(words, plan.windows["partner"], strict=True)
    ]
    assert plan.windows["outcome"].tolist() == lowered
    assert "strong" in lowered
    assert lowered != words.tolist()
    assert plan.windows["chance"].between(0.0, 1.0).all()
