"""Chance of a contact against the same story played many times, and what must hold of any probability."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import ndtr

from pipeline.link.chance import (
    _error_axis,
    _error_grid,
    joint_chance,
    node_weights,
    success_by_node,
)
from tests.claims import asserted
from tests.conftest import Outside
from tests.link.contacts import chance_of_contact

FloatArray = npt.NDArray[np.float64]

TRIALS = 40_000
# The even grid stands 0.5 dB apart and leaves out 0.03 % of the weight.
grid_bar = 0.002
four_sigma = 4.0


def _play(
    at_responder: FloatArray, at_opener: FloatArray, messages: int, spread_db: float | tuple[float, float], seed: int
) -> float:
    """Share of contacts completed, the errors drawn anew for every trial."""
    return float(np.mean(_played(at_responder, at_opener, messages, _errors(spread_db, seed), seed)))


def _errors(spread_db: float | tuple[float, float], seed: int) -> tuple[FloatArray, FloatArray]:
    """Errors at responder and opener: one half common to both directions, one half each direction's own."""
    at_responder, at_opener = spread_db if isinstance(spread_db, tuple) else (spread_db, spread_db)
    common, own_responder, own_opener = np.random.default_rng(seed).normal(0.0, np.sqrt(0.5), (3, TRIALS))
    return at_responder * (common + own_responder), at_opener * (common + own_opener)


def _played(
    at_responder: FloatArray, at_opener: FloatArray, messages: int, errors: tuple[FloatArray, FloatArray], seed: int
) -> npt.NDArray[np.bool_]:
    """Which contacts complete: two operators who each send the highest message their own decodes allow.

    Fading is drawn anew in every period.
    """
    random = np.random.default_rng(seed + 10_000)
    # The highest message each has decoded: the opener sends the odd ones, the responder the even ones.
    by_responder, by_opener = np.zeros(TRIALS, dtype=int), np.zeros(TRIALS, dtype=int)
    for period, (margin_responder, margin_opener) in enumerate(zip(at_responder, at_opener, strict=True)):
        draw = random.random(TRIALS)
        if period % 2 == 0:
            decodes = draw < np.nan_to_num(ndtr((margin_responder + errors[0]) / 1.5))
            sent = by_opener + 1
            by_responder = np.where(decodes & (sent <= messages), np.maximum(by_responder, sent), by_responder)
        else:
            decodes = draw < np.nan_to_num(ndtr((margin_opener + errors[1]) / 1.5))
            sent = by_responder + 1
            # Nothing to answer before the first message has come through.
            decodes &= (by_responder > 0) & (sent <= messages)
            by_opener = np.where(decodes, np.maximum(by_opener, sent), by_opener)
    return np.maximum(by_responder, by_opener) >= messages


def _flat(margin_db: float, periods: int) -> FloatArray:
    return np.full(periods, margin_db)


STORIES = [
    ("even margins", _flat(0.0, 60), _flat(0.0, 60), 4, 2.0),
    ("a short slot", _flat(1.0, 10), _flat(0.5, 10), 4, 2.0),
    ("one weak direction", _flat(4.0, 30), _flat(-2.5, 30), 4, 2.0),
    ("the other weak", _flat(-2.5, 30), _flat(4.0, 30), 4, 2.0),
    ("odd number of messages", _flat(-1.0, 21), _flat(-0.5, 21), 5, 2.0),
    ("rising Moon", np.linspace(-5.0, 2.0, 60), np.linspace(-4.0, 1.0, 60), 4, 2.0),
    ("one message", _flat(-3.0, 7), _flat(-9.0, 7), 1, 2.0),
    ("a taught correction", _flat(-1.5, 40), _flat(-1.0, 40), 4, 0.8),
    ("hopeless", _flat(-9.0, 60), _flat(-9.0, 60), 4, 2.0),
    (
        "short of periods",
        np.append(_flat(0.0, 12), _flat(np.nan, 20)),
        np.append(_flat(0.0, 12), _flat(np.nan, 20)),
        4,
        2.0,
    ),
]


