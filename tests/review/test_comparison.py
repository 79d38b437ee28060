"""Predictions for a log's entries against `explain` at the same instants, against the plan, and with the Moon down."""

from __future__ import annotations

import dataclasses
import datetime as dt

import numpy as np
import pandas as pd
import pytest

from pipeline.explain.explain import explain
from pipeline.record.log_entry import LogEntry
from pipeline.record.model import Correction, Record
from pipeline.review.compare import compare
from pipeline.review.corrections import attempts_of, compared
from pipeline.review.reading_logs import read_logs
from tests.plan.months import month_plan, with_policy
from tests.review.logs import season
from tests.review.simulation import DEMO_LOG, Attempt, Offsets, simulate

# The same formulas from the same vectors, interpolated between nodes an hour apart that lie elsewhere.
interpolation = 5e-6
EXPLAINED = {
    "predicted_snr_at_partner_db": "snr_at_partner_db", "predicted_snr_at_home_db": "snr_at_home_db",
    "margin_at_partner_db": "margin_at_partner_db", "margin_at_home_db": "margin_at_home_db",
    **{name: name for name in (
        "degradation_db", "degradation_distance_db", "degradation_sky_db", "degradation_moon_db", "degradation_sun_db",
        "degradation_ground_db", "degradation_air_db", "home_elevation_deg", "partner_elevation_deg",
        "declination_deg", "doppler_spread_hz", "home_sun_separation_deg", "polarization_loss_db", "spread_loss_db",
    )},
}  # fmt: skip


def entry(call: str, instant: str, mode: str = "Q65", **fields: object) -> LogEntry:
    """An entry of a log that tells nothing but the attempt."""
    plain = LogEntry(
        file="log.adi", line=1, call=call, operator="QM7TOR", time_utc=dt.datetime.fromisoformat(instant + "+00:00"),
        band="3cm", frequency_mhz=None, mode=mode, report_sent="", report_received="", report_sent_db=None,
        report_received_db=None, completed=False, heard=None, moonbounce=True, remarks="",
    )  # fmt: skip
    return dataclasses.replace(plain, **fields)  # type: ignore[arg-type]


# In windows with and without a feed turned, at the period's end, in a window but outside the season, in no window (the
# Moon under home's minimum elevation), in other years.
INSTANTS = [
    ("QT8NUI", "2027-03-05T20:00:13", "Q65"), ("QF4LUM", "2027-03-03T07:10:00", "CW"),
    ("QF4LUM", "2027-03-13T17:17:00", "CW"), ("QJ2KAW", "2027-03-01T17:37:00", "Q65"),
    ("QX6ICE", "2027-03-12T17:17:00", "CW"), ("QN1PIK", "2027-04-01T17:15:00", "CW"),
    ("QT8NUI", "2027-06-19T08:30:00", "Q65"), ("QT8NUI", "2024-11-20T10:00:00", "Q65"),
    ("QK3RED", "2027-03-16T21:20:00", "Q65"),
]  # fmt: skip


def test_predictions_are_those_of_explain() -> None:
    table = compare([entry(*one) for one in INSTANTS], season())
    assert table["moon_up"].sum() >= 7
    for row, (call, instant, _) in zip(table.itertuples(), INSTANTS, strict=True):
        if not row.moon_up:
            continue
        made = explain(season(), call, dt.datetime.fromisoformat(instant + "+00:00")).columns
        for ours, theirs in EXPLAINED.items():
            assert getattr(row, ours) == pytest.approx(float(str(made[theirs])), abs=interpolation), (call, ours)


def test_residual_is_reported_less_predicted() -> None:
    """Report sent: the partner's signal at home; report received: home's signal at the partner."""
    table = compare([entry("QT8NUI", "2027-03-05T20:00:00", report_sent_db=-17.0, report_received_db=-19.0)], season())
    row = table.iloc[0]
    assert row["reported_snr_at_home_db"] == -17.0
    assert row["reported_snr_at_partner_db"] == -19.0
    assert row["residual_at_home_db"] == -17.0 - row["predicted_snr_at_home_db"]
    assert row["residual_at_partner_db"] == -19.0 - row["predicted_snr_at_partner_db"]


