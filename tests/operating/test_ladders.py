"""The ladders: each figure by hand or by another reckoning, the order of steps, who hears whom by play."""

from __future__ import annotations

import dataclasses
import math
import re
from functools import cache
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from pipeline.link.cloud import cloud_loss_db, droplet_db_per_km
from pipeline.link.one_way import periods_for, who_hears
from pipeline.operating.dialing import AT_THE_MOON, CONVENTIONS, Shifts, dial_shifts
from pipeline.operating.ladders import Do, Heard, LadderFigures, ladders_of
from pipeline.operating.night_track import make_night_track
from pipeline.operating.other_spots import Holds, other_spots
from pipeline.sheets.ladder_sheet import LadderSheet, SlotLadders, ladder_sheet, night_ladders
from pipeline.wording.ladders import HEARD_WORDS, STEP_WORDS, figure_words, odds_words, weaker_words
from tests.conftest import Outside
from tests.sheets.invented_agenda import NIGHT, night_plan

TAIL = [Do.RING, Do.PACK]


@cache
def _made() -> tuple[tuple[SlotLadders, ...], LadderSheet]:
    plan = night_plan()
    night = plan.night(NIGHT)
    track = make_night_track(plan.inputs, NIGHT, plan.period.edges_of(NIGHT), [(s.start, s.end) for s in night.slots])
    assert all(one.figures.moon_rise_db for one in night_ladders(night, track))
    # Where the set-up sheet says that the Moon is too weak for this dish, no ladder asks to peak on it.
    assert not any(one.figures.moon_rise_db for one in ladder_sheet(night, track, moon_too_weak=True).slots)
    return night_ladders(night, track), ladder_sheet(night, track)


def test_a_meeting_place_that_nobody_named_is_a_blank_to_write_in() -> None:
    assert night_plan().inputs.season.letters.meet is None
    for page in _made()[1].pages:
        (row,) = [one for one in page.facts if one.step == "We meet"]
        assert {cell.figure for cell in row.cells} == {"________________"}


def _figures(place: int = 0, **changes: Any) -> LadderFigures:
    return dataclasses.replace(_made()[0][place].figures, **changes)


def _steps(figures: LadderFigures, heard: Heard) -> list[Do]:
    return [rung.do for ladder in ladders_of(figures) if ladder.heard is heard for rung in ladder.rungs]


def test_who_hears_by_play(outside: Outside) -> None:
    """A hundred thousand evenings drawn: errors of both ways with half correlation, each period faded by itself."""
    draw = np.random.default_rng(7)
    many, periods, worst = 100_000, 5, 0.0
    for home, partner in ((2.0, -2.0), (-4.0, -5.0), (0.0, 3.0)):
        error = draw.multivariate_normal([0.0, 0.0], [[4.0, 2.0], [2.0, 4.0]], many)
        heard = [
            ((mean + error[:, [place]] + draw.normal(0.0, 1.5, (many, periods))) > 0.0).any(axis=1)
            for place, mean in enumerate((home, partner))
        ]
        played = [(a & b).mean() for a in (heard[0], ~heard[0]) for b in (heard[1], ~heard[1])]
        found = who_hears(home, partner, 2.0, 2.0, periods)
        told = [found.both, found.home_alone, found.partner_alone, found.neither]
        assert sum(told) == pytest.approx(1.0)
        worst = max(worst, *(abs(a - b) for a, b in zip(told, played, strict=True)))
    assert worst < 0.01
    outside("Monte Carlo", 12, f"{worst:.2g} of 1", "who hears whom")


def test_periods_until_one_decodes() -> None:
    """Half of the periods decode at no margin: 1 - 0.5^4 is the first over 0.9; 1.5 dB below, 15.9 % do: 14."""
    assert periods_for(0.0, 0.9, 20) == 4
    assert 1 - 0.5**4 >= 0.9 > 1 - 0.5**3
    assert periods_for(-1.5, 0.9, 20) == math.ceil(math.log(0.1) / math.log(1 - norm.cdf(-1.0))) == 14
    assert periods_for(-1.5, 0.9, 10) == 10
    assert periods_for(9.0, 0.9, 10) == 1