def test_against_the_story_played(outside: Outside) -> None:
    """Monte Carlo with fixed seeds; the bar is four standard deviations of the count, and the grid's own error."""
    off = []
    for seed, (name, at_responder, at_opener, messages, spread_db) in enumerate(STORIES):
        chance = float(chance_of_contact(at_responder[None], at_opener[None], messages, spread_db)[0])
        played = _play(at_responder, at_opener, messages, spread_db, seed)
        bar = four_sigma * np.sqrt(max(chance * (1 - chance), 1.0 / TRIALS) / TRIALS) + grid_bar
        assert abs(played - chance) < bar, name
        off.append(abs(played - chance))
    assert max(off) < asserted("chance of a contact")
    outside("Monte Carlo", len(STORIES), f"{max(off):.2g} of 1", "chances of contact")


def test_the_two_errors_are_half_alike() -> None:
    """Moments of the grid's weights: a spread of one each, a correlation of a half (judgement), no leaning."""
    opener, responder, weight = _error_grid()
    axis = _error_axis()
    x, y = axis[opener], axis[responder]
    assert float(weight.sum()) == pytest.approx(1.0)
    assert [float(weight @ x), float(weight @ y)] == pytest.approx([0.0, 0.0], abs=1e-9)
    assert [float(weight @ x**2), float(weight @ y**2)] == pytest.approx([1.0, 1.0], abs=0.005)
    assert float(weight @ (x * y)) == pytest.approx(0.5, abs=0.005)


UNEVEN = [
    ("one end well known", _flat(-1.0, 40), _flat(0.0, 40), (0.7, 2.5)),
    ("the other end", _flat(-1.0, 40), _flat(0.0, 40), (2.5, 0.7)),
    ("nothing known", _flat(-3.0, 60), _flat(-2.0, 60), (5.0, 4.0)),
    ("sure figures", _flat(-2.5, 20), _flat(-2.0, 20), (0.0, 0.0)),
]


def test_a_spread_for_each_direction(outside: Outside) -> None:
    """The same story; all slots in one call, the spreads an array."""
    spreads = np.array([one[3] for one in UNEVEN])
    longest = 60
    padded = [
        np.stack([np.pad(one[side], (0, longest - one[side].size), constant_values=np.nan) for one in UNEVEN])
        for side in (1, 2)
    ]
    chance = chance_of_contact(padded[0], padded[1], 4, spreads[:, 0], spreads[:, 1])
    off = []
    for seed, (name, at_responder, at_opener, spread_db) in enumerate(UNEVEN):
        played = _play(at_responder, at_opener, 4, spread_db, seed)
        bar = four_sigma * np.sqrt(max(chance[seed] * (1 - chance[seed]), 1.0 / TRIALS) / TRIALS) + 2 * grid_bar
        assert abs(played - chance[seed]) < bar, name
        off.append(abs(played - chance[seed]))
    assert max(off) < asserted("chance of a contact")
    outside("Monte Carlo", len(UNEVEN), f"{max(off):.2g} of 1", "chances with uneven spreads")


PAIRS = [
    ("alike", (_flat(-1.0, 40), _flat(-1.0, 40)), (_flat(-1.0, 40), _flat(-1.0, 40))),
    ("a long and a short one", (_flat(0.0, 60), _flat(-1.5, 60)), (_flat(0.5, 12), _flat(1.0, 12))),
    ("weak there, weak here", (_flat(-3.0, 60), _flat(2.0, 60)), (_flat(2.0, 60), _flat(-3.0, 60))),
]


def test_two_slots_share_the_stations(outside: Outside) -> None:
    """At least one contact in two slots, the station errors the same in both, by playing both."""
    off = []
    for seed, (name, first, second) in enumerate(PAIRS):
        success = [success_by_node(one[0][None], one[1][None], 4) for one in (first, second)]
        joint = float(joint_chance(success[0], success[1])[0, 0])
        errors = _errors(2.0, seed)
        played = _played(*first, 4, errors, seed) | _played(*second, 4, errors, seed + 50)
        bar = four_sigma * np.sqrt(joint * (1 - joint) / TRIALS) + grid_bar
        assert abs(float(played.mean()) - joint) < bar, name
        off.append(abs(float(played.mean()) - joint))
        alone = [float((one @ node_weights())[0]) for one in success]
        assert max(alone) <= joint <= 1 - (1 - alone[0]) * (1 - alone[1])
    assert max(off) < asserted("chance of a contact")
    outside("Monte Carlo", len(PAIRS), f"{max(off):.2g} of 1", "joint chances")


