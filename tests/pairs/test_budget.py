"""The whole link of a pair: one instant worked by hand, and what must hold of every row of a month."""

from __future__ import annotations

import datetime as dt
from functools import lru_cache

import numpy as np
import pandas as pd
import pytest

from pipeline.inputs.model import Antenna
from pipeline.inputs.modes import mode_table
from pipeline.link.noise import DEGRADATION_PARTS, PARTS
from pipeline.pairs.mode_choice import best_variant
from pipeline.plan.plan import Plan, make_plan
from tests.conftest import Outside
from tests.plan.months import TODAY, month_plan, one_station, small_inputs

hand_bar_db = 0.02
hand_bar_k = 0.2

END_COLUMNS = [
    "azimuth_deg",
    "elevation_deg",
    "refraction_deg",
    "range_km",
    "sun_separation_deg",
    "echo_doppler_hz",
    "echo_snr_db",
    "system_temperature_k",
    "sky_k",
    "moon_k",
    "sun_k",
    "ground_k",
    "air_k",
    "receiver_k",
]
PATH_COLUMNS = [
    "time_utc",
    "partner",
    "band",
    "night",
    "declination_deg",
    "moon_lit_fraction",
    "path_loss_db",
    "echo_delay_s",
    "doppler_home_to_partner_hz",
    "doppler_partner_to_home_hz",
    "doppler_rate_hz_per_s",
    "doppler_spread_hz",
    "polarization_offset_deg",
    "polarization_loss_db",
    "degradation_db",
    "degradation_distance_db",
    "degradation_sky_db",
    "degradation_moon_db",
    "degradation_sun_db",
    "degradation_ground_db",
    "degradation_air_db",
    "worse_end",
    "snr_at_partner_db",
    "snr_at_home_db",
    "margin_at_partner_db",
    "margin_at_home_db",
]
WINDOW_COLUMNS = [
    "partner",
    "band",
    "night",
    "window_start_utc",
    "window_end_utc",
    "duration_min",
    "home_azimuth_start_deg",
    "home_elevation_start_deg",
    "home_azimuth_end_deg",
    "home_elevation_end_deg",
    "partner_azimuth_start_deg",
    "partner_elevation_start_deg",
    "partner_azimuth_end_deg",
    "partner_elevation_end_deg",
    "maximum_lower_elevation_deg",
    "opens_by",
    "closes_by",
    "best_time_utc",
    "degradation_least_db",
    "degradation_mean_db",
    "doppler_spread_hz",
    "polarization_loss_db",
    "report_at_partner_db",
    "report_at_home_db",
    "worse_end",
    "chance",
    "slot_start_utc",
    "outcome",
]


@lru_cache(maxsize=4)
def _two_stations(frequency_mhz: float | None = None) -> Plan:
    home = one_station(
        "QA1HOM", 48.14583, 11.625, 500.0, polarization="rotatable", loss_before_preamplifier_db=0.1, power_w=40.0
    )
    partner = one_station(
        "QB2FAR", 41.7292, -72.7083, 50.0, antenna=Antenna(dish_diameter_m=3.0), power_w=60.0, noise_figure_db=0.7,
        pointing_error_deg=0.1, frequency_mhz=frequency_mhz,
    )  # fmt: skip
    night = dt.date(2026, 10, 1)
    inputs = small_inputs(
        home, partner, first=night, last=night, atmosphere="standard", solar_activity="quiet", step_minutes=30
    )
    return make_plan(inputs, TODAY, calendar=False)


def _at_six(plan: Plan) -> pd.Series:
    rows = plan.samples[plan.samples["time_utc"] == pd.Timestamp("2026-10-02T06:00Z")]
    assert len(rows) == 1
    return rows.iloc[0]


