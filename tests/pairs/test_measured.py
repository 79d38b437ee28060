"""Hidden receiving figures and axes are found again from invented readings, within the doubt that is stated.

The readings are made by the noise formulas that check and sheet use, whose own worked examples stand beside them.
"""

from __future__ import annotations

import dataclasses
import datetime as dt

import numpy as np
import pytest

from pipeline.link.antenna import dish_beam, pointing_loss_db
from pipeline.link.constants import SUN_DISC_DEG
from pipeline.link.sun_noise import disc_mean_table
from pipeline.pairs.corrections import correction_of, joined, pair_spreads_db, rests_on_assumptions, side_variances_db2
from pipeline.pairs.measured import COMMON_DOUBT_DB, ahead_of, before_of, expected_at, known_figures, measured_of
from pipeline.pairs.source_ratios import ratio_of_db, rise_of_db
from pipeline.pairs.station_figures import (
    ECHO_READ_DB,
    RISE_READ_DB,
    RISE_READ_SHARE,
    Before,
    Readings,
    figures_of,
    sound,
)
from pipeline.record.inputs import Inputs
from pipeline.record.model import DIAL, ECHO, GROUND, MOON, PEAK, SUN, Correction, Measurement
from pipeline.reports.learnt import learnt_fact
from pipeline.wording.corrections import correction_words
from tests.plan.months import demo_inputs, with_equipment

BEAM = dish_beam(1.8, 0.55, 10368)
BEFORE = Before(1.0, 1.0, 1.0, 0.3, 0.1)
EXPECTED = {GROUND: 6.1, SUN: 12.3, MOON: 0.85, ECHO: -13.0}
# What an outing brings: kind and aim.
OUTING = ((GROUND, DIAL), (SUN, DIAL), (SUN, PEAK), (MOON, DIAL), (ECHO, DIAL))
STATIONS = 400
NINE_IN_TEN = 1.6449


@dataclasses.dataclass(frozen=True)
class Truth:
    """What nobody told: decibels of gain, noise and power, and where the axis stands off, degrees."""

    gain_db: float
    noise_db: float
    power_db: float
    across_deg: float
    up_deg: float

    @property
    def off_deg(self) -> float:
        return float(np.hypot(self.across_deg, self.up_deg))

    @property
    def receive_db(self) -> float:
        """As the plan takes it: the file's pointing loss is in the plan already."""
        lost = pointing_loss_db([BEFORE.pointing_error_deg, self.off_deg], BEAM.beamwidth_deg)
        return self.gain_db + self.noise_db + float(lost[0] - lost[1])

    @property
    def transmit_db(self) -> float:
        return self.receive_db - self.noise_db + self.power_db


def invented(chance: np.random.Generator, outings: int) -> tuple[Truth, Readings]:
    """A station by what is believed before, and its readings: each source off by its own, each day, each meter."""
    axis = chance.normal(0.0, BEFORE.pointing_error_deg / np.sqrt(2.0), 2)
    truth = Truth(*chance.normal(0.0, 1.0, 3), *axis)
    source = {kind: chance.normal(0.0, doubt) for kind, doubt in COMMON_DOUBT_DB.items()}
    nodes, mean_db = disc_mean_table(BEAM, SUN_DISC_DEG)
    disc = float(mean_db[0] - np.interp(truth.off_deg, nodes, mean_db))
    day_doubt = 0.5
    rows = []
    for _ in range(outings):
        sun_of_day = chance.normal(0.0, day_doubt)
        for what, aim in OUTING:
            if what == ECHO:
                lost = 2.0 * float(pointing_loss_db(truth.off_deg, BEAM.beamwidth_deg))
                level = EXPECTED[ECHO] + 2.0 * truth.gain_db + truth.noise_db + truth.power_db - lost
                rows.append((what, aim, level + chance.normal(0.0, ECHO_READ_DB), 0.0, np.nan, np.nan))
                continue
            gain = 0.0 if what == GROUND else truth.gain_db - (disc if aim == DIAL else 0.0)
            ratio = ratio_of_db(EXPECTED[what]) + gain + truth.noise_db + source[what]
            # Two readings of one day share its Sun; each tells half of it.
            ratio += sun_of_day if what == SUN else 0.0
            rise = float(rise_of_db(ratio))
            read = rise + chance.normal(0.0, np.hypot(RISE_READ_DB, RISE_READ_SHARE * rise))
            peak = (
                axis + chance.normal(0.0, np.hypot(0.1 * BEAM.beamwidth_deg, 0.18), 2) if aim == PEAK else [np.nan] * 2
            )
            rows.append((what, aim, read, day_doubt * np.sqrt(2.0) if what == SUN else 0.0, *peak))
    what, aim, value, day, across, up = zip(*rows, strict=True)
    numbers = [np.array(one, dtype=float) for one in (value, [EXPECTED[one] for one in what], day, across, up)]
    return truth, Readings(what, aim, *numbers[:3], COMMON_DOUBT_DB, *numbers[3:])


