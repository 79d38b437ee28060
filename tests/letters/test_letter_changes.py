"""What a second letter tells: agreed, refused, asked again, other words; and what a slot says of its first period."""

import dataclasses
import datetime as dt
import itertools
import json
import re

import pandas as pd
import pytest

from pipeline.letters import making
from pipeline.letters.document import content_digest
from pipeline.letters.on_the_air import begin_words
from pipeline.letters.templates import Templates
from pipeline.operating import pointing
from pipeline.operating.search import search_of
from pipeline.operating.search_width import fastest_hz_per_s, place_hz
from pipeline.plan.plan import Plan
from pipeline.record.model import Answer
from pipeline.wording.operating import search_words
from pipeline.wording.speech import speech_for
from tests.letters.letters_of import letter_text, made_for, with_letters, with_season, with_station
from tests.letters.readers import body, calendars, opened
from tests.letters.stand_in import offer_of, slot, with_slots
from tests.plan.months import month_plan


@pytest.fixture(scope="module")
def base() -> Plan:
    return month_plan()


def changes(plan: Plan) -> list[str]:
    """The lines under the heading of what has changed."""
    found = re.search(r"WHAT HAS CHANGED\n((?:- .*\n)+)", letter_text(made_for(plan, "QF4LUM")))
    return found[1].splitlines() if found else []


def digest_of(plan: Plan) -> str:
    return str(json.loads(made_for(plan, "QF4LUM").files["letter.json"])["content_digest"])


def test_a_first_letter_has_changed_nothing(base):
    assert changes(with_slots(base, slot(base, "QF4LUM", "A", 6))) == []


def test_a_yes_and_a_maybe_are_answered_once(base):
    for state, line in (
        ("confirmed", "- Slot A is agreed."),
        ("tentative", "- You said maybe to slot A. We need a yes or a no."),
    ):
        row = slot(base, "QF4LUM", "A", 6, state=state)
        assert changes(with_slots(base, row, offers=[offer_of(row, state="proposed")])) == [line]
        assert changes(with_slots(base, row, offers=[offer_of(row)])) == []


def test_a_time_that_the_partner_proposed_is_confirmed_as_its_own(base):
    """It moves a slot there or is a new one; a line of the record about another time is none of it."""
    before, row = slot(base, "QF4LUM", "A", 6), slot(base, "QF4LUM", "A", 13, state="confirmed")
    other = slot(base, "QF4LUM", "B", 20, state="confirmed")

    def own(row, start):
        return Answer("QF4LUM", row["label"], start, None, "confirmed", "QM7TOR", 2, proposed_by="partner")

    answers = [own(row, offer_of(row).start_utc), own(other, offer_of(other).start_utc)]
    plan = with_slots(base, row, other, offers=[offer_of(before)], answers=answers)
    moved, new = changes(plan)
    assert moved.startswith("- Slot A moves to the time that you proposed. Before: ")
    assert new.startswith("- Slot B is the time that you proposed: ")
    text = letter_text(made_for(plan, "QF4LUM"))
    assert text.count("You proposed this time. We confirm it.") == 2
    assert "There is nothing to answer." in text
    elsewhere = with_slots(base, row, offers=[offer_of(row)], answers=[own(row, offer_of(before).start_utc)])
    assert "Confirmed. Thank you." in letter_text(made_for(elsewhere, "QF4LUM"))


def test_the_subject_counts_what_waits(base):
    row, other = slot(base, "QF4LUM", "A", 6, state="confirmed"), slot(base, "QF4LUM", "B", 13)
    made = made_for(with_slots(base, row, other), "QF4LUM")
    assert str(opened(made.files["letter.eml"])["subject"]).endswith(": please confirm a time")


def test_after_a_no_the_new_slot_is_told_with_it(base):
    gone, row = slot(base, "QF4LUM", "A", 6), slot(base, "QF4LUM", "B", 12)
    no = Answer("QF4LUM", "A", offer_of(gone).start_utc, None, "declined", "QM7TOR", 2)
    first, second = changes(with_slots(base, row, offers=[offer_of(gone)], withdrawn=[gone], answers=[no]))
    assert first == "- You said no to slot A. We try again."
    assert second.startswith("- Slot B is new: Tuesday 16 March 2027")
    # Once it was sent there is nothing more to tell.
    assert changes(with_slots(base, row, offers=[offer_of(gone), offer_of(row)], withdrawn=[gone], answers=[no])) == []