def test_cloud_by_another_processor(outside: Outside) -> None:
    """ITU-R P.840 as the package itur has it, for 1 kg/m2 at 0 degrees Celsius."""
    itu840 = pytest.importorskip("itur.models.itu840")
    worst = 0.0
    for frequency in (1296.0, 5760.0, 10_368.0, 24_048.0, 47_088.0):
        theirs = float(np.asarray(itu840.specific_attenuation_coefficients(frequency / 1e3, 0.0)))
        worst = max(worst, abs(droplet_db_per_km(frequency) / theirs - 1.0))
    assert worst < 1e-6
    assert cloud_loss_db(10_368.0, 30.0) == pytest.approx(2 * droplet_db_per_km(10_368.0))
    outside("itur, ITU-R P.840", 5, f"{100 * worst:.1g} %", "cloud losses")


def test_order_of_steps() -> None:
    figures = _figures(moon_rise_db=0.8)
    only_they = _steps(figures, Heard.ONLY_THEY)
    assert only_they[0] is Do.ASK_TO_KEEP_SENDING
    assert only_they.index(Do.SEARCH) < only_they.index(Do.PEAK_ON_MOON_NOISE)
    assert _steps(figures, Heard.ONLY_WE)[0] is Do.KEEP_SENDING
    assert _steps(figures, Heard.TRACES)[:2] == [Do.ASK_TO_KEEP_SENDING, Do.WAIT_FOR_A_DECODE]
    assert _steps(figures, Heard.NOTHING)[:2] == [Do.CHECK_TURNS, Do.ASK_IF_THERE]
    for heard in Heard:
        assert _steps(dataclasses.replace(figures, fall_back=None), heard)[-2:] == TAIL
        again = dataclasses.replace(figures, fall_back=(figures.start, figures.end))
        assert _steps(again, heard)[-3:] == [Do.RING, Do.FALL_BACK, Do.PACK]


def test_moon_noise_only_where_the_dish_can() -> None:
    blind = [step for heard in Heard for step in _steps(_figures(moon_rise_db=None), heard)]
    assert Do.PEAK_ON_MOON_NOISE not in blind
    assert Do.SWEEP_THE_AIM in blind
    seeing = [step for heard in Heard for step in _steps(_figures(moon_rise_db=0.8), heard)]
    assert Do.SWEEP_THE_AIM not in seeing


def test_figures_are_those_of_the_samples() -> None:
    """Straight between the plan's samples, minute by minute, with pandas alone."""
    plan = night_plan()
    for one in _made()[0]:
        slot, figures = one.slot, one.figures
        own = plan.samples[plan.samples["partner"] == slot.call].set_index("time_utc").sort_index()
        own = own[~own.index.duplicated()]
        minutes = pd.date_range(slot.start, slot.end, freq="1min", inclusive="left") + pd.Timedelta("30s")
        names = ["margin_at_home_db", "margin_at_partner_db", "home_moon_k", "home_system_temperature_k"]
        grid = own[names].reindex(own.index.union(minutes)).interpolate("index").loc[minutes].mean()
        assert figures.home.margin_db == pytest.approx(grid["margin_at_home_db"], abs=1e-6)
        assert figures.partner.margin_db == pytest.approx(grid["margin_at_partner_db"], abs=1e-6)
        hot = grid["home_system_temperature_k"]
        assert figures.moon_rise_db == pytest.approx(10 * math.log10(hot / (hot - grid["home_moon_k"])))
        gap = figures.home.margin_db - figures.partner.margin_db
        assert figures.weaker == (None if abs(gap) < 1 else "partner" if gap > 0 else "home")
        needed = 10 * math.log10(figures.power_needed_w / figures.power_w)
        assert needed == pytest.approx(-figures.partner.margin_db)
        assert (slot.end - figures.too_late).total_seconds() == slot.mode.messages * slot.mode.period_s  # type: ignore[union-attr]


def test_minutes_follow_the_figures() -> None:
    """A call of 2 minutes and the periods until one decodes; two periods a setting of the dial."""
    figures = _figures()
    minutes = {rung.do: rung.minutes for ladder in ladders_of(figures) for rung in ladder.rungs}
    assert minutes[Do.ASK_TO_KEEP_SENDING] == 2 + figures.home.periods
    assert minutes[Do.KEEP_SENDING] == 2 + figures.partner.periods
    assert minutes[Do.SEARCH] == 2 * figures.search.settings
    half = dataclasses.replace(figures, period_s=15.0)
    assert {r.do: r.minutes for one in ladders_of(half) for r in one.rungs}[Do.SEARCH] == math.ceil(
        0.5 * figures.search.settings
    )