def test_moon_down_band_unknown_or_another_way_is_not_used() -> None:
    """New Moon of 8 March 2027 (09:29 UTC by PyEphem) is down at night."""
    table = compare(
        [
            entry("QT8NUI", "2027-03-08T03:00:00"),
            entry("QT8NUI", "2027-03-05T20:00:00", band="23cm"),
            entry("QT8NUI", "2027-03-05T20:00:00", moonbounce=False),
            entry("QW1ABC", "2027-03-05T20:00:00"),
            entry("QT8NUI", "2027-03-05T20:00:00", mode="Q66"),
        ],
        season(),
    )
    assert table["used"].tolist() == [False, False, False, False, True]
    assert table["moon_up"].tolist() == [False, True, True, False, True]
    assert np.isnan(table["predicted_snr_at_home_db"][0])
    assert table["home_elevation_deg"][0] < -20.0
    # A mode without an entry in the table has no chance, but a signal.
    assert np.isnan(table["predicted_chance"][4])
    assert np.isfinite(table["predicted_snr_at_home_db"][4])


def test_no_entries_give_an_empty_table() -> None:
    table = compare([], season())
    assert len(table) == 0
    assert {"predicted_chance", "used", "residual_at_home_db", "needed_snr_db"} <= set(table.columns)


def attempts(offsets: dict[str, Offsets], seed: int, **choice: object) -> list[Attempt]:
    return simulate(season(), month_plan(), offsets, seed, **choice)  # type: ignore[arg-type]


def as_entries(made: list[Attempt]) -> list[LogEntry]:
    """The attempts as entries, without the way through a file."""
    return [
        LogEntry(
            file="log.csv", line=number, call=one.call, operator=one.operator, time_utc=one.time_utc, band=one.band,
            frequency_mhz=one.frequency_mhz, mode=one.mode, report_sent=one.report_sent,
            report_received=one.report_received, report_sent_db=figure(one.report_sent),
            report_received_db=figure(one.report_received), completed=one.completed, heard=one.heard, moonbounce=True,
            remarks="", slot_start_utc=one.slot_start_utc, slot_end_utc=one.slot_end_utc,
        )
        for number, one in enumerate(made, 1)
    ]  # fmt: skip


def figure(text: str) -> float | None:
    return float(text) if text[:1] in ("+", "-") else None


def test_chance_of_a_slot_is_the_plans() -> None:
    """Whole slots of the plan's windows: the same chance, but for samples 15 minutes apart there and 5 here."""
    plan = month_plan()
    inputs = with_policy(season(), step_minutes=15)
    made = [one for one in attempts({}, 1, most_a_partner=30, apart=False)
            if one.slot_end_utc - one.slot_start_utc == dt.timedelta(hours=1)]  # fmt: skip
    table = compare(as_entries(made), inputs)
    starts = plan.windows["slot_start_utc"].dt.ceil("min")
    expected = [
        float(plan.windows["chance"][(plan.windows["partner"] == one.call) & (starts == one.slot_start_utc)].iloc[0])
        for one in made
    ]
    difference = np.abs(table["predicted_chance"].to_numpy() - expected)
    assert len(made) > 100
    assert np.median(difference) < 0.002
    assert difference.max() < 0.05


def test_strong_reports_betray_what_was_hidden() -> None:
    """A partner 10 dB above the need: every period decodes, so medians of residuals are the offsets of each way."""
    hidden = {"QM7TOR": Offsets(1.0, -2.0), "QT8NUI": Offsets(0.5, 3.0)}
    made = [one for one in attempts(hidden, 7, most_a_partner=30, apart=False) if one.call == "QT8NUI"]
    table = compare(as_entries(made), season())
    assert len(table) > 15
    # Fading of 1.5 dB and rounding leave 1.25 * 1.5 / sqrt(n) of a median; three times that.
    doubt = 3 * 1.25 * 1.6 / np.sqrt(len(table))
    assert np.nanmedian(table["residual_at_partner_db"]) == pytest.approx(1.0 + 3.0, abs=doubt)
    assert np.nanmedian(table["residual_at_home_db"]) == pytest.approx(0.5 - 2.0, abs=doubt)


