"""The timeline's order and what the Sun and the Moon move in it; times by plain subtraction."""

from __future__ import annotations

import datetime as dt
import itertools
import random

import pytest

from pipeline.sheets.timeline import Step, leaving, make_frame, timeline

FIRST = dt.datetime(2027, 3, 19, 21, 45, tzinfo=dt.UTC)
CREW = (
    "weather",
    "arrive",
    "level",
    "cables",
    "clock",
    "ground",
    "changeover",
    "align",
    "sun",
    "moon",
    "echo",
    "ready",
    "slot",
)


def at(minutes: float) -> dt.datetime:
    """Minutes after the first slot begins."""
    return FIRST + dt.timedelta(minutes=minutes)


SLOTS = [(at(0), at(60)), (at(75), at(135))]
AFTER = ("off", "log", "pack")
ALWAYS = [(at(-1000), at(1000))]


def steps(sun: list, moon: list, arrive: float = 120, align: float = 45, check: float = 30) -> dict[str, Step]:
    found = timeline(make_frame(FIRST, arrive, align, check), SLOTS, sun, moon)
    assert [step.start for step in found] == sorted(step.start for step in found)
    return {step.kind: step for step in found}


def test_usual_evening() -> None:
    found = timeline(make_frame(FIRST, 120, 45, 30), SLOTS, ALWAYS, ALWAYS)
    assert [step.kind for step in found] == [*CREW, "slot", "off", "log", "pack"]
    minutes = [round((step.start - FIRST).total_seconds() / 60) for step in found]
    # Policy: arrive 120, align 45, check 30; the rest by its shares, back to the full five minutes.
    assert minutes == [-180, -120, -115, -95, -85, -75, -60, -45, -40, -30, -25, -20, 0, 75, 135, 140, 150]
    assert all(step.condition == "as planned" for step in found)
    assert leaving(SLOTS) == at(195)


def test_the_night_ends_with_the_last_that_may_be_used() -> None:
    """A fall-back behind the last slot moves what comes after it; one before it moves nothing."""
    late, early = (at(180), at(225)), (at(61), at(74))
    for fall_backs, over in ([], 135), ([early], 135), ([late], 225), ([late, early], 225):
        found = timeline(make_frame(FIRST, 120, 45, 30), SLOTS, ALWAYS, ALWAYS, fall_backs)
        after = [round((step.start - FIRST).total_seconds() / 60) for step in found if step.kind in AFTER]
        assert after == [over, over + 5, over + 15]
    assert leaving([*SLOTS, late]) == at(285)


def test_sun_that_sets_early_is_taken_sooner() -> None:
    found = steps([(at(-500), at(-42))], ALWAYS)
    assert found["sun"].condition == "moved"
    assert found["sun"].start == at(-52)
    # The dish is aligned before: what is measured on the Sun rests on it.
    assert found["align"].start == at(-57)


def test_sun_that_sets_before_the_receiver_runs() -> None:
    assert steps([(at(-500), at(-70))], ALWAYS)["sun"].condition == "not possible"
    assert steps([], ALWAYS)["sun"].condition == "not possible"


def test_sun_that_rises_late_is_taken_later() -> None:
    found = steps([(at(-22), at(500))], ALWAYS)
    assert found["sun"].start == at(-22)


def test_moon_that_rises_late_moves_the_echo_too() -> None:
    found = steps([], [(at(-12), at(500))])
    assert found["moon"].start == at(-12)
    assert found["echo"].start == at(-7)
    assert found["echo"].condition == "as planned"


def test_moon_that_rises_too_late_for_the_echo() -> None:
    found = steps([], [(at(-8), at(500))])
    assert found["moon"].condition == "moved"
    assert found["echo"].condition == "not possible"
    # Why there is no echo is read after the Moon's noise, not before it.
    assert found["echo"].start >= found["moon"].start
    found = steps([], [(at(-2), at(500))])
    assert found["moon"].condition == found["echo"].condition == "not possible"


@pytest.mark.parametrize("seed", range(30))
def test_any_policy_keeps_the_order(seed: int) -> None:
    """Whatever the figures: never before arriving, everything of the crew's before the slot, sorted by time."""
    random_one = random.Random(seed)
    policy = [random_one.choice([0, 1, 7, 30, 45, 120, 600, 1440]) for _ in range(3)]
    body = [(at(random_one.uniform(-300, 10)), at(random_one.uniform(10, 300)))]
    found = timeline(make_frame(FIRST, *policy), SLOTS, body, body)
    assert [step.start for step in found] == sorted(step.start for step in found)
    by_kind = {step.kind: step for step in found}
    for kind in CREW[2:-1]:
        assert by_kind["arrive"].start <= by_kind[kind].start <= FIRST
    for earlier, later in itertools.pairwise(CREW[:7]):
        assert by_kind[earlier].start <= by_kind[later].start
    for kind in ("sun", "moon"):
        if by_kind[kind].condition != "not possible":
            assert by_kind["ground"].start <= by_kind["align"].start <= by_kind[kind].start
    for kind in ("sun", "moon", "echo"):
        if by_kind[kind].condition != "not possible":
            assert body[0][0] <= by_kind[kind].start <= body[0][1]