def test_other_words_about_the_same_slot_are_told_and_only_they(base):
    row = slot(base, "QF4LUM", "A", 6)
    before = with_slots(base, row)
    told = with_slots(base, row, offers=[offer_of(row, digest=digest_of(before))])
    assert changes(told) == []
    other = with_station(told, "QF4LUM", operator="Aino Lumme")
    assert len(changes(other)) == 1
    assert "please use this letter, not the one before" in changes(other)[0]
    # The line itself is no other content: sent once, the letter is known.
    assert digest_of(other) == digest_of(with_station(before, "QF4LUM", operator="Aino Lumme"))


def test_the_content_passes_over_what_has_changed(base):
    letter = making.build_letter(with_slots(base, slot(base, "QF4LUM", "A", 6)).for_partner("QF4LUM"))
    assert content_digest(letter, []) == content_digest(dataclasses.replace(letter, changes=("x",)), [])


def test_who_is_no_more_wanted_hears_of_the_withdrawal_and_is_asked_nothing(base):
    gone = slot(base, "QF4LUM", "A", 6)
    wishes = tuple(dataclasses.replace(w, contacts_wanted=0) if w.call == "QF4LUM" else w for w in base.inputs.wishes)
    unwanted = dataclasses.replace(base, inputs=dataclasses.replace(base.inputs, wishes=wishes))
    plan = with_slots(unwanted, offers=[offer_of(gone)], withdrawn=[gone])
    made = made_for(plan, "QF4LUM")
    assert set(made.files) == {"letter.json", "message.txt", "withdrawal.eml", "withdrawal.json"}
    assert making.page_documents([plan.for_partner("QF4LUM")], Templates()) == {}
    message = opened(made.files["withdrawal.eml"])
    text = body(message, "plain") + made.files["message.txt"].decode()
    assert "is withdrawn" in text
    assert "We have no other time in March 2027." in text
    assert "?" not in text
    assert "Our letter" not in text
    assert [part.get_param("method") for part in calendars(message, attached=False)] == ["CANCEL"]


def test_a_day_for_answers_that_helps_nobody_is_told_to_the_operator(base):
    # The demo asks for answers by 20 February 2027; the slot is on 10 March.
    plan = with_slots(base, slot(base, "QF4LUM", "A", 6))
    assert making.late_answers(plan, dt.date(2027, 2, 20)) == ()
    (past,) = making.late_answers(plan, dt.date(2027, 2, 21))
    assert "by 2027-02-20, which is past" in past
    (late,) = making.late_answers(with_letters(plan, reply_by=dt.date(2027, 3, 10)), dt.date(2027, 2, 1))
    assert "season.yaml: letters.reply_by is 2027-03-10, and the first slot is on 2027-03-10" in late
    assert making.late_answers(with_letters(plan, reply_by=None), dt.date(2027, 4, 1)) == ()


@pytest.mark.parametrize(("first_to_transmit", "who"), [("partner", "You"), ("home", "We")])
def test_the_first_period_is_told_by_the_clock(base, first_to_transmit, who):
    # By hand: periods of a minute counted from the full hour, so a slot from a quarter past begins one minute later.
    row = slot(base, "QF4LUM", "A", 6, opener=first_to_transmit)
    start = pd.Timestamp("2027-03-10T13:15Z")
    plan = with_slots(base, row | {"slot_start_utc": start, "slot_end_utc": start + pd.Timedelta("1h")})
    assert f"- {who} begin at 15:16 your time (13:16 UTC)." in letter_text(made_for(plan, "QF4LUM"))


def test_the_search_adds_oscillators_drift_and_step(base):
    row = slot(base, "QF4LUM", "A", 6)
    plan = with_slots(base, row)
    assert "Search" not in letter_text(made_for(plan, "QF4LUM"))
    station = plan.inputs.partners[0]
    for accuracy, beacon in ((100.0, False), (2000.0, True)):
        equipment = dataclasses.replace(station.bands["3cm"], frequency_accuracy_hz=accuracy)
        loose = with_station(plan, "QF4LUM", bands=dict(station.bands) | {"3cm": equipment})
        text = letter_text(made_for(loose, "QF4LUM"))
        width = int(re.search(r"Search ([\d,]+) Hz up and down", text)[1].replace(",", ""))  # type: ignore[index]
        edges = (row["slot_start_utc"].to_pydatetime(), row["slot_end_utc"].to_pydatetime())
        shifts = [line.shift_hz for line in pointing.pointing_table(loose.for_partner("QF4LUM"), *edges)]
        fastest = max(abs(after - before) for before, after in itertools.pairwise(shifts)) / 10
        together = accuracy + loose.inputs.home.bands["3cm"].frequency_accuracy_hz
        known_to_km = loose.inputs.home.position.uncertainty_km + station.position.uncertainty_km
        places = place_hz(known_to_km, 10368.1e6)
        assert -0.5 <= width - (together + fastest / 2 + 5 + places) < 10.5
        assert ("a steady carrier or a beacon" in text) == beacon
        # The parts that are told add up to the width that is told.
        sentence = re.search(r"Search .*? for rounding\.", " ".join(text.split()))[0]  # type: ignore[index]
        parts = [r"off by ([\d,]+) Hz", r"and ([\d,]+) Hz more", r"other ([\d,]+) Hz"]
        hertz = [int(found[1].replace(",", "")) for part in parts if (found := re.search(part, sentence))]
        assert sum(hertz) == width
        assert len(hertz) == 2 + (places >= 0.5)


