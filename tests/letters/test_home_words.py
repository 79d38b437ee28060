"""Who writes: home's station and the Moon over its skyline, the same in letter, message and invitation."""

from __future__ import annotations

import dataclasses
import re

import ephem
import icalendar
import numpy as np
import pytest

from pipeline.letters.home_words import skyline_at
from pipeline.plan.plan import Plan
from tests.letters.letters_of import letter_text, made_for
from tests.letters.readers import opened
from tests.letters.stand_in import demo_letters
from tests.plan.months import demo_inputs

SKY = re.compile(r"In slot ([A-Z]) the Moon stands (?:(\d+) to )?(\d+)° high here\. Our horizon below it is at (.*)°\.")


@pytest.fixture(scope="module")
def plan() -> Plan:
    return demo_letters()


def described(plan: Plan, call: str, label: str = "A") -> str:
    """What an invitation says of its slot."""
    mail = opened(made_for(plan, call).files["letter.eml"])
    part = next(one for one in mail.iter_attachments() if one.get_filename() == f"slot-{label}.ics")
    (event,) = icalendar.Calendar.from_ical(part.get_content()).walk("VEVENT")
    return str(event["description"])


def test_a_skyline_goes_straight_from_point_to_point_and_round_through_north() -> None:
    # The demo's home: 2.0 at 0, 7.5 at 95, 1.0 at 260 degrees. By hand: half way to 95, and half way from 260 to 360.
    home = demo_inputs().home
    assert skyline_at(home, np.array([0.0, 47.5, 95.0, 260.0, 310.0, 360.0])) == pytest.approx(
        [2.0, 4.75, 7.5, 1.0, 1.5, 2.0]
    )


def test_the_station_is_told_in_letter_message_and_invitation(plan: Plan) -> None:
    # By stations/qm7tor.yaml.
    letter, message = letter_text(made_for(plan, "QZ5KAR")), made_for(plan, "QZ5KAR").files["message.txt"].decode()
    for line in (
        "We are QM7TOR, Basalt Tor.",
        "Our place: GF25cl (34.50° S 55.80° W), 212 m above the sea.",
        "Our station: 1.8 m dish, 40 W at the feed, a feed that can be turned.",
    ):
        assert f"- {line}\n" in letter
    assert "QM7TOR: 1.8 m dish, 40 W at the feed, a feed that can be turned, at GF25cl (34.50° S 55.80° W)." in (
        described(plan, "QZ5KAR")
    )
    assert re.search(r"^We: 1\.8 m dish, 40 W, GF25cl, our horizon [\d to]+ deg\.$", message, re.MULTILINE)


@pytest.mark.parametrize("call", ["QF4LUM", "QN1PIK", "QZ5KAR"])
def test_the_moon_over_home_agrees_with_an_independent_library(plan: Plan, call: str, outside) -> None:
    # PyEphem without air; refraction above 5 degrees is less than a fifth of one, and figures are whole degrees.
    home = plan.inputs.home.position
    observer = ephem.Observer()
    observer.lat, observer.lon, observer.pressure = str(home.latitude_deg), str(home.longitude_deg), 0
    told = {found[0]: found for found in SKY.findall(letter_text(made_for(plan, call)))}
    slots, worst = [one for one in plan.slots if one.call == call], 0.0
    assert set(told) == {one.label for one in slots}
    for slot in slots:
        seen = []
        for share in np.linspace(0.0, 1.0, 61):
            observer.date = (slot.start + (slot.end - slot.start) * float(share)).replace(tzinfo=None)
            moon = ephem.Moon(observer)
            seen.append((np.degrees(float(moon.az)), np.degrees(float(moon.alt))))
        _, low, high, skyline = told[slot.label]
        assert float(high) == pytest.approx(max(alt for _, alt in seen), abs=0.8)
        assert float(low or high) == pytest.approx(min(alt for _, alt in seen), abs=0.8)
        heights = skyline_at(plan.inputs.home, np.array([az for az, _ in seen]))
        edges = [float(one) for one in skyline.split(" to ")]
        assert (edges[0], edges[-1]) == pytest.approx((heights.min(), heights.max()), abs=0.6)
        assert SKY.search(described(plan, call, slot.label))
        worst = max(worst, abs(float(high) - max(alt for _, alt in seen)))
    outside("PyEphem", len(slots), f"{worst:.1f} degree", "slots seen from home, told in whole degrees")


def test_a_skyline_that_nobody_has_measured_is_not_told_as_flat(plan: Plan) -> None:
    home = dataclasses.replace(plan.inputs.home, horizon=())
    bare = dataclasses.replace(plan, inputs=dataclasses.replace(plan.inputs, home=home))
    made = made_for(bare, "QZ5KAR")
    assert "Our horizon below it is not measured." in letter_text(made)
    assert "We: 1.8 m dish, 40 W, GF25cl.\n" in made.files["message.txt"].decode()


def test_an_invitation_says_where_to_point_and_what_to_dial(plan: Plan) -> None:
    """In the field only the calendar is at hand: its figures are those of the letter's table."""
    text = letter_text(made_for(plan, "QZ5KAR"))
    rows = re.findall(r"^\d\d:\d\d \| \d\d:\d\d \| (.*)°? \| (.*)°? \| (\d+\.\d+)$", text, re.MULTILINE)
    first, last = rows[0], rows[-1]
    assert (
        f"From start to end: azimuth {first[0]} to {last[0]}, elevation {first[1]} to {last[1]}, "
        f"listen on {first[2]} to {last[2]} MHz."
    ) in described(plan, "QZ5KAR")