def test_single_precision_is_enough() -> None:
    """The same chain in double precision, message by message, at every node of errors."""
    random = np.random.default_rng(5)
    here, there = random.uniform(-6.0, 4.0, (2, 6, 24))
    found = success_by_node(here, there, 5, 2.5, 1.5)
    opener, responder = (_error_axis()[place] for place in _error_grid()[:2])
    expected = np.zeros(found.shape)
    for slot in range(6):
        sent = np.zeros((6, opener.size))
        sent[0] = 1.0
        for period in range(24):
            margin, error = (there[slot], 1.5 * opener) if period % 2 else (here[slot], 2.5 * responder)
            decodes = ndtr((margin[period] + error) / 1.5)
            for message in [number for number in range(4, -1, -1) if number % 2 == period % 2]:
                moved = sent[message] * decodes
                sent[message] -= moved
                sent[message + 1] += moved
        expected[slot] = sent[5]
    assert np.abs(found - expected).max() < 3e-6
    assert np.abs((found - expected) @ node_weights()).max() < 5e-7


def test_joint_chances_of_many() -> None:
    """All pairs at once are what each pair is alone; a slot twice is no better known than its errors allow."""
    margin = np.array([[-2.0] * 20, [0.0] * 20, [1.0] * 20])
    success = success_by_node(margin, margin, 4)
    every = joint_chance(success, success[:2])
    assert every.shape == (3, 2)
    for i in range(3):
        for j in range(2):
            assert every[i, j] == pytest.approx(
                float(joint_chance(success[i : i + 1], success[j : j + 1])[0, 0]), abs=1e-12
            )
    assert every[0, 1] == pytest.approx(every[1, 0], abs=1e-12)


margins = st.floats(-15.0, 15.0)


@given(margins, margins, st.integers(1, 40), st.integers(1, 6))
def test_between_never_and_always(responder_db: float, opener_db: float, periods: int, messages: int) -> None:
    chance = chance_of_contact(_flat(responder_db, periods)[None], _flat(opener_db, periods)[None], messages)
    assert 0.0 <= chance[0] <= 1.0


@given(margins, margins, st.integers(1, 30))
def test_more_signal_and_more_time_never_hurt(responder_db: float, opener_db: float, periods: int) -> None:
    at_responder, at_opener = _flat(responder_db, periods), _flat(opener_db, periods)
    chance = chance_of_contact(
        np.stack([at_responder, at_responder + 0.7, at_responder]), np.stack([at_opener, at_opener, at_opener + 0.7]), 4
    )
    longer = chance_of_contact(_flat(responder_db, periods + 1)[None], _flat(opener_db, periods + 1)[None], 4)
    assert chance[1] >= chance[0] - 1e-12
    assert chance[2] >= chance[0] - 1e-12
    assert longer[0] >= chance[0] - 1e-12


def test_fewer_periods_than_messages() -> None:
    """Four messages sent in turn take four periods at least, however strong the signal."""
    strong = np.full((1, 3), 40.0)
    assert chance_of_contact(strong, strong, 4)[0] == 0.0
    assert chance_of_contact(np.full((1, 4), 40.0), np.full((1, 4), 40.0), 4)[0] == pytest.approx(1.0)


def test_periods_that_do_not_exist() -> None:
    """A slot cut short by NaN is worth as much as one that is short, and NaN throughout is worth nothing."""
    short = np.full((1, 8), 1.0)
    padded = np.concatenate([short, np.full((1, 9), np.nan)], axis=1)
    assert chance_of_contact(padded, padded, 4)[0] == pytest.approx(chance_of_contact(short, short, 4)[0], abs=1e-12)
    assert chance_of_contact(np.full((2, 6), np.nan), np.full((2, 6), np.nan), 4).tolist() == [0.0, 0.0]


def test_slots_do_not_touch_each_other() -> None:
    many = np.array([[-3.0] * 20, [0.0] * 20, [3.0] * 20])
    together = chance_of_contact(many, many, 4)
    alone = [float(chance_of_contact(row[None], row[None], 4)[0]) for row in many]
    assert together == pytest.approx(alone, abs=1e-12)
    assert chance_of_contact(np.zeros((0, 20)), np.zeros((0, 20)), 4).shape == (0,)