def test_a_first_turn_after_the_start_is_explained(base):
    """Where a slot begins on a minute of the other end, the letter says why nobody sends in it."""
    plan = with_slots(base, slot(base, "QF4LUM", "A", 6))
    view = plan.for_partner("QF4LUM")
    offered = made_for(plan, "QF4LUM").slots[0]
    why = "That is the first turn of whoever begins: turns are counted from the full UTC hour."
    for minutes, is_told in ((0, False), (1, True), (2, False)):
        start = offered.start_utc.replace(minute=0) + dt.timedelta(minutes=minutes)
        opened = dataclasses.replace(offered, start_utc=start, end_utc=start + dt.timedelta(hours=1))
        for zone in (None, dt.UTC):
            (said,) = begin_words(opened, view.mode, zone, speech_for(view.station))
            # Who opens sends on even minutes.
            assert said.startswith("You begin at ")
            assert said.endswith(why) == is_told


def test_letter_and_sheet_tell_one_search_width(base):
    """A place known by a square and a drifting oscillator: both papers name the same figure."""
    row = slot(base, "QF4LUM", "A", 6)
    plan = with_slots(base, row)
    station = plan.inputs.partners[0]
    equipment = dataclasses.replace(station.bands["3cm"], frequency_accuracy_hz=300.0)
    place = dataclasses.replace(station.position, uncertainty_km=78.6)
    loose = with_station(plan, "QF4LUM", bands=dict(station.bands) | {"3cm": equipment}, position=place)
    told = re.search(r"Search ([\d,]+) Hz up and down", letter_text(made_for(loose, "QF4LUM")))[1]  # type: ignore[index]
    (one,) = loose.night(row["night"]).slots
    moves = fastest_hz_per_s(loose.samples, one.call, one.start, one.end)
    sheet = search_of(one, loose.inputs.home.bands["3cm"].frequency_accuracy_hz, 300.0, moves)
    assert f"± {told} Hz:" in search_words(sheet)
    assert int(told) > 500


def test_a_fall_back_says_where_to_point_and_what_to_dial(base):
    row = slot(base, "QF4LUM", "A", 6)
    text = letter_text(made_for(with_slots(base, row), "QF4LUM"))
    start, end = (row[f"fall_back_{edge}_utc"].to_pydatetime() for edge in ("start", "end"))
    lines = pointing.pointing_table(base.for_partner("QF4LUM"), start, end)
    said = next(line for line in text.splitlines() if line.startswith("- Instead of slot A: "))
    for line in (lines[0], lines[-1]):
        for words in (f"{line.azimuth_deg:.1f}°", f"{line.elevation_deg:.1f}°", f"{line.receive_hz / 1e6:.5f}"):
            assert words in said
    policy = dataclasses.replace(base.inputs.season.policy, dialing="home-follows-for-both")
    assert "listen on 103" not in letter_text(made_for(with_season(with_slots(base, row), policy=policy), "QF4LUM"))


def test_without_a_fall_back_that_is_told(base):
    none = {f"{name}_{edge}_utc": pd.NaT for name in ("fall_back", "second_fall_back") for edge in ("start", "end")}
    text = letter_text(made_for(with_slots(base, slot(base, "QF4LUM", "A", 6) | none), "QF4LUM"))
    assert "- Instead of slot A: no time yet. If it fails, we write to you." in text


def test_the_hour_of_an_end_does_not_stand_alone(base):
    start = pd.Timestamp("2027-03-10T21:30Z")
    row = slot(base, "QF4LUM", "A", 6) | {"slot_start_utc": start, "slot_end_utc": start + dt.timedelta(hours=1)}
    text = body(opened(made_for(with_slots(base, row), "QF4LUM").files["letter.eml"]), "plain")
    assert "23:30 to Thursday 11 March,\N{NO-BREAK SPACE}00:30" in text
