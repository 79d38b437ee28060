"""An explanation in words: headline, notes, sources and obstacles, each a true sentence with its figures."""

from __future__ import annotations

import datetime as dt

import pytest

from pipeline.explain.remarks import (
    AboveBestCase,
    BelowExposureLevels,
    BelowHorizon,
    BeyondEphemeris,
    FeedNote,
    FeedRule,
    Headline,
    HomeItself,
    InWindow,
    LinkHeadline,
    Missed,
    ModesApart,
    MoonBehind,
    MoonDown,
    Note,
    Obstacle,
    OutsideWindows,
    Remark,
    Sought,
    UnknownCall,
    Way,
)
from pipeline.record.model import Correction
from pipeline.wording.explain import headline_words, note_words, obstacle_words, source_words

OPENS = dt.datetime(2027, 3, 13, 19, 5, 42, tzinfo=dt.UTC)
CLOSES = dt.datetime(2027, 3, 14, 1, 30, 20, tzinfo=dt.UTC)
LAST = dt.date(2027, 3, 31)


@pytest.mark.parametrize(
    ("headline", "words"),
    [
        (
            LinkHeadline((Way("QB", "QA", -20.04, 1.26), Way("QA", "QB", -23.0, -1.7)), "Q65-60C", 2.34),
            "QB hears QA at -20.0 dB, margin 1.3 dB; QA hears QB at -23.0 dB, margin -1.7 dB with Q65-60C; degradation"
            " 2.3 dB.",
        ),
        (
            LinkHeadline((Way("QB", "QA", -20.0, None), Way("QA", "QB", -23.0, None)), None, 2.34),
            "QB hears QA at -20.0 dB; QA hears QB at -23.0 dB; degradation 2.3 dB.",
        ),
        (
            MoonBehind((("QA", 7.62),)),
            "No path: the Moon is 7.6 degrees behind the skyline of QA; the figures are those of a beam full of hill.",
        ),
        (
            MoonDown((("QA", 1.0), ("QB", 20.26))),
            "The Moon is 1.0 degrees below the level horizon of QA and 20.3 degrees below the level horizon of QB:"
            " there is no link to work out at this instant.",
        ),
    ],
)
def test_headlines(headline: Headline, words: str) -> None:
    assert headline_words(headline) == words


@pytest.mark.parametrize(
    ("note", "words"),
    [
        (
            InWindow(OPENS, CLOSES, "home horizon", "partner minimum elevation"),
            "In the mutual window from 2027-03-13 19:05 to 2027-03-14 01:30 UTC, opened by home horizon, closed by"
            " partner minimum elevation.",
        ),
        (
            OutsideWindows((Missed("QA", "horizon", 3.14), Missed("QB", "mount", 0.5)), OPENS, LAST),
            "In no mutual window: QA horizon missed by 3.1 degrees; QB mount missed by 0.5 degrees; the next one opens"
            " 2027-03-13 19:05 UTC.",
        ),
        (OutsideWindows((), None, LAST), "In no mutual window; none follows up to the night of 2027-03-31."),
        (BelowHorizon("QA"), "The Moon is below the horizon of QA."),
        (FeedNote(FeedRule.TURN, ("QA",)), "Turn one feed by 90 degrees at this instant: QA can."),
        (
            FeedNote(FeedRule.TURN, ("QA", "QB")),
            "Turn one feed by 90 degrees at this instant: either end can.",
        ),
        (FeedNote(FeedRule.LEAVE, ("QA",)), "Leave the feeds as they stand at this instant."),
        (FeedNote(FeedRule.FIXED, ()), "Neither feed can be turned."),
        (
            FeedNote(FeedRule.FARADAY, ()),
            "Faraday rotation decides on this band: the offset is no guide.",
        ),
        (FeedNote(FeedRule.CIRCULAR, ()), "A circular feed takes part: the offset does not matter."),
        (
            ModesApart((("QA", ("Q65", "CW")), ("QB", ("RTTY",)))),
            "The ends share no mode of the mode table: QA has Q65, CW; QB has RTTY.",
        ),
        (
            AboveBestCase("QA", 1.236, 88.25),
            "Against the best case of this equipment: at QA the noise stands 1.24 dB above its 88.2 K.",
        ),
        (
            BelowExposureLevels(28.1, 30.0),
            "28.1 MHz is below the range of these levels; 30 MHz and above would be right.",
        ),
    ],
)
def test_notes(note: Note, words: str) -> None:
    assert note_words(note) == words


@pytest.mark.parametrize("remark", list(Remark))
def test_every_remark_has_its_words(remark: Remark) -> None:
    assert note_words(remark).endswith(".")


@pytest.mark.parametrize("rule", list(FeedRule))
def test_every_rule_of_the_feeds_has_its_words(rule: FeedRule) -> None:
    assert "{" not in note_words(FeedNote(rule, ("QA", "QB")))


@pytest.mark.parametrize(
    ("obstacle", "words"),
    [
        (
            UnknownCall("QAX", Sought.PARTNER, "QA", ("QA", "QB")),
            "QAX: no such partner in this season; QA is the nearest; there are QA, QB.",
        ),
        (
            UnknownCall("XX", Sought.STATION, None, ("QA", "QB")),
            "XX: no such station in this season; there are QA, QB.",
        ),
        (HomeItself("qm7tor", ("QA", "QB")), "qm7tor is home itself; a partner is meant: QA, QB."),
        (BeyondEphemeris(9999), "no ephemeris reaches the year 9999; DE421 runs from 1900 to 2053."),
    ],
)
def test_obstacles(obstacle: Obstacle, words: str) -> None:
    assert obstacle_words(obstacle) == words


def test_a_correction_is_a_source_that_says_on_what_it_rests() -> None:
    learnt = Correction("QA", "3cm", 1.2, -0.4, 0.8, 0.9, "14 reports up to 2027-03-28")
    bare = Correction("QA", "3cm", 1.2, -0.4, 0.8, 0.9, "")
    sources = ("Friis", learnt, bare)
    assert [source_words(one) for one in sources] == [
        "Friis",
        "learnt from 14 reports up to 2027-03-28",
        "learnt from the log",
    ]