@pytest.fixture(scope="module", params=[1, 4], ids=["one outing", "four outings"])
def found(request: pytest.FixtureRequest) -> list[tuple[Truth, Readings]]:
    chance = np.random.default_rng(20270313 + request.param)
    return [invented(chance, request.param) for _ in range(STATIONS)]


def test_nine_in_ten_hidden_figures_lie_inside_their_intervals(found: list[tuple[Truth, Readings]]) -> None:
    """90 % of 400 stations are 360; chance alone moves that by 12 (two standard deviations)."""
    inside = {"receive": 0, "transmit": 0, "hears": 0, "off": 0, "across": 0}
    for truth, readings in found:
        told = figures_of(readings, BEFORE, BEAM)
        assert told.across_deg is not None
        for name, (mean, doubt), true in (
            ("receive", told.receive_db, truth.receive_db),
            ("transmit", told.transmit_db, truth.transmit_db),
            ("hears", told.hears_db, truth.gain_db + truth.noise_db),
            ("off", told.off_axis_deg, truth.off_deg),
            ("across", told.across_deg, truth.across_deg),
        ):
            inside[name] += abs(true - mean) <= NINE_IN_TEN * doubt
    for name, count in inside.items():
        assert 0.86 <= count / STATIONS <= 0.95, name


def test_more_outings_leave_less_doubt_and_less_error(found: list[tuple[Truth, Readings]]) -> None:
    """A station believed to 1.4 dB is known to half of that after one outing."""
    told = [figures_of(readings, BEFORE, BEAM) for _, readings in found]
    errors = [one.hears_db[0] - truth.gain_db - truth.noise_db for one, (truth, _) in zip(told, found, strict=True)]
    assert np.std(errors) < 0.6
    assert np.median([one.hears_db[1] for one in told]) < 0.6


def test_without_readings_the_belief_stays() -> None:
    nothing = Readings((), (), *(np.zeros(0),) * 3, COMMON_DOUBT_DB, *(np.zeros(0),) * 2)
    told = figures_of(nothing, BEFORE, BEAM)
    assert told.hears_db == pytest.approx((0.0, np.sqrt(2.0)), abs=1e-6)
    # The file's pointing error is a root mean square: so is that of the belief.
    assert np.hypot(*told.off_axis_deg) == pytest.approx(0.3, rel=0.01)
    assert told.receive_db[0] == pytest.approx(0.0, abs=0.01)
    assert told.across_deg is None


def test_ground_tells_of_the_receiver_alone() -> None:
    """Y of a twice as noisy system: half the ratio. Gain stays as doubtful as it was."""
    rise = float(rise_of_db(ratio_of_db(6.1) - 3.0))
    readings = Readings((GROUND,) * 9, (DIAL,) * 9, np.full(9, rise), np.full(9, 6.1), np.zeros(9), COMMON_DOUBT_DB,
                        np.full(9, np.nan), np.full(9, np.nan))  # fmt: skip
    told = figures_of(readings, Before(1.0, 9.0, 1.0, 0.3, 0.1), BEAM)
    assert told.hears_db[0] == pytest.approx(-3.0, abs=0.1)
    assert told.hears_db[1] == pytest.approx(1.0, abs=0.05)
    assert told.transmit_db[0] == pytest.approx(0.0, abs=0.01)


