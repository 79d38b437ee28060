"""An explanation against the plan's samples at the same instants, against sums by hand, and with the Moon down."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
import math
import re
from pathlib import Path

import numpy as np
import pytest

from pipeline.explain.explain import ALWAYS, WITHOUT_LINK, explain
from pipeline.explain.explanation import Explanation, Line, NotPossible
from pipeline.plan.plan import Plan, make_plan
from pipeline.record.inputs import Inputs, read_inputs

DEMO = Path(__file__).resolve().parents[2] / "stations" / "season.yaml"
TODAY = dt.date(2027, 1, 10)
# Edges of windows are written to the microsecond, in which the shift moves by a millionth of a hertz.
same_but_for_a_microsecond = 1e-5


@pytest.fixture(scope="module")
def inputs() -> Inputs:
    """The demo with three partners: one whose window has a feed turned, one by ear alone, one on another frequency."""
    whole = read_inputs(DEMO)
    kept = [place for place, one in enumerate(whole.partners) if one.call in ("QT8NUI", "QF4LUM", "QJ2KAW")]
    return dataclasses.replace(
        whole,
        partners=tuple(whole.partners[place] for place in kept),
        wishes=tuple(whole.wishes[place] for place in kept),
    )


@pytest.fixture(scope="module")
def plan(inputs: Inputs) -> Plan:
    return make_plan(inputs, TODAY)


@pytest.fixture(scope="module")
def explained(inputs: Inputs) -> Explanation:
    return explain(inputs, "QT8NUI", dt.datetime(2027, 3, 5, 20, 0, tzinfo=dt.UTC))


def lines_of(explanation: Explanation, title: str) -> dict[str, Line]:
    """The lines of one section by quantity."""
    section = next(section for section in explanation.sections if section.title == title)
    return {line.quantity: line for line in section.lines}


def number_of(line: Line) -> float:
    assert isinstance(line.value, float)
    return line.value


def test_figures_are_those_of_the_samples(inputs: Inputs, plan: Plan) -> None:
    """Every column, at every kind of step: window edges and UTC multiples between, first and last of each partner."""
    for _, rows in plan.samples.groupby("partner", sort=False):
        for place in (0, 1, len(rows) // 2, len(rows) - 1):
            row = rows.iloc[place]
            made = explain(inputs, row["partner"], row["time_utc"].to_pydatetime()).columns
            for name, expected in row.items():
                value = made[str(name)]
                if isinstance(value, bool | str) or value is None:
                    expected = (
                        expected.isoformat().replace("+00:00", "Z") if hasattr(expected, "isoformat") else expected
                    )
                    assert value == expected or (value is None and math.isnan(expected)), name
                else:
                    assert value == pytest.approx(expected, abs=same_but_for_a_microsecond), name


def test_the_terms_add_up_to_the_signal(explained: Explanation) -> None:
    """The radio equation in decibels: power and gains less the losses less the noise, as any handbook adds them."""
    for sender, receiver, name in (("QM7TOR", "QT8NUI", "partner"), ("QT8NUI", "QM7TOR", "home")):
        lines = lines_of(explained, f"Signal of {sender} at {receiver}")
        total = number_of(lines["power at the feed"])
        total += sum(number_of(line) for quantity, line in lines.items() if quantity.startswith("+ "))
        total -= sum(number_of(line) for quantity, line in lines.items() if quantity.startswith("- "))
        assert number_of(lines["signal to noise"]) == pytest.approx(total, abs=1e-9)
        assert explained.columns[f"snr_at_{name}_db"] == pytest.approx(total, abs=1e-9)


def test_the_parts_add_up_to_the_system_temperature_and_the_degradation(explained: Explanation) -> None:
    for end in ("QM7TOR", "QT8NUI"):
        lines = lines_of(explained, f"Noise at {end}")
        parts = sum(number_of(line) for quantity, line in lines.items() if quantity.endswith(" part"))
        assert number_of(lines["system temperature"]) == pytest.approx(parts, abs=1e-9)
        # Nyquist's k T B with the exact k of the SI of 2019.
        power_dbw = 10.0 * math.log10(1.380649e-23 * parts * 2500.0)
        assert number_of(lines["noise power"]) == pytest.approx(power_dbw, abs=1e-9)
    lines = lines_of(explained, "Degradation")
    parts = sum(number_of(line) for quantity, line in lines.items() if quantity.endswith(" part"))
    assert number_of(lines["degradation"]) == pytest.approx(parts, abs=0.01)


def test_margin_is_what_the_mode_leaves(explained: Explanation) -> None:
    """5 log10(1 + b / w) for half the limb-to-limb width, as the line itself says."""
    lines = lines_of(explained, "Mode and margin")
    width = number_of(lines_of(explained, "Doppler and spread")["spread, half power"])
    loss = 5.0 * math.log10(1.0 + width / 26.667)
    assert number_of(lines["loss by spread"]) == pytest.approx(loss, abs=1e-6)
    left = float(str(explained.columns["snr_at_home_db"])) - number_of(lines["needed"]) - loss
    assert number_of(lines["margin at QM7TOR"]) == pytest.approx(left, abs=1e-6)


def test_assumed_figures_are_marked(explained: Explanation) -> None:
    """The partner is known by its place alone, home in full: only what rests on the partner's figures is marked."""
    assert lines_of(explained, "Antenna of QT8NUI")["gain"].assumed
    assert not lines_of(explained, "Antenna of QM7TOR")["gain"].assumed
    assert lines_of(explained, "Signal of QM7TOR at QT8NUI")["signal to noise"].assumed
    assert not lines_of(explained, "Own echo of QM7TOR")["signal to noise"].assumed


