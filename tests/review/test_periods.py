"""Periods heard and tried: what counts say of a way by the fading model, against the binomial law worked by hand."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import binom, norm

from pipeline.record.attempts import attempts_text
from pipeline.review.compare import compare
from pipeline.review.corrections import attempts_of, compared
from pipeline.review.learning import Before, Learnt, learn
from pipeline.review.likelihood import Attempts
from pipeline.review.periods import GUESSED_COUNTS_FOR, Periods, log_count, log_periods
from pipeline.review.reading_logs import read_logs
from tests.plan.months import demo_inputs
from tests.review.stories import without_reports

AXIS = np.arange(-8.0, 8.0, 0.01)
HEAD = (
    "partner,slot_start_utc,slot_end_utc,mode,completed,time_utc,"
    "periods_tried_at_home,periods_heard_at_home,guessed_at_home"
)
SLOT = "QF4LUM,2027-03-13T22:00Z,2027-03-13T23:00Z,Q65-60D"


def counted(heard: float, tried: float = 30.0, guessed: bool = False, count: int = 1) -> Attempts:
    """Failed attempts at a margin of 0 dB, of which home's periods are told."""
    nothing = np.full(count, np.nan)
    periods = Periods(
        np.stack([nothing, np.full(count, tried)]),
        np.stack([nothing, np.full(count, heard)]),
        np.full((2, count), guessed),
    )
    return dataclasses.replace(without_reports(np.ones(count), 0.0, False), periods=periods)


ALIKE = Before(evening_db=0.0)


def way_home(learnt: Learnt) -> tuple[float, float]:
    return learnt.way(1, 0)


def test_one_in_thirty_says_minus_two_point_eight() -> None:
    """Phi(x / 1.5) = 1 / 30 at x = 1.5 * (-1.834) = -2.75 dB: tables of the normal law."""
    likely = log_count(AXIS, 30.0, 1.0)
    assert AXIS[int(likely.argmax())] == pytest.approx(-2.75, abs=0.02)
    assert AXIS[int(likely.argmax())] == pytest.approx(1.5 * norm.ppf(1 / 30), abs=0.02)


@pytest.mark.parametrize(("tried", "heard"), [(30, 0), (30, 1), (30, 15), (8, 8), (1, 1)])
def test_counts_are_binomial(tried: int, heard: int) -> None:
    expected = binom.logpmf(heard, tried, norm.cdf(AXIS / 1.5))
    assert log_count(AXIS, tried, heard) == pytest.approx(expected, rel=1e-9, abs=1e-9)


def test_a_count_teaches_and_a_bare_no_hardly() -> None:
    """The belief is 0 +- 2 dB a way. 1 of 30 alone has a width of some 0.6 dB: the mean goes nearly all the way."""
    mean, doubt = way_home(learn(counted(1.0), 2, ALIKE))
    assert mean == pytest.approx(-2.55, abs=0.2)
    assert doubt < 0.75
    bare, left = way_home(learn(without_reports([1], 0.0, False), 2, ALIKE))
    assert abs(bare) < 0.6 * abs(mean)
    assert left > 2.0 * doubt


def test_nothing_heard_may_be_nobody_there() -> None:
    """0 of 30 is kept open for an empty chair; 0 of 30 from a partner that heard home is not."""
    nothing = counted(0.0)
    mean, _ = way_home(learn(nothing, 2))
    assert nothing.periods is not None
    there = Periods(np.array([[30.0], [30.0]]), np.array([[5.0], [0.0]]), nothing.periods.guessed)
    surely, _ = way_home(learn(dataclasses.replace(nothing, periods=there), 2))
    assert surely < mean - 0.2


def test_guessed_decodes_count_for_less() -> None:
    plain, guessed = (way_home(learn(counted(1.0, guessed=marked), 2, ALIKE)) for marked in (False, True))
    assert guessed[1] > plain[1] * 1.3
    assert abs(guessed[0]) < abs(plain[0])
    assert GUESSED_COUNTS_FOR < 1.0