def test_success_comes_as_often_as_predicted() -> None:
    """Offsets drawn afresh for each log, as the chance takes them: the share of contacts is the mean chance."""
    from tests.review.simulation import draw_offsets

    successes, chances = [], []
    predicted: pd.Series | None = None
    for seed in range(12):
        made = attempts(draw_offsets(season(), seed), seed, most_a_partner=6, apart=False)
        if predicted is None:
            predicted = compare(as_entries(made), season())["predicted_chance"]
        successes.append(np.mean([one.completed for one in made]))
        chances.append(predicted.mean())
    # Offsets of nine stations are shared within a log: the spread between logs tells the doubt of their mean.
    doubt = np.std(successes) / np.sqrt(len(successes))
    assert np.mean(successes) == pytest.approx(np.mean(chances), abs=3 * doubt)


def test_corrections_of_the_record_move_predictions() -> None:
    """What home sends and the partner hears adds up on the way to the partner, the rest on the way back."""
    learnt = (
        Correction("QM7TOR", "3cm", 1.0, 0.25, 0.5, 0.5, "2027-03-28"),
        Correction("QT8NUI", "3cm", -0.5, 2.0, 0.5, 0.5, "2027-03-28"),
    )
    inputs = dataclasses.replace(season(), record=Record(corrections=learnt))
    entries = [entry("QT8NUI", "2027-03-05T20:00:00")]
    before, after = compare(entries, season()), compare(entries, inputs)
    for end, expected in (("partner", 1.0 + 2.0), ("home", -0.5 + 0.25)):
        name = f"predicted_snr_at_{end}_db"
        assert after[name][0] - before[name][0] == pytest.approx(expected, abs=1e-9)


def test_demo_log_is_compared_whole() -> None:
    entries, _ = read_logs([DEMO_LOG], season())
    table = compare(entries, season())
    assert table["used"].all()
    assert table["predicted_chance"].between(0.0, 1.0).all()
    parts = table[[f"degradation_{part}_db" for part in ("distance", "sky", "moon", "sun", "ground", "air")]]
    assert np.allclose(parts.sum(axis=1), table["degradation_db"])


def test_a_short_window_leaves_fewer_tries() -> None:
    """Periods of a minute, taken in turn, in what the window leaves of the policy's slot of an hour."""
    call = "QJ2KAW"
    windows = month_plan().windows
    window = windows[(windows["partner"] == call) & (windows["duration_min"] < 30.0)].iloc[0]
    middle = window["window_start_utc"] + (window["window_end_utc"] - window["window_start_utc"]) / 2
    comparison = compared([entry(call, middle.strftime("%Y-%m-%dT%H:%M:%S"))], season())
    assert comparison["slot_minutes"].iloc[0] == pytest.approx(window["duration_min"], abs=0.01)
    attempts = attempts_of(comparison, season(), "3cm", ["QM7TOR", call])
    assert attempts.tries.tolist() == [int(window["duration_min"] // 2.0)]


def test_a_set_moon_within_two_minutes_leaves_six_decibels_of_doubt(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the Moon has set two minutes on there is no change to be told: half the field cut away stands for it."""
    columns = [f"predicted_snr_at_{end}_db" for end in ("partner", "home")]
    tables = [pd.DataFrame([[-10.0, -12.0]], columns=columns), pd.DataFrame([[np.nan, -11.5]], columns=columns)]
    monkeypatch.setattr("pipeline.review.corrections.compare", lambda *_: tables.pop(0))
    found = compared([], season())
    assert found[["two_minutes_at_partner_db", "two_minutes_at_home_db"]].to_numpy().tolist() == [[6.0, 0.5]]