@pytest.mark.parametrize("convention", CONVENTIONS)
def test_spots_are_where_the_other_rules_are_heard(convention: str) -> None:
    """A partner who dials by the other convention is heard where that convention's own dials send it."""
    mhz, echo, back = 10_368.1, 12_000.0, 2_500.0
    shifts = Shifts(*(np.array([value]) for value in (back, back, 7_000.0, echo, back)))
    agreed = dial_shifts(convention, mhz, mhz, shifts)
    spots = {one.holds: one for one in other_spots(convention, mhz, shifts, agreed.home_receive_hz)}
    assert len(spots) == 2
    assert Holds.AT_ITS_OWN_END in spots
    for holds, name in ((Holds.WHAT_IT_SENDS, CONVENTIONS[0]), (Holds.AT_THE_MOON, AT_THE_MOON)):
        if holds in spots:
            sent = dial_shifts(name, mhz, mhz, shifts).partner_transmit_hz[0]
            assert spots[holds].receive_hz[0] == pytest.approx(sent * (1 + back / (mhz * 1e6)), abs=0.1)
    own = spots[Holds.AT_ITS_OWN_END].receive_hz[0] / (1 + back / (mhz * 1e6))
    # What it sends comes back to its own end on the nominal frequency.
    assert own * (1 + echo / (mhz * 1e6)) == pytest.approx(mhz * 1e6, abs=0.1)
    for one in spots.values():
        assert one.away_hz[0] == pytest.approx(one.receive_hz[0] - agreed.home_receive_hz[0])


def test_words_of_the_figures() -> None:
    figures = _figures()
    level = dataclasses.replace(figures.partner, margin_db=-2.3, periods=10, is_enough=False)
    weak = dataclasses.replace(figures, partner=level, power_w=40.0)
    assert figure_words(Do.CHECK_POWER, weak) == "40 W, 3 dB short"
    assert figure_words(Do.KEEP_SENDING, weak) == "\N{MINUS SIGN}3 dB: 10 periods may bring none"
    strong = dataclasses.replace(figures, partner=dataclasses.replace(level, margin_db=3.0), power_needed_w=20.05)
    assert figure_words(Do.CHECK_POWER, strong) == "40 W; 21 W would do"
    even = dataclasses.replace(figures.home, margin_db=figures.partner.margin_db + 0.5)
    assert weaker_words(dataclasses.replace(figures, home=even)) == "both alike"
    assert odds_words(0.35, figures) == "7 in 20 after 10 min"
    assert set(HEARD_WORDS) == set(Heard)
    assert set(STEP_WORDS) == set(Do)


def test_the_sheet_prints_every_step_and_a_mark_a_period() -> None:
    made, sheet = _made()
    page = sheet.pages[0]
    printed = {row.step for section in page.sections for row in section.rows}
    assert printed == {STEP_WORDS[rung.do] for one in made for ladder in one.ladders for rung in ladder.rungs}
    for one, marks in zip(made, page.marks, strict=True):
        minutes = (one.slot.end - one.slot.start).total_seconds() / 60
        heard, sent = (line.clocks for line in marks.lines)
        # The partner opens and sends on even minutes, we on odd ones; the slot's minutes are all there once.
        assert all(int(clock) % 2 == 0 for clock in heard)
        assert all(int(clock) % 2 == 1 for clock in sent)
        assert minutes - 1 <= len(heard) + len(sent) <= minutes


def test_rain_lowers_the_word_where_it_says() -> None:
    """At the printed rate the word still holds, a tenth of a millimetre more takes it; clear air is the agenda's."""
    from pipeline.operating.air_tonight import chances_in_rain
    from pipeline.operating.ladder_figures import slot_means
    from pipeline.pairs.outcomes import outcome_words

    night = night_plan().night(NIGHT)
    found = 0
    for one in _made()[0]:
        air = one.air
        assert air is not None
        if air.falls_at_mm_per_h is None:
            continue
        found += 1
        names = ("home_elevation_deg", "home_system_temperature_k")
        means = slot_means(night.samples, one.slot, names)
        rates = np.array([0.0, air.falls_at_mm_per_h, air.falls_at_mm_per_h + 0.1])
        chances = chances_in_rain(night, one.slot, rates, *(means[name] for name in names))
        words = outcome_words(chances, night.inputs.season.policy)
        assert np.all(np.diff(chances) < 0)
        assert words[1] != words[2]
        assert re.fullmatch(r"\d+(\.\d)?", f"{air.falls_at_mm_per_h:g}")
    assert found