def test_a_doubtful_prediction_widens_what_a_count_says() -> None:
    attempts = counted(1.0)
    assert attempts.periods is not None
    margins, none, some = np.zeros((2, 1)), np.zeros((2, 1)), np.full((2, 1), 2.0)
    sharp, wide = (np.exp(log_periods(attempts.periods, margins, doubt, AXIS)[1, 0]) for doubt in (none, some))
    spreads = [np.sqrt(np.average((AXIS - np.average(AXIS, weights=one)) ** 2, weights=one)) for one in (sharp, wide)]
    assert spreads[1] == pytest.approx(np.hypot(spreads[0], 2.0), rel=0.15)


def test_periods_tell_who_was_there() -> None:
    """Fifteen slots at a strong margin: nothing heard is an empty chair, something heard is none, failed though it be.

    The share of all counts twenty slots of before: 17 / 35 and 32 / 35 where each slot is certain.
    """
    strong = {
        heard: dataclasses.replace(counted(heard, count=15), margin_at_home_db=np.full(15, 9.0)) for heard in (0, 25)
    }
    made = dataclasses.replace(strong[25], completed=np.ones(15, dtype=bool))
    away, unsure, there = (float(learn(one, 2, ALIKE).presence[0]) for one in (strong[0], strong[25], made))
    assert away == pytest.approx(17.0 / 35.0, abs=0.02)
    assert unsure == pytest.approx(0.85)
    assert there == pytest.approx(32.0 / 35.0, abs=0.01)


def test_a_lone_count_may_be_one_evening_as_well() -> None:
    """Where evenings differ one slot tells less of the station."""
    alike, differ = (way_home(learn(counted(1.0), 2, Before(evening_db=width)))[1] for width in (0.0, 1.3))
    assert differ > 1.5 * alike


def test_hidden_ways_are_found_from_counts_alone() -> None:
    """150 ways drawn as they are believed, three slots of thirty periods each: nine in ten intervals hold them."""
    chance = np.random.default_rng(11)
    inside = 0
    for _ in range(150):
        true_db = chance.normal(0.0, 2.0)
        heard = chance.binomial(30, norm.cdf(true_db / 1.5), 3).astype(float)
        attempts = counted(0.0, count=3)
        assert attempts.periods is not None
        told = np.stack([np.full(3, np.nan), heard])
        periods = dataclasses.replace(attempts.periods, heard=told)
        mean, doubt = way_home(learn(dataclasses.replace(attempts, periods=periods), 2, ALIKE))
        inside += abs(mean - true_db) <= 1.645 * doubt
    assert 0.83 <= inside / 150 <= 0.97


def test_a_log_tells_periods_and_guesses_to_the_likelihood(tmp_path: Path) -> None:
    inputs = demo_inputs()
    log = tmp_path / "log.csv"
    log.write_text(
        f"{HEAD}\n{SLOT},no,22:30,30,1,yes\n{SLOT.replace('22:', '23:').replace('23:00Z,Q', '23:59Z,Q')},no,,8,0,\n"
    )
    entries, _ = read_logs([log], inputs)
    assert [(one.periods_heard_at_home, one.guessed_at_home) for one in entries] == [(1, True), (0, False)]
    rows = compared(entries, inputs)
    told = attempts_of(rows, inputs, "3cm", [inputs.home.call, "QF4LUM"]).counted
    assert told.tried[1].tolist() == [30.0, 8.0]
    assert told.guessed[1].tolist() == [True, False]
    assert np.isnan(told.tried[0]).all()
    assert "guessed_at_home" in compare(entries, inputs)
    assert attempts_text(entries).splitlines()[1].endswith("30,1,,,yes,no")


def test_a_word_that_is_neither_counts_as_guessed_and_is_asked_for(tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    log.write_text(f"{HEAD}\n{SLOT},no,22:30,30,1,maybe\n")
    entries, findings = read_logs([log], demo_inputs())
    assert entries[0].guessed_at_home
    assert any("guessed_at_home 'maybe' is neither yes nor no" in str(one) for one in findings)