def test_dial_and_peak_together_tell_the_axis() -> None:
    """12 (e / 1.124)^2 = 2.1 dB at 0.47 degree: a Sun that reads 2 dB more at the peak."""
    peak = 12.3
    dial = float(rise_of_db(ratio_of_db(12.3) - 2.1))
    readings = Readings((SUN, SUN) * 4, (DIAL, PEAK) * 4, np.array([dial, peak] * 4), np.full(8, 12.3), np.zeros(8),
                        COMMON_DOUBT_DB, np.full(8, np.nan), np.full(8, np.nan))  # fmt: skip
    told = figures_of(readings, BEFORE, BEAM)
    assert told.off_axis_deg[0] == pytest.approx(0.47, abs=0.04)
    assert told.off_axis_deg[1] < 0.05
    assert told.receive_db[0] < told.hears_db[0] - 0.9


def test_a_reading_that_nothing_explains_is_set_aside() -> None:
    _, readings = invented(np.random.default_rng(7), 3)
    assert sound(readings, BEFORE, BEAM).all()
    wild = dataclasses.replace(
        readings, value_db=np.where(np.arange(readings.value_db.size) == 1, 30.0, readings.value_db)
    )
    assert np.flatnonzero(~sound(wild, BEFORE, BEAM)).tolist() == [1]


@pytest.mark.parametrize("axis", ["across_deg", "up_deg"])
def test_a_peak_that_is_no_error_of_pointing_is_set_aside(axis: str) -> None:
    """Of a dish pointed to 0.3 degree a peak 0.8 degree off is believed, and none 5 degrees off."""
    _, readings = invented(np.random.default_rng(7), 1)
    before = np.array([one == PEAK for one in readings.aim])
    for off_deg, kept in ((0.8, True), (-0.8, True), (5.0, False), (-5.0, False)):
        moved = dataclasses.replace(readings, **{axis: np.where(before, off_deg, np.nan)})  # type: ignore[arg-type]
        assert sound(moved, BEFORE, BEAM).tolist() == np.where(before, kept, True).tolist()


def measured(*readings: tuple[str, str, float], **more: object) -> Inputs:
    """The demo with readings of home on 13 March: time, kind, dB."""
    inputs = demo_inputs()
    made = tuple(
        Measurement(
            inputs.home.call,
            "3cm",
            dt.datetime.fromisoformat(f"2027-03-13T{time}:00+00:00"),
            what,
            value,
            **more,  # type: ignore[arg-type]
        )
        for time, what, value in readings
    )
    return dataclasses.replace(inputs, record=dataclasses.replace(inputs.record, measurements=made))


def test_a_station_of_the_season_is_read_at_its_own_sky() -> None:
    """Sun and Moon of 13 March 2027 over home; the Sun's rise by hand from the reading's own elevation."""
    inputs = measured(("18:20", SUN, 11.2), ("18:40", GROUND, 4.9), ("22:40", ECHO, -15.5))
    told = measured_of(inputs, inputs.home.call, "3cm")
    assert told is not None
    assert told.figures is not None
    sun = told.readings[0]
    assert sun.elevation_deg == pytest.approx(43.36, abs=0.05)
    assert 12.0 < sun.expected_db < 13.0
    assert told.figures.hears_db[0] < -0.5
    correction = correction_of(inputs, inputs.home.call, "3cm")
    assert correction is not None
    assert correction.receive_db == told.figures.receive_db[0]
    assert correction.receive_uncertainty_db < 1.0
    spreads, usual = (pair_spreads_db(one, "QF4LUM", "3cm") for one in (inputs, demo_inputs()))
    assert spreads["home"] < usual["home"]


def test_no_reading_of_another_band_or_station_counts() -> None:
    inputs = measured(("18:20", SUN, 11.2))
    assert correction_of(inputs, "QF4LUM", "3cm") is None
    assert measured_of(inputs, inputs.home.call, "23cm") is None


def test_a_sun_below_the_horizon_is_no_reading() -> None:
    inputs = measured(("02:20", SUN, 11.2))
    told = measured_of(inputs, inputs.home.call, "3cm")
    assert told is not None
    assert told.readings[0].is_down
    assert told.figures is None
    assert not told.counted
    assert correction_of(inputs, inputs.home.call, "3cm") is None