def test_one_link_by_hand(outside: Outside) -> None:
    """A 1.8 m dish with 40 W at 48.1 N 11.6 E (home) and a 3.0 m dish with 60 W at 41.7 N 72.7 W, 2026-10-02 06:00 UTC.

    Ranges 363,981 and 364,859 km (Skyfield on DE440, geometric at the reflection); 10,368 MHz, wavelength 0.028915 m.
    Path, dB:
        path loss       20 log 10368 + 20 log 363981 + 20 log 364859 - 14.459                              288.319
        gains           0.55 (pi 1.8 / 0.028915)^2 = 43.23 dBi, 0.55 (pi 3.0 / 0.028915)^2 = 47.67 dBi      90.90
        air             standard atmosphere, 57.6 and 44.9 degrees (ITU-R P.676 by itur): 0.054 + 0.073      0.127
        pointing        beams 70 lambda / D = 1.124 and 0.675 degree: 12 (0.2 / 1.124)^2 + 12 (0.1 / 0.675)^2  0.643
        obstruction     the nearest horizon is 45 degrees below: nothing                                     0.0
        narrow beams    lit disc 0.5 x 0.5457 degree, x = ln 2 0.0744 (0.7915 + 2.195) = 0.154               0.332
        polarization    offset 80.42 degrees (mirrored plane, worked apart from this code; the angles' difference
                        is 80.91); home turns its feed: -20 log sin 80.42 (standing 15.6, capped at 15)      0.122
    Noise at home, K, behind 0.1 dB of loss (x 0.9772):
        receiver        290 (10^0.08 - 1) + 290 (1 - 0.9772)                                                65.26
        main beam       1.133 x 0.01962^2 x 21,040 / 4 pi = 0.730 of the pattern; spill-over 0.05
        Moon            fills 1 - 2^-(0.547 / 1.124)^2 = 0.1514 of it; 210.4 + 14.3 cos(72.7 - 44.5) = 223 K
                        0.730 x 0.1514 x 223 x 0.9877 x 0.9772                                              23.8
        sky             2.73 x (0.730 x 0.849 + 0.220) x 0.9877 x 0.9772                                      2.21
        ground, air     shares of the whole pattern, summed over the sphere (tests.link.what_is_met; air at 500 m):
                        290 x 0.0486 x 0.9772 and 275 x 0.0132 x 0.9772                                13.77, 3.55
        Sun             107 degrees away in a side lobe of -10 dBi                                            0.01
        sum                                                                                                108.6
    Noise at the partner, K, without loss: receiver 50.72; main beam 0.732; Moon in 1 - 2^-(0.5457 / 0.675)^2 = 0.3643
        of it, 58.4; sky 1.84; ground 290 x 0.0476 = 13.81; air 275 x 0.0176 = 4.84; sum                      129.6
    Signals: home hears 10 log 60 = 17.78 + 90.90 - 288.319 - 0.127 - 0.643 - 0.332 - 0.122 - 0.1 - (-228.599 + 33.979
        + 10 log 108.6 = -174.262) = -6.70 dB; the partner hears 16.02 + 90.90 - 289.543 - (-173.484) = -9.14 dB.
    Margins: CW needs -15 dB; spread 91.7 Hz from limb to limb, half of it 45.9 Hz: 5 log (1 + 45.9 / 50) = 1.41 dB;
        6.89 dB at home, 4.45 at the partner.
    Degradation at the partner, the worse end: distance 20 log (363981 x 364859 / 356400^2) = 0.387 dB; floor 50.72
        + 14.5 + Moon 0.732 x 0.3055 x 196.1 x 0.988 = 43.3 + sky 1.96 + air 3.56 = 114.0 K, so 10 log (129.6 / 114.0) =
        0.557 dB, shared 15.1 to 1.28 between Moon and air: 0.51 and 0.05; air at both ends less zenith 0.127 - 0.097
        = 0.03 more.
    """
    row = _at_six(_two_stations())
    by_hand_db = {
        "path_loss_db": 288.319,
        "polarization_loss_db": 0.122,
        "polarization_loss_other_db": 15.0,
        "snr_at_home_db": -6.70,
        "snr_at_partner_db": -9.14,
        "spread_loss_db": 1.41,
        "margin_at_home_db": 6.89,
        "margin_at_partner_db": 4.45,
        "degradation_distance_db": 0.387,
        "degradation_moon_db": 0.51,
        "degradation_air_db": 0.08,
        "degradation_sky_db": 0.0,
        "degradation_sun_db": 0.0,
        "degradation_ground_db": 0.0,
    }
    by_hand_k = {
        "home_receiver_k": 65.26, "home_moon_k": 23.8, "home_sky_k": 2.21, "home_ground_k": 13.77, "home_air_k": 3.55,
        "home_sun_k": 0.01, "home_system_temperature_k": 108.6, "partner_receiver_k": 50.72, "partner_moon_k": 58.4,
        "partner_sky_k": 1.84, "partner_ground_k": 13.81, "partner_air_k": 4.84, "partner_sun_k": 0.0,
        "partner_system_temperature_k": 129.6,
    }  # fmt: skip
    off_db = {name: abs(row[name] - value) for name, value in by_hand_db.items()}
    off_k = {name: abs(row[name] - value) for name, value in by_hand_k.items()}
    assert all(off < hand_bar_db for off in off_db.values()), off_db
    assert all(off < hand_bar_k for off in off_k.values()), off_k
    assert abs(row["polarization_offset_deg"]) == pytest.approx(80.42, abs=0.05)
    assert row["worse_end"] == "partner"
    assert bool(row["feed_turned"])
    assert row["doppler_spread_hz"] == pytest.approx(91.7, rel=0.015)
    outside("one link by hand", len(off_db), f"{max(off_db.values()):.2g} dB", "terms")
    outside("one link by hand", len(off_k), f"{max(off_k.values()):.2g} K", "noise parts")


