"""Following the sheet puts each signal where the sheet says: sent by one dial, carried by the light times, heard by the
other. The carrying is `link.doppler`, which its own tests hold against astropy and Skyfield.
"""

from __future__ import annotations

import datetime as dt
from functools import cache

import numpy as np
import numpy.typing as npt
import pandas as pd
import pytest

from pipeline.ephemeris.sky import Sky, make_sky
from pipeline.ephemeris.tracks import Sites, make_sites
from pipeline.inputs.modes import Mode
from pipeline.link.doppler import echo_path
from pipeline.operating.dialing import (
    AT_THE_MOON,
    CONVENTIONS,
    EACH_FOLLOWS,
    HOME_FOLLOWS,
    Dialing,
    Shifts,
    dial_shifts,
    shifts_of_samples,
    shifts_of_sky,
)
from pipeline.operating.turns import turns_of
from pipeline.pairs.equipment import pair_transmit_mhz
from pipeline.wording.operating import turn_words
from tests.claims import asserted
from tests.conftest import Outside
from tests.plan.months import one_station, small_inputs

HOME_MHZ, PARTNER_MHZ = 10_368.1, 10_450.25
one_hertz = 1.0
# Stations far apart in latitude and longitude, where the two directions differ most.
HOME, PARTNER = (-34.5, -55.8, 212.0), (60.9, 23.4, 118.0)
# Whether the Moon is up plays no part: the light-time equation does not know the horizon.
START = dt.datetime(2027, 3, 13, tzinfo=dt.UTC)


@cache
def _scene() -> tuple[Sky, Sites, Sites, npt.NDArray[np.float64]]:
    sky = make_sky(START - dt.timedelta(hours=1), START + dt.timedelta(hours=25))
    return sky, make_sites(sky, *HOME), make_sites(sky, *PARTNER), 3600.0 + np.arange(0.0, 86_400.0, 600.0)


@cache
def _dials(convention: str, ahead_s: float = 0.0) -> Dialing:
    sky, home, partner, time = _scene()
    shifts = shifts_of_sky(sky, home, partner, time + ahead_s, HOME_MHZ, PARTNER_MHZ)
    return dial_shifts(convention, HOME_MHZ, PARTNER_MHZ, shifts)


def _residuals_hz(convention: str) -> npt.NDArray[np.float64]:
    """Signal less listening dial when the signal arrives, both directions: sender's dial at the moment of sending."""
    sky, home, partner, time = _scene()
    off = []
    for sender, receiver, names in (
        (home, partner, ("home_transmit_hz", "partner_receive_hz")),
        (partner, home, ("partner_transmit_hz", "home_receive_hz")),
    ):
        path = echo_path(sky, sender, receiver, time)
        shifts = shifts_of_sky(sky, home, partner, time - path.delay_s, HOME_MHZ, PARTNER_MHZ)
        sent = getattr(dial_shifts(convention, HOME_MHZ, PARTNER_MHZ, shifts), names[0])
        heard = sent * (1.0 + path.relative_shift)
        off.append(heard - getattr(_dials(convention), names[1]))
    return np.concatenate(off)


@pytest.mark.parametrize("convention", CONVENTIONS)
def test_signal_is_where_the_sheet_says(convention: str, outside: Outside) -> None:
    worst = float(np.abs(_residuals_hz(convention)).max())
    assert worst < asserted("dialling by the sheets, three conventions")
    outside(f"light times, dials '{convention}'", 288, f"{worst:.2g} Hz at 10.4 GHz", "signals")


def test_who_stays_on_the_nominal() -> None:
    home, partner = HOME_MHZ * 1e6, PARTNER_MHZ * 1e6
    each = _dials(EACH_FOLLOWS)
    assert np.all(each.home_transmit_hz == home)
    assert np.all(each.partner_transmit_hz == partner)
    one = _dials(HOME_FOLLOWS)
    assert np.all(one.partner_transmit_hz == partner)
    assert np.all(one.partner_receive_hz == home)


def _shifts_hz(there: float, back: float, home_echo: float, partner_echo: float) -> Shifts:
    return Shifts(*(np.array([shift]) for shift in (there, back, home_echo, partner_echo, there)))


def test_at_the_moon_each_end_needs_its_own_figures_alone() -> None:
    """A station's dials do not change with the other end's echo: what the convention is for."""
    first = dial_shifts(AT_THE_MOON, 10_368.0, 10_368.0, _shifts_hz(0.0, 0.0, 8000.0, -3000.0))
    other = dial_shifts(AT_THE_MOON, 10_368.0, 10_368.0, _shifts_hz(9.0, 7.0, 8000.0, 5000.0))
    assert first.home_transmit_hz == other.home_transmit_hz
    assert first.home_receive_hz == other.home_receive_hz
    # Half of 8,000 Hz down, and half of it up, by hand; the second-order rest is 0.002 Hz.
    assert first.home_transmit_hz[0] == pytest.approx(10_368e6 - 4000.0, abs=0.01)
    assert first.home_receive_hz[0] == pytest.approx(10_368e6 + 4000.0, abs=0.01)


