"""What the operator is told of a proposed time: each thing that can stand against it, and what gives way."""

from __future__ import annotations

import dataclasses

import pytest

from pipeline.agenda.proposal import Against
from pipeline.agenda.proposal_ends import Free
from pipeline.windows.rules import HORIZON, MINIMUM_ELEVATION, MOUNT_AZIMUTH, MOUNT_ELEVATION
from pipeline.wording.proposals import against_words, proposal_lines, verdict_words
from tests.agenda.proposed_times import LUMME, judged_at, plain, utc


@pytest.mark.parametrize("against", list(Against))
def test_each_has_a_phrase_of_its_own(against: Against) -> None:
    judged = judged_at(plain(), LUMME, utc(13, 19))
    clash = dataclasses.replace(judged_at(plain(), LUMME, utc(13, 20, 45)).clashes[0], promised=True)
    told = dataclasses.replace(judged, against=(against,), clashes=(clash,))
    (words,) = against_words(told)
    others = {
        phrase
        for other in Against
        if other is not against
        for phrase in against_words(dataclasses.replace(told, against=(other,)))
    }
    assert words not in others
    assert f"  Against it: {words}" in proposal_lines(told)
    assert verdict_words(told) == words


@pytest.mark.parametrize("free", list(Free))
def test_home_is_told_why_it_is_not_free(free: Free) -> None:
    judged = judged_at(plain(), LUMME, utc(13, 19))
    told = dataclasses.replace(judged, home=dataclasses.replace(judged.home, free=free))
    line = next(line for line in proposal_lines(told) if line.startswith("  QM7TOR"))
    words = line.partition("): ")[2]
    assert words
    assert dataclasses.replace(told, against=(Against.HOME_NOT_FREE,)).home.free is free
    assert against_words(dataclasses.replace(told, against=(Against.HOME_NOT_FREE,))) == [words]


@pytest.mark.parametrize(
    ("rule", "elevation_deg", "words"),
    [
        (HORIZON, -3.0, "the Moon is 3.0° below the horizon of QF4LUM"),
        (HORIZON, 1.0, "the Moon is 2.5° behind the skyline of QF4LUM"),
        (MINIMUM_ELEVATION, 1.0, "the Moon is 2.5° below the minimum elevation of QF4LUM (3°)"),
        (MOUNT_ELEVATION, 80.0, "the Moon is 2.5° higher than the mount of QF4LUM reaches"),
        (MOUNT_AZIMUTH, 20.0, "the Moon is 2.5° outside the reach of the mount of QF4LUM"),
    ],
)
def test_what_hides_the_moon(rule: int, elevation_deg: float, words: str) -> None:
    judged = judged_at(plain(), LUMME, utc(13, 19))
    hidden = dataclasses.replace(judged.partner, missed=((rule, 2.5),), elevation_deg=(elevation_deg, 0.0))
    assert against_words(dataclasses.replace(judged, partner=hidden, against=(Against.MOON,))) == [words]


def test_what_gives_way_and_what_is_assumed() -> None:
    lines = proposal_lines(judged_at(plain(), LUMME, utc(13, 20, 45)))
    told = [line for line in lines if line.endswith("is planned and not offered yet: the next plan moves it.")]
    assert [line[:18] for line in told] == ["  QG8FEN A, Sat 13"]
    lines = proposal_lines(judged_at(plain(), "QT8NUI", utc(8, 20)))
    assert "  QT8NUI  Tue 9 Mar 09:00 to 10:00 (UTC+13): inside its hours, which are assumed" in lines
    assert any(line.endswith("; at the end 18.2° over 0.0°") and "which is assumed" in line for line in lines)
    assert "  It takes a night more: Mon 8 Mar; the agenda has 4 others." in lines
    assert "  QT8NUI A stands besides, proposed: Sat 6 Mar 16:15–17:15 your time; --instead A moves it here." in lines