def test_shifts_at_each_senders_own_frequency() -> None:
    """Skyfield on DE440 at 10,368 MHz: home to partner 3103.9 Hz, own echoes -9906.4 and 16113.9 Hz, 2.431145 s."""
    plain, split = _at_six(_two_stations()), _at_six(_two_stations(10_450.0))
    assert plain["doppler_home_to_partner_hz"] == pytest.approx(3103.9, abs=2.0)
    assert plain["home_echo_doppler_hz"] == pytest.approx(-9906.4, abs=1.0)
    assert plain["partner_echo_doppler_hz"] == pytest.approx(16113.9, abs=1.0)
    assert plain["echo_delay_s"] == pytest.approx(2.431145, abs=1e-5)
    assert plain["doppler_rate_hz_per_s"] == pytest.approx(-0.981, abs=0.003)
    higher = 10_450.0 / 10_368.0
    assert split["partner_echo_doppler_hz"] == pytest.approx(higher * plain["partner_echo_doppler_hz"])
    assert split["doppler_partner_to_home_hz"] == pytest.approx(higher * plain["doppler_partner_to_home_hz"])
    for name in ("doppler_home_to_partner_hz", "home_echo_doppler_hz", "snr_at_home_db", "path_loss_db"):
        assert split[name] == pytest.approx(plain[name])


def test_own_echo_is_the_radar_equation_of_one_end() -> None:
    """At the partner: 17.78 + 2 x 47.67 - L(364,859 twice) 288.340 - air 0.146 - pointing 0.527 - narrow beams 0.48."""
    row = _at_six(_two_stations())
    narrow = -10 * np.log10((1 - np.exp(-0.2265)) / 0.2265)
    expected = 17.782 + 95.34 - 288.340 - 0.146 - 0.527 - narrow + 228.599 - 33.979 - 10 * np.log10(129.9)
    assert row["partner_echo_snr_db"] == pytest.approx(expected, abs=hand_bar_db)


def test_every_column_of_the_contract() -> None:
    plan = month_plan()
    ends = [f"{end}_{name}" for end in ("home", "partner") for name in END_COLUMNS]
    assert [name for name in [*PATH_COLUMNS, *ends] if name not in plan.samples.columns] == []
    assert [name for name in WINDOW_COLUMNS if name not in plan.windows.columns] == []
    numbers = plan.samples.select_dtypes("number")
    never_missing = numbers.drop(columns=[name for name in numbers if "margin" in name or name == "spread_loss_db"])
    assert np.isfinite(never_missing.to_numpy()).all()


def test_parts_add_up_in_every_row() -> None:
    samples = month_plan().samples
    six = samples[[f"degradation_{part}_db" for part in DEGRADATION_PARTS]]
    assert np.abs(six.sum(axis=1) - samples["degradation_db"]).max() < 0.01
    assert (six.to_numpy() >= -1e-9).all()
    for end in ("home", "partner"):
        kelvins = samples[[f"{end}_{part}_k" for part in PARTS]].sum(axis=1)
        assert np.abs(kelvins - samples[f"{end}_system_temperature_k"]).max() < 1e-6


def test_echo_takes_about_two_and_a_half_seconds() -> None:
    """Common practice, no source: 2.4 to 2.7 s; a Moon overhead at perigee goes a little below."""
    delay = month_plan().samples["echo_delay_s"]
    assert delay.between(2.35, 2.75).all()