def test_what_is_expected_next_follows_the_readings() -> None:
    """Five times 11.0 where the file says 12.4: the next is expected near 11.0, and surer."""
    readings = tuple((f"18:{minute}", SUN, 11.0) for minute in (10, 20, 30, 40, 50))
    inputs = measured(*readings)
    home = inputs.home.call
    probe = Measurement(home, "3cm", dt.datetime(2027, 3, 14, 18, 30, tzinfo=dt.UTC), SUN, 0.0)
    reading = expected_at(inputs, probe)
    assert reading is not None
    first, then = (ahead_of(reading, known_figures(one, home, "3cm")) for one in (demo_inputs(), inputs))
    assert then.middle_db == pytest.approx(11.0, abs=0.5)
    assert abs(then.middle_db - 11.0) < abs(first.middle_db - 11.0)
    assert then.high_db - then.low_db < 0.7 * (first.high_db - first.low_db)


def test_assumed_figures_are_measured_with_more_room() -> None:
    inputs = demo_inputs()
    station = inputs.home
    assumed = dataclasses.replace(with_equipment(station), assumed=("bands.3cm.antenna", "bands.3cm.noise_figure_db"))
    plain, wide = before_of(station, "3cm"), before_of(assumed, "3cm")
    assert wide.gain_db2 > plain.gain_db2
    assert wide.noise_db2 > plain.noise_db2
    assert wide.power_db2 == plain.power_db2
    # A noise reading says nothing of power or skyline: what is assumed stays assumed.
    assert rests_on_assumptions(dataclasses.replace(inputs, home=assumed), 0)


def test_log_and_readings_together_count_the_belief_once() -> None:
    """Normals: two messages of 1 dB^2 about a side of 2 dB^2 leave 1 / (1 + 1 - 1/2) dB^2."""
    assert joined((1.0, 1.0), (0.0, 2.0**0.5), 2.0) == pytest.approx((1.0, 1.0))
    mean, doubt = joined((1.0, 1.0), (1.0, 1.0), 2.0)
    assert doubt**2 == pytest.approx(1.0 / 1.5)
    assert mean == pytest.approx(2.0 / 1.5)


def test_presence_and_evenings_of_the_log_stand_beside_readings() -> None:
    """Sides of log and readings are joined; a log that tells presence alone leaves the sides to the readings."""
    inputs = measured(("18:20", SUN, 11.2))
    home, read = inputs.home.call, correction_of(inputs, inputs.home.call, "3cm")
    assert read is not None
    told = Correction(home, "3cm", 0.5, -1.0, 0.8, 0.6, "9 attempts", 0.7, 0.9)
    known = {}
    for sides in (True, False):
        record = dataclasses.replace(inputs.record, corrections=(dataclasses.replace(told, tells_sides=sides),))
        known[sides] = dataclasses.replace(inputs, record=record)
    both, apart = (correction_of(known[sides], home, "3cm") for sides in (True, False))
    assert both is not None
    assert apart is not None
    assert both.receive_uncertainty_db < min(told.receive_uncertainty_db, read.receive_uncertainty_db)
    assert (apart.receive_db, apart.receive_uncertainty_db) == (read.receive_db, read.receive_uncertainty_db)
    for one in (both, apart):
        assert (one.presence, one.evening_db, one.tells_sides) == (0.7, 0.9, True)
    sends, hears = side_variances_db2(known[True], inputs.home, "3cm")
    assert sends == pytest.approx(both.transmit_uncertainty_db**2 + 0.81)
    assert hears == pytest.approx(both.receive_uncertainty_db**2 + 0.81)
    assert learnt_fact(known[False], home, "3cm") == (
        f"corrected from the log and by its own readings: {correction_words(apart)}"
    )
    assumed = dataclasses.replace(inputs.home, assumed=("bands.3cm.power_w",))
    stated = tuple(dataclasses.replace(one, assumed=()) for one in inputs.partners)
    rest = [
        rests_on_assumptions(dataclasses.replace(known[sides], home=assumed, partners=stated), 0)
        for sides in (True, False)
    ]
    assert rest == [False, True]