def test_shift_at_the_instant_of_hearing_is_not_enough_for_what_is_sent() -> None:
    """2.4 s of light time at up to 2 Hz a second: the reason why what is sent has its own shift."""
    sky, home, partner, time = _scene()
    now = shifts_of_sky(sky, home, partner, time, HOME_MHZ, PARTNER_MHZ)
    off = np.abs(now.sent_home_to_partner_hz - now.home_to_partner_hz)
    assert 1.0 < off.max() < 6.0


@pytest.mark.parametrize("step_minutes", [5, 30])
def test_samples_give_the_same_as_the_sky(step_minutes: int) -> None:
    sky, home, partner, _ = _scene()
    node = np.concatenate([[3607.3], 3600.0 + np.arange(1, 8 * 60 // step_minutes) * step_minutes * 60.0, [32_399.9]])
    there, back = echo_path(sky, home, partner, node), echo_path(sky, partner, home, node)
    own = [echo_path(sky, end, end, node) for end in (home, partner)]
    samples = pd.DataFrame(
        {
            "time_utc": pd.Timestamp(sky.start) + pd.to_timedelta(node, unit="s"),
            "echo_delay_s": there.delay_s,
            "doppler_home_to_partner_hz": there.shift_hz(HOME_MHZ),
            "doppler_partner_to_home_hz": back.shift_hz(PARTNER_MHZ),
            "home_echo_doppler_hz": own[0].shift_hz(HOME_MHZ),
            "partner_echo_doppler_hz": own[1].shift_hz(PARTNER_MHZ),
        }
    )
    clock = 3660.0 + np.arange(0.0, 28_700.0, 70.0)
    found = shifts_of_samples(samples, pd.DatetimeIndex(pd.Timestamp(sky.start) + pd.to_timedelta(clock, unit="s")))
    exact = shifts_of_sky(sky, home, partner, clock, HOME_MHZ, PARTNER_MHZ)
    for name in vars(exact):
        assert np.abs(getattr(found, name) - getattr(exact, name)).max() < 0.2, name


def test_few_samples_are_enough() -> None:
    sample = pd.DataFrame(
        {
            "time_utc": pd.to_datetime(["2027-03-13T01:00:00Z", "2027-03-13T01:00:01Z"]),
            "echo_delay_s": 2.4,
            "doppler_home_to_partner_hz": [100.0, 98.0],
            "doppler_partner_to_home_hz": [90.0, 88.0],
            "home_echo_doppler_hz": [1.0, 0.0],
            "partner_echo_doppler_hz": [2.0, 1.0],
        }
    )
    at = pd.DatetimeIndex(["2027-03-13T01:00:00.5Z"])
    assert shifts_of_samples(sample, at).home_to_partner_hz[0] == pytest.approx(99.0)
    assert shifts_of_samples(sample[:1], at).home_to_partner_hz[0] == 100.0


def test_unknown_convention() -> None:
    with pytest.raises(ValueError, match="each-follows-what-it-hears"):
        dial_shifts("as-you-like", 144.0, 144.0, _shifts_hz(0.0, 0.0, 0.0, 0.0))


def test_own_frequencies_first_then_the_pair_s() -> None:
    home, own = one_station("QM7TOR", *HOME), one_station("QF4LUM", *PARTNER, frequency_mhz=PARTNER_MHZ)
    inputs = small_inputs(home, one_station("QN1PIK", *PARTNER), own, first=START.date(), last=START.date())
    assert pair_transmit_mhz(inputs, 0) == (10_368.0, 10_368.0)
    assert pair_transmit_mhz(inputs, 1) == (10_368.0, PARTNER_MHZ)


@pytest.mark.parametrize(
    ("period_s", "first", "second"),
    [
        (60, "on even minutes (0, 2, 4 ...)", "on odd minutes (1, 3, 5 ...)"),
        (30, "from second 0 to 30 of every minute", "from second 30 to 60 of every minute"),
        (15, "for 15 s from second 0 and 30 of every minute", "for 15 s from second 15 and 45 of every minute"),
        (
            120,
            "for 2 minutes from minute 0, 4, 8 ... of the hour",
            "for 2 minutes from minute 2, 6, 10 ... of the hour",
        ),
        (
            45,
            "in the first of every two periods of 45 s, counted from the full UTC hour",
            "in the second of every two periods of 45 s, counted from the full UTC hour",
        ),
    ],
)
def test_minutes_in_words(period_s: float, first: str, second: str) -> None:
    mode = Mode("Q65", period_s, 26.667, -26.9)
    for opener, told in (("home", (first, second)), ("partner", (second, first))):
        turns = turns_of(opener, mode)
        assert (turn_words(turns, "home"), turn_words(turns, "partner")) == told


def test_first_transmission_of_a_slot() -> None:
    """A slot from a quarter past begins on an odd minute: the opener sends one minute later."""
    periods = turns_of("home", Mode("Q65", 60, 26.667, -26.9))
    quarter = dt.datetime(2027, 3, 13, 1, 15, tzinfo=dt.UTC)
    assert periods.first_start("home", quarter) == quarter + dt.timedelta(minutes=1)
    assert periods.first_start("partner", quarter) == quarter
    hour = quarter.replace(minute=0)
    assert periods.first_start("home", hour) == hour
    assert periods.first_start("partner", hour) == hour + dt.timedelta(minutes=1)


def test_opener_is_an_end() -> None:
    with pytest.raises(ValueError, match="home or partner"):
        turns_of("eastern", Mode("Q65", 60, 26.667, -26.9))
