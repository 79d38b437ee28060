"""The chat message: what is needed on the air in 600 characters; what goes first where it is too long."""

from __future__ import annotations

import dataclasses
import re

import pandas as pd
import pytest

from pipeline.letters.chat import LONGEST
from pipeline.letters.making import no_meeting_place
from pipeline.plan.plan import Plan
from tests.letters.letters_of import letter_text, made_for, with_letters, with_station
from tests.letters.stand_in import demo_letters, offer_of, slot, with_slots
from tests.plan.months import SEASON_FILE, month_plan

MEET = "telephone +598 0000 0000, ask for Ines"


@pytest.fixture(scope="module")
def plan() -> Plan:
    return with_letters(demo_letters(), meet=MEET)


def message_of(plan: Plan, call: str) -> str:
    return made_for(plan, call).files["message.txt"].decode()


def test_everything_needed_on_the_air_is_there(plan: Plan) -> None:
    """Who has no mail has this alone: QT8NUI."""
    text = message_of(plan, "QT8NUI")
    start = next(one.start for one in plan.slots if one.call == "QT8NUI")
    first = re.search(
        r"^At (\d\d:\d\d): azimuth [\d.]+ deg, elevation [\d.]+ deg, listen 10368\.\d{5} MHz\.$", text, re.M
    )
    assert first
    assert first[1] == f"{(start + pd.Timedelta('13h')):%H:%M}"  # Pacific/Auckland in March (IANA database)
    for part in (
        "Both send on 10368.1 MHz.",
        "You send first, on even minutes (0, 2, 4 ...) UTC.",
        "Q65, 60 s periods",
        "GF25cl",
        f"Meet us here: {MEET}.",
        "From when to when can you be at your station?",
    ):
        assert part in text
    assert text.splitlines()[-1] == f"Plan {plan.number}"
    assert len(text) <= LONGEST


def test_the_aim_is_that_of_the_letter(plan: Plan) -> None:
    head = re.search(
        r"^\d\d:\d\d \| \d\d:\d\d \| (.*)° \| (.*)° \| (\d+\.\d+)$", letter_text(made_for(plan, "QZ5KAR")), re.M
    )
    assert head
    assert f"azimuth {head[1]} deg, elevation {head[2]} deg, listen {head[3]} MHz." in message_of(plan, "QZ5KAR")


def test_of_two_slots_what_matters_least_goes_first(plan: Plan) -> None:
    """The question about the station and the dish go; aims, minutes, locator and meeting place stay."""
    text = message_of(plan, "QF4LUM")
    assert len(text) <= LONGEST
    assert text.count(": azimuth ") == 2
    assert "on even minutes" in text
    assert "We are at GF25cl." in text
    assert f"Meet us here: {MEET}." in text
    assert "We count with" not in text
    assert "1.8 m dish" not in text


def in_mode(plan: Plan, call: str, name: str) -> Plan:
    """The partner's slots in a mode that another partner has."""
    place, mode = plan.inputs.place_of(call), next(one for one in plan.modes if one is not None and one.mode == name)
    return dataclasses.replace(plan, modes=tuple(mode if n == place else one for n, one in enumerate(plan.modes)))


def test_what_sets_the_mode_stays_whatever_goes(plan: Plan) -> None:
    """Its period and the spacing of its tones; before the meeting place it is our locator that goes."""
    text = message_of(in_mode(plan, "QF4LUM", "Q65"), "QF4LUM")
    assert len(text) <= LONGEST
    assert "on even minutes (0, 2, 4 ...) UTC. Q65, 60 s, tones 26.7 Hz.\n" in text
    assert f"Meet us here: {MEET}." in text
    assert "We are at" not in text
    assert " UTC. CW, 60 s.\n" in message_of(plan, "QF4LUM")
    base = month_plan()
    many = with_slots(base, *[slot(base, "QF4LUM", label, 1 + place) for place, label in enumerate("ABCDE")])
    text = message_of(in_mode(many, "QF4LUM", "Q65"), "QF4LUM")
    assert len(text) <= LONGEST
    assert "Q65, 60 s, tones 26.7 Hz." in text
    assert "We are at GF25cl." in text


@pytest.mark.parametrize("zone", ["Europe/Helsinki", "Pacific/Auckland", None])
def test_another_time_has_utc_too(zone: str | None) -> None:
    """With its own date where the clocks differ on it (Auckland is 13 hours ahead, IANA database)."""
    base = month_plan()
    row = slot(base, "QF4LUM", "A", 6)
    other = {"partner": "QF4LUM", "operator": "QM7TOR", "band": row["band"], "night": row["night"], "label": "C"}
    start, end = (row[f"slot_{edge}_utc"] + pd.Timedelta("1h") for edge in ("start", "end"))
    other |= {"instead_of": "A", "chance": 0.5, "chance_met": 0.5, "slot_start_utc": start, "slot_end_utc": end}
    plan = dataclasses.replace(with_slots(base, row), alternatives=pd.DataFrame([other]))
    text = message_of(with_station(plan, "QF4LUM", time_zone=zone), "QF4LUM")
    hours = f"{start:%H:%M} to {end:%H:%M} UTC"
    expected = {
        "Europe/Helsinki": f"or C: Wed 10 Mar 15:30 to 16:30 your time = {hours}\n",
        "Pacific/Auckland": f"or C: Thu 11 Mar 02:30 to 03:30 your time = Wed 10 Mar {hours}\n",
        None: f"or C: Wed 10 Mar {hours}\n",
    }
    assert expected[zone] in text
    assert len(text) <= LONGEST