def test_low_moon_is_worse_on_3_cm() -> None:
    """Common practice, no source: at 10 GHz ground and air make a low Moon worse, not better."""
    samples = month_plan().samples
    lower = samples[["home_elevation_deg", "partner_elevation_deg"]].min(axis=1)
    for _, rows in samples.groupby(["partner", "night"]):
        low, high = rows[lower[rows.index] < 4.0], rows[lower[rows.index] > 20.0]
        if len(low) and len(high):
            local = ["degradation_ground_db", "degradation_air_db"]
            assert low[local].sum(axis=1).min() > high[local].sum(axis=1).max()


def test_margin_is_what_the_mode_leaves() -> None:
    plan = month_plan()
    calls = [one.call for one in plan.inputs.partners]
    for call, rows in plan.samples.groupby("partner"):
        mode = plan.modes[calls.index(call)]
        assert mode is not None
        for end in ("home", "partner"):
            left = rows[f"snr_at_{end}_db"] - rows["spread_loss_db"] - mode.needed_snr_db
            assert np.abs(left - rows[f"margin_at_{end}_db"]).max() < 1e-9


def test_spread_chooses_the_tone_spacing() -> None:
    """Little spread: the close tones that need least; a wide echo: the widest of the shared mode."""
    modes = [mode for mode in mode_table() if mode.mode == "Q65"]
    still, wide = best_variant(modes, 0.0), best_variant(modes, 100.0)
    assert still is not None
    assert wide is not None
    assert still.tone_spacing_hz < wide.tone_spacing_hz
    assert best_variant([], 100.0) is None


def test_no_common_mode_spoils_no_other_partner() -> None:
    home = one_station("QA1HOM", 48.1, 11.6, 500.0)
    silent = one_station("QB2MUT", 41.7, -72.7, 50.0, modes=("SSB",))
    other = one_station("QC3CAN", 43.0, -75.0, 50.0)
    night = dt.date(2026, 10, 1)
    plan = make_plan(small_inputs(home, silent, other, first=night, last=night, step_minutes=60), TODAY, calendar=False)
    windows = plan.windows.set_index("partner")
    assert plan.modes[0] is None
    assert np.isnan(windows.loc["QB2MUT", "margin_at_home_db"])
    assert windows.loc["QB2MUT", "chance"] == 0.0
    assert np.isfinite(
        windows.loc["QC3CAN", ["margin_at_home_db", "margin_at_partner_db", "chance"]].to_numpy(float)
    ).all()


def test_own_echo_of_a_linear_feed_turns_below_1500_mhz() -> None:
    """Faraday rotation (ITU-R P.531) is random on 23 cm and below: 3 dB on average; circular feeds do not care."""
    gains = {}
    for feed in ("horizontal", "circular"):
        antenna = Antenna(dish_diameter_m=3.0)
        stations = [
            one_station(call, 48.1, longitude, 0.0, polarization=feed, antenna=antenna)
            for call, longitude in (("QA1HOM", 11.6), ("QB2FAR", 20.0))
        ]
        stations = [type(one)(**(one.__dict__ | {"bands": {"23cm": one.bands["3cm"]}})) for one in stations]
        inputs = small_inputs(*stations, first=dt.date(2026, 10, 1), last=dt.date(2026, 10, 1), step_minutes=60)
        season = type(inputs.season)(**(inputs.season.__dict__ | {"band": "23cm", "frequency_mhz": 1296.0}))
        plan = make_plan(type(inputs)(**(inputs.__dict__ | {"season": season})), TODAY, calendar=False)
        gains[feed] = plan.samples[["home_echo_snr_db", "snr_at_partner_db"]]
    off = (gains["circular"] - gains["horizontal"]).to_numpy()
    assert off == pytest.approx(np.full_like(off, 3.0103), abs=1e-3)


def test_a_season_without_partners() -> None:
    """Nothing to plan is no fault of the plan: empty tables with all their columns."""
    night = dt.date(2026, 10, 1)
    plan = make_plan(small_inputs(one_station("QA1HOM", 48.1, 11.6, 500.0), first=night, last=night), TODAY)
    assert len(plan.windows) == len(plan.samples) == 0
    assert [name for name in WINDOW_COLUMNS if name not in plan.windows.columns] == []
    assert plan.nights["outcome"].tolist() == ["no window"]
