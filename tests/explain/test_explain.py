"""An explanation against the plan's samples at the same instants, against sums by hand, and with the Moon down."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
import math
from pathlib import Path

import numpy as np
import pytest

from pipeline.explain.explain import ALWAYS, WITHOUT_LINK, explain
from pipeline.explain.explanation import Explanation, Line, NotPossible
from pipeline.explain.remarks import (
    BeyondEphemeris,
    FeedNote,
    FeedRule,
    HomeItself,
    InWindow,
    LinkHeadline,
    Missed,
    ModesApart,
    MoonBehind,
    MoonDown,
    OutsideWindows,
    Remark,
    Sought,
    UnknownCall,
)
from pipeline.inputs.model import HorizonPoint, Station
from pipeline.plan.plan import Plan, make_plan
from pipeline.record.inputs import Inputs, read_inputs
from pipeline.reports.explanation_json import explanation_json

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
    assert isinstance(made.headline, MoonDown)
    apparent = lines_of(made, "Moon and Sun at QM7TOR")["Moon elevation, apparent"]
    assert made.headline.ends[0] == ("QM7TOR", -number_of(apparent))
    note = made.sections[0].note
    assert isinstance(note, OutsideWindows)
    assert isinstance(note.missed[0], Missed)
    assert (note.missed[0].call, note.missed[0].rule) == ("QM7TOR", "horizon")
    assert note.opens is not None
    assert note.opens > made.instant
    assert made.sections[-1].note is Remark.NO_LINK
    titles = [section.title for section in made.sections]
    assert titles == ["Place and time", "Moon and Sun at QM7TOR", "Moon and Sun at QT8NUI", "Link"]
    for name, value in made.columns.items():
        given = name in ALWAYS or name.endswith(WITHOUT_LINK)
        assert (value is not None) == given, name


def test_json_has_the_keys_of_the_samples_up_or_down(inputs: Inputs, plan: Plan, explained: Explanation) -> None:
    down = explain(inputs, "QT8NUI", dt.datetime(2027, 3, 8, 3, 0, tzinfo=dt.UTC))
    for made in (explained, down):
        # allow_nan off: not-a-number is no JSON.
        read = json.loads(json.dumps(explanation_json(made), allow_nan=False))
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
    next_one = before.sections[0].note
    assert isinstance(next_one, OutsideWindows)
    assert next_one.opens is not None
    made = explain(inputs, "QT8NUI", next_one.opens + dt.timedelta(minutes=30))
    note = made.sections[0].note
    assert isinstance(note, InWindow)
    assert abs(note.start - next_one.opens) < dt.timedelta(seconds=0.1)
    assert note.start < made.instant < note.end
    assert np.isfinite(float(str(made.columns["snr_at_home_db"])))


def test_what_cannot_be_explained_says_what_would_be_right(inputs: Inputs) -> None:
    instant, calls = dt.datetime(2027, 3, 5, 20, tzinfo=dt.UTC), tuple(one.call for one in inputs.partners)
    for call, when, obstacle in (
        ("QT8NUL", instant, UnknownCall("QT8NUL", Sought.PARTNER, "QT8NUI", calls)),
        ("XX", instant, UnknownCall("XX", Sought.PARTNER, None, calls)),
        ("QM7TOR", instant, HomeItself("QM7TOR", calls)),
        ("QT8NUI", dt.datetime(9999, 12, 31, 23, tzinfo=dt.UTC), BeyondEphemeris(9999)),
        ("QT8NUI", dt.datetime(1, 1, 1, tzinfo=dt.timezone(dt.timedelta(hours=5))), BeyondEphemeris(1)),
    ):
        with pytest.raises(NotPossible) as stopped:
            explain(inputs, call, when)
        assert stopped.value.obstacle == obstacle


def test_the_headline_is_that_of_both_ways(explained: Explanation) -> None:
    """Figures of the columns, the partner's end first."""
    headline = explained.headline
    assert isinstance(headline, LinkHeadline)
    assert [(way.receiver, way.sender) for way in headline.ways] == [("QT8NUI", "QM7TOR"), ("QM7TOR", "QT8NUI")]
    for way, name in zip(headline.ways, ("partner", "home"), strict=True):
        assert way.snr_db == explained.columns[f"snr_at_{name}_db"]
        assert way.margin_db == explained.columns[f"margin_at_{name}_db"]
    assert headline.degradation_db == explained.columns["degradation_db"]


def test_a_skyline_in_the_way_is_the_headline(inputs: Inputs) -> None:
    """Home walled in to 80 degrees: the Moon above both level horizons, and behind home's skyline."""
    wall = tuple(HorizonPoint(azimuth_deg=azimuth, elevation_deg=80.0) for azimuth in (0.0, 180.0))
    walled = dataclasses.replace(inputs, home=dataclasses.replace(inputs.home, horizon=wall))
    made = explain(walled, "QT8NUI", dt.datetime(2027, 3, 5, 20, 0, tzinfo=dt.UTC))
    assert isinstance(made.headline, MoonBehind)
    seen = lines_of(made, "Moon and Sun at QM7TOR")
    assert made.headline.ends == (("QM7TOR", pytest.approx(-number_of(seen["clearance"]))),)


def _with_feeds(inputs: Inputs, home: str, partner: str) -> Inputs:
    """Polarization of home and of QT8NUI changed."""

    def changed(station: Station, polarization: str) -> Station:
        equipment = dataclasses.replace(station.bands["3cm"], polarization=polarization)
        return dataclasses.replace(station, bands=station.bands | {"3cm": equipment})

    partners = tuple(changed(one, partner) if one.call == "QT8NUI" else one for one in inputs.partners)
    return dataclasses.replace(inputs, home=changed(inputs.home, home), partners=partners)


@pytest.mark.parametrize(
    ("home", "partner", "rules", "who"),
    [
        ("circular", "rotatable", {FeedRule.CIRCULAR}, None),
        ("horizontal", "vertical", {FeedRule.FIXED}, ()),
        ("horizontal", "rotatable", {FeedRule.TURN, FeedRule.LEAVE}, ("QT8NUI",)),
        ("rotatable", "rotatable", {FeedRule.TURN, FeedRule.LEAVE}, ("QM7TOR", "QT8NUI")),
    ],
)
def test_the_feeds_note_says_who_can_turn(
    inputs: Inputs, home: str, partner: str, rules: set[FeedRule], who: tuple[str, ...] | None
) -> None:
    made = explain(_with_feeds(inputs, home, partner), "QT8NUI", dt.datetime(2027, 3, 5, 20, 0, tzinfo=dt.UTC))
    note = next(section.note for section in made.sections if section.title == "Polarization")
    assert isinstance(note, FeedNote)
    assert note.rule in rules
    assert who is None or note.who == who


def test_ends_without_a_mode_in_common(inputs: Inputs) -> None:
    home = dataclasses.replace(inputs.home.bands["3cm"], modes=("RTTY",))
    apart = dataclasses.replace(inputs, home=dataclasses.replace(inputs.home, bands={"3cm": home}))
    made = explain(apart, "QT8NUI", dt.datetime(2027, 3, 5, 20, 0, tzinfo=dt.UTC))
    note = next(section.note for section in made.sections if section.title == "Mode and margin")
    assert isinstance(note, ModesApart)
    assert note.ends[0] == ("QM7TOR", ("RTTY",))
    assert isinstance(made.headline, LinkHeadline)
    assert made.headline.mode is None
    assert {way.margin_db for way in made.headline.ways} == {None}


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