def test_moon_below_a_horizon_gives_only_what_needs_no_link(inputs: Inputs) -> None:
    """New Moon stands with the Sun: on 8 March 2027 (new 09:29 UTC by PyEphem) it is down at night."""
    made = explain(inputs, "QT8NUI", dt.datetime(2027, 3, 8, 3, 0, tzinfo=dt.UTC))
    assert float(str(made.columns["home_elevation_deg"])) < -20.0
    assert "below the level horizon of QM7TOR" in made.headline
    assert "In no mutual window: QM7TOR horizon missed by" in made.sections[0].note
    assert "next one opens" in made.sections[0].note
    titles = [section.title for section in made.sections]
    assert titles == ["Place and time", "Moon and Sun at QM7TOR", "Moon and Sun at QT8NUI", "Link"]
    for name, value in made.columns.items():
        given = name in ALWAYS or name.endswith(WITHOUT_LINK)
        assert (value is not None) == given, name


def test_json_has_the_keys_of_the_samples_up_or_down(inputs: Inputs, plan: Plan, explained: Explanation) -> None:
    down = explain(inputs, "QT8NUI", dt.datetime(2027, 3, 8, 3, 0, tzinfo=dt.UTC))
    for made in (explained, down):
        # allow_nan off: not-a-number is no JSON.
        read = json.loads(json.dumps(made.as_json(), allow_nan=False))
        assert set(plan.samples.columns) <= set(read)
        assert read["time_utc"].endswith("Z")
        for section in read["sections"]:
            for line in section["lines"]:
                assert set(line) == {"quantity", "value", "unit", "formula", "source", "assumed"}


def test_any_instant_is_answered(inputs: Inputs) -> None:
    """Outside the season's month too, with the nights around it for the windows; 1969 is within the kernel."""
    for instant in (dt.datetime(2031, 7, 1, 12, tzinfo=dt.UTC), dt.datetime(1969, 7, 20, 20, 17, tzinfo=dt.UTC)):
        made = explain(inputs, "QF4LUM", instant)
        distance = float(str(made.columns["distance_km"]))
        # Extremes of the distance of the centres (Meeus, Mathematical Astronomy Morsels, from memory).
        assert 356_371.0 < distance < 406_720.0


def test_in_a_window_outside_the_season_the_link_is_worked_out(inputs: Inputs) -> None:
    """Half an hour into the window that an explanation names as the next one, long after the season's last."""
    before = explain(inputs, "QT8NUI", dt.datetime(2027, 6, 17, tzinfo=dt.UTC))
    found = re.search(r"next one opens (\S+ \S+) UTC", before.sections[0].note)
    assert found is not None, before.sections[0].note
    opens = dt.datetime.fromisoformat(f"{found[1]}+00:00")
    made = explain(inputs, "QT8NUI", opens + dt.timedelta(minutes=30))
    assert made.sections[0].note.startswith(f"In the mutual window from {found[1]} to ")
    assert np.isfinite(float(str(made.columns["snr_at_home_db"])))


def test_unknown_partner_is_told_with_the_nearest_call(inputs: Inputs) -> None:
    instant = dt.datetime(2027, 3, 5, 20, tzinfo=dt.UTC)
    with pytest.raises(NotPossible, match=r"QT8NUL: no such partner in this season; QT8NUI is the nearest"):
        explain(inputs, "QT8NUL", instant)
    with pytest.raises(NotPossible, match="QM7TOR is home itself"):
        explain(inputs, "QM7TOR", instant)
    with pytest.raises(NotPossible, match="no ephemeris reaches the year 9999"):
        explain(inputs, "QT8NUI", dt.datetime(9999, 12, 31, 23, tzinfo=dt.UTC))
    with pytest.raises(NotPossible, match="no ephemeris reaches the year 1;"):
        explain(inputs, "QT8NUI", dt.datetime(1, 1, 1, tzinfo=dt.timezone(dt.timedelta(hours=5))))


def test_polarization_names_the_function_that_the_feeds_ask_for(inputs: Inputs) -> None:
    """QF4LUM stands vertical: against a horizontal feed the sine of the offset rules, and a turned feed the cosine."""
    before = explain(inputs, "QF4LUM", dt.datetime(2027, 3, 3, 7, 10, tzinfo=dt.UTC))
    lines = lines_of(before, "Polarization")
    offset = math.radians(number_of(lines["offset"]))
    standing, turned = (lines[f"loss, {name}"] for name in ("feeds as they stand", "one turned by 90 deg"))
    assert standing.formula.startswith("-20 log10 |sin offset|")
    assert turned.formula.startswith("-20 log10 |cos offset|")
    assert number_of(standing) == pytest.approx(min(-20.0 * math.log10(abs(math.sin(offset))), 15.0), abs=1e-9)
    assert number_of(turned) == pytest.approx(min(-20.0 * math.log10(abs(math.cos(offset))), 15.0), abs=1e-9)