def test_of_many_slots_times_are_left_and_then_a_hint(plan: Plan) -> None:
    base = month_plan()
    many = with_slots(base, *[slot(base, "QF4LUM", label, 1 + place) for place, label in enumerate("ABCDE")])
    text = message_of(many, "QF4LUM")
    assert len(text) <= LONGEST
    assert len(re.findall(r"^[A-E]: ", text, re.M)) >= 4
    assert "azimuth" not in text


@pytest.mark.parametrize("language", ["en", "de", "es", "fr", "it", "ja", "pt"])
@pytest.mark.parametrize("count", [1, 2, 3, 5])
def test_who_sends_on_which_minutes_goes_last(language: str, count: int) -> None:
    """Told only who is first, a partner whose slot begins on an odd minute would send when we do."""
    base = with_station(month_plan(), "QF4LUM", language=language)
    many = with_slots(base, *[slot(base, "QF4LUM", label, 1 + place) for place, label in enumerate("ABCDE"[:count])])
    for place in (MEET, "a chat room on the net, where we are an hour before and stay until the last slot has ended"):
        text = message_of(with_letters(many, meet=place), "QF4LUM")
        assert len(text) <= LONGEST
        assert re.search(r"[(（]0[,、] ?2[,、] ?4", text), text


def test_where_clocks_change_between_the_slots_each_has_its_offset() -> None:
    """Denver goes from UTC-7 to UTC-6 on 14 March 2027 (IANA database)."""
    base = with_station(month_plan(), "QF4LUM", time_zone="America/Denver")
    many = [slot(base, "QF4LUM", label, place) for place, label in ((1, "A"), (12, "B"), (13, "C"))]
    assert many[0]["slot_start_utc"] < pd.Timestamp("2027-03-14T09:00Z") < many[1]["slot_start_utc"]
    text = message_of(with_slots(base, *many), "QF4LUM")
    assert re.findall(r"^([ABC]): .* your time \((UTC-[67])\) = ", text, re.M) == [
        ("A", "UTC-7"), ("B", "UTC-6"), ("C", "UTC-6"),
    ]  # fmt: skip
    assert "(UTC-" not in message_of(with_slots(base, *many[1:]), "QF4LUM").split("\n", 1)[0]
    assert len(text) <= LONGEST


def test_a_moved_and_a_withdrawn_slot_are_named_with_their_times() -> None:
    base = month_plan()
    row, gone = slot(base, "QF4LUM", "A", 6), slot(base, "QF4LUM", "B", 12)
    hour = pd.Timedelta("1h")
    before = offer_of(row, start_utc=(row["slot_start_utc"] - hour).to_pydatetime(), end_utc=row["slot_start_utc"])
    text = message_of(with_slots(base, row, offers=(before, offer_of(gone)), withdrawn=[gone]), "QF4LUM")
    # Europe/Helsinki is two hours ahead of UTC until 28 March 2027 (IANA database).
    start, end = ((gone[f"slot_{edge}_utc"] + 2 * hour) for edge in ("start", "end"))
    assert "(moved, before: Wed 10 Mar 13:30 to 14:30 your time)" in text
    assert f"Withdrawn: slot B, {start:%a} {start.day} {start:%b %H:%M} to {end:%H:%M} your time." in text


def test_without_a_place_to_meet_the_message_says_nothing_and_the_operator_is_told(plan: Plan) -> None:
    bare = demo_letters()
    assert "Meet" not in message_of(bare, "QT8NUI")
    (note,) = no_meeting_place(bare)
    assert note.startswith("season.yaml names no place to meet during a slot")
    assert "meet:" in note
    assert no_meeting_place(plan) == ()


def test_without_a_common_moon_no_frequency_is_told(plan: Plan) -> None:
    """QI9TEA never has the Moon together with home: it hears so, and nothing of frequencies, modes and minutes."""
    made = made_for(plan, "QI9TEA")
    letter, message = letter_text(made), made.files["message.txt"].decode()
    for text in (letter, message):
        assert "Sadly the Moon gives us no common time in March 2027." in text
        assert "Your horizon hides it at azimuth" in text
        assert not re.search(r"\bHz|MHz|[Ff]requenc|\bW\b at|Q65|Mode|minutes|Doppler", text)
    assert "ON THE AIR" not in letter
    # Who has windows but no slot yet is told where we send.
    assert "10368.1 MHz" in message_of(plan, "QK3RED")


def test_the_sample_in_the_readme_is_the_demo_s() -> None:
    readme = (SEASON_FILE.parents[1] / "README.md").read_text("utf-8")
    (sample,) = re.findall(r"```\n(Hello .*?)Plan \w{4}\n```", readme, re.DOTALL)
    assert message_of(month_plan(), "QT8NUI").startswith(f"{sample}Plan ")


def test_no_sentence_is_long(plan: Plan) -> None:
    """English may be the reader's third language: a sentence of a message has 20 words at most (judgement)."""
    for call in ("QF4LUM", "QT8NUI", "QI9TEA", "QK3RED"):
        for sentence in re.split(r"[.?!:]\s", message_of(plan, call)):
            assert len(sentence.split()) <= 20, sentence
