"""The reply to a proposed time: what is pasted into a mail or a chat; plain sentences, its own time first."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

from pipeline.agenda.proposal import Against, Judged
from pipeline.letters.proposal_reply import reply_words
from pipeline.windows.rules import HORIZON, MINIMUM_ELEVATION, MOUNT_AZIMUTH, MOUNT_ELEVATION
from pipeline.wording.proposals import proposal_lines
from tests.agenda.proposed_times import LUMME, judged_at, plain, utc
from tests.letters.test_in_their_language import ENGLISH, OTHERS, figures

EVENING = utc(13, 19)


def judged(call: str = LUMME, instant: dt.datetime = EVENING) -> Judged:
    return judged_at(plain(), call, instant)


def test_yes_in_the_partners_time_first() -> None:
    assert reply_words(judged()) == (
        "Yes, Saturday 13 March 2027, 21:00 to 22:00 your time (UTC+2) is good for us. That is 19:00 to 20:00 UTC. "
        "The Moon is then 33 degrees up at your place. You need not answer. We will send you the details."
    )


def test_another_date_than_utc_is_written_out() -> None:
    words = reply_words(judged("QX6ICE", utc(19, 23, 45)))
    assert words.startswith("Yes, Saturday 20 March 2027, 00:45 to 01:45 your time (UTC+1) is good for us. ")
    assert "That is Friday 19 March 2027, 23:45 to Saturday 20 March, 00:45 UTC." in words
    assert "Signals will be weak: the chance of a contact is 50 %." in words
    # From 60 % on nothing of it is said.
    assert "weak" not in reply_words(dataclasses.replace(judged(), chance=0.6))
    assert "weak" in reply_words(dataclasses.replace(judged(), chance=0.59))


def test_hard_with_the_nearest_other_time() -> None:
    assert reply_words(judged(instant=utc(14, 20))) == (
        "That time is hard because nobody is at our dish then. Could you do Saturday 13 March 2027, 21:00 to 22:00 "
        "your time (UTC+2) instead? That is 19:00 to 20:00 UTC."
    )
    # What was taken all the same, or is agreed, is not told to be hard.
    assert reply_words(judged(instant=utc(14, 20)), is_taken=True).startswith("Yes, Sunday 14 March 2027, 22:00 to ")
    assert reply_words(dataclasses.replace(judged(instant=utc(14, 20)), agreed=True)).startswith("Yes, ")


def test_hard_and_no_other_time() -> None:
    assert reply_words(judged("QI9TEA")) == (
        "That time is hard because the Moon is 33 degrees below your horizon. We have found no other time yet. "
        "Which other days and hours could you be there?"
    )


def test_without_a_zone_it_is_utc_alone() -> None:
    known = judged()
    station = dataclasses.replace(known.partner.station, time_zone=None)
    words = reply_words(dataclasses.replace(known, partner=dataclasses.replace(known.partner, station=station)))
    assert words.startswith("Yes, Saturday 13 March 2027, 19:00 to 20:00 UTC is good for us. The Moon ")


@pytest.mark.parametrize(
    ("rule", "elevation_deg", "words"),
    [
        (HORIZON, -12.4, "the Moon is 12 degrees below {} horizon"),
        (HORIZON, 2.0, "the Moon is too low at {} place"),
        (MINIMUM_ELEVATION, 2.0, "the Moon is too low at {} place"),
        (MOUNT_ELEVATION, 80.0, "the Moon is higher than {} antenna reaches"),
        (MOUNT_AZIMUTH, 20.0, "the Moon is where {} antenna does not turn"),
    ],
)
def test_why_the_moon_does_not_allow_it(rule: int, elevation_deg: float, words: str) -> None:
    known = dataclasses.replace(judged(), against=(Against.MOON,))
    for name, whose in (("home", "our"), ("partner", "your")):
        end = getattr(known, name)
        hidden = dataclasses.replace(end, missed=((rule, 1.0),), elevation_deg=(elevation_deg, 0.0))
        assert words.format(whose) in reply_words(dataclasses.replace(known, **{name: hidden}))


@pytest.mark.parametrize("against", list(Against))
def test_each_reason_is_told_without_a_word_of_others(against: Against) -> None:
    """A clash is with somebody, and nobody is told with whom."""
    busy = judged(instant=utc(13, 20, 45))
    assert [one.call for one in busy.clashes] == ["QG8FEN"]
    words = reply_words(dataclasses.replace(busy, against=(against, Against.WEAK)))
    assert words.startswith("That time is hard because ")
    calls = [station.call for station in plain().grid.inputs.partners if station.call != LUMME]
    assert not [call for call in calls if call in words]
    assert all(len(sentence.split()) < 25 for sentence in words.split(". "))


@pytest.mark.parametrize("code", OTHERS)
def test_in_another_language_with_the_same_figures_and_the_english_text_beneath(code: str) -> None:
    good, hard, weak = judged(), judged(instant=utc(14, 20)), judged("QX6ICE", utc(19, 23, 45))
    rules = (HORIZON, MINIMUM_ELEVATION, MOUNT_ELEVATION, MOUNT_AZIMUTH)
    cases = [good, hard, weak, judged("QI9TEA"), *(dataclasses.replace(hard, against=(one,)) for one in Against)]
    for name in ("home", "partner"):
        ends = [
            dataclasses.replace(getattr(hard, name), missed=((rule, 1.0),), elevation_deg=(deg, 0.0))
            for rule in rules
            for deg in (-12.4, 2.0)
        ]
        cases += [dataclasses.replace(hard, against=(Against.MOON,), **{name: end}) for end in ends]
    for one in cases:
        english = reply_words(one)
        for zone in (one.partner.station.time_zone, None):
            theirs = dataclasses.replace(one.partner.station, language=code, time_zone=zone)
            there = dataclasses.replace(one, partner=dataclasses.replace(one.partner, station=theirs))
            first, beneath = reply_words(there).split("\n\n")
            if zone:
                assert beneath == english
            assert figures(first, code) == figures(beneath, ENGLISH), (first, beneath)
            assert first != beneath


def test_who_is_worked_is_thanked_and_who_was_never_wanted_hears_nothing() -> None:
    for instant in (EVENING, utc(14, 20)):
        worked = dataclasses.replace(judged(instant=instant), is_wanted=False, is_worked=True)
        assert reply_words(worked) == "Thank you, our contact is in the log. We need no further time."
        assert not any("time in this plan" in line or "Nearest" in line for line in proposal_lines(worked))
        assert reply_words(dataclasses.replace(worked, is_worked=False)) == ""
        # What was taken all the same, or is agreed, is answered as ever.
        assert reply_words(worked, is_taken=True).startswith("Yes, ")
        assert reply_words(dataclasses.replace(worked, is_worked=False, agreed=True)).startswith("Yes, ")
    assert "better time" in "\n".join(proposal_lines(judged()))
