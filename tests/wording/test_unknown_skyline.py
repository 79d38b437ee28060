"""An unknown skyline in words: check, plan, calendar and letter say the same of it."""

from __future__ import annotations

import dataclasses

from pipeline.explain.station_check import check_stations
from pipeline.inputs.lengths import AssumedSkyline
from pipeline.letters.station_words import station_section
from pipeline.reports.method_view import method_view
from pipeline.reports.plain import station_check_text
from pipeline.wording.assumed import skylines_assumed_words
from tests.agenda.slot_grids import march


def test_an_unknown_skyline_is_told_alike_everywhere() -> None:
    """By check, by the calendar's method and by the letter, each with the policy's own height."""
    plan = march()
    policy = dataclasses.replace(plan.inputs.season.policy, assumed_skyline=AssumedSkyline(3.0, 12.0))
    season = dataclasses.replace(plan.inputs.season, policy=policy)
    inputs = dataclasses.replace(plan.inputs, season=season)
    (check,) = check_stations(inputs, 3, "QT8NUI")
    words = "skyline unknown, taken to lie below 12 degrees in nine of ten"
    assert words in " ".join(station_check_text(check).split())
    assert any(words in one.words for one in method_view(dataclasses.replace(plan, inputs=inputs)).assumed)
    assert "unknown for QT8NUI: taken to lie below 12 degrees in nine of ten" in skylines_assumed_words(
        ["QT8NUI"], 12.0
    )
    view = dataclasses.replace(plan.for_partner("QT8NUI"), policy=policy)
    assert any("a horizon below 12° in nine of ten places" in line for line in station_section(view).points)
    station = dataclasses.replace(view.station, minimum_elevation_deg=5.0)
    low = station_section(dataclasses.replace(view, station=station))
    assert any("in nine of ten places, the Moon worked from 5° up" in line for line in low.points)
