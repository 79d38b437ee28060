"""The highest that the lower end has the Moon in each window, against a look every second."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from pipeline.ephemeris.tracks import see_moon
from pipeline.pairs.survey import make_survey
from pipeline.windows.scene import sites_of
from pipeline.windows.span import span_of
from tests.plan.months import TODAY, demo_inputs, with_policy


@pytest.mark.parametrize(("step_minutes", "bar_deg"), [(5, 0.005), (15, 0.05)])
def test_no_sample_has_to_stand_at_the_top(step_minutes: int, bar_deg: float) -> None:
    """At a quarter of an hour's step the greatest sample was up to 0.6 degree low; the kink of both arcs counts."""
    inputs = with_policy(demo_inputs(), step_minutes=step_minutes)
    survey = make_survey(inputs, span_of(inputs, TODAY), lambda _: None)
    sites = sites_of(survey.sky, (inputs.home, *inputs.partners))
    off = []
    for row in survey.windows.iloc[::7].itertuples():
        start, end = (survey.sky.seconds(pd.Timestamp(at)) for at in (row.window_start_utc, row.window_end_utc))
        time = np.append(np.arange(start, end, 1.0), end)
        partner = 1 + [one.call for one in inputs.partners].index(str(row.partner))
        lower = np.minimum(
            *(see_moon(survey.sky, sites.take(np.full(time.size, index)), time).elevation_deg for index in (0, partner))
        )
        off.append(row.maximum_lower_elevation_deg - lower.max())
    assert len(off) > 25
    assert np.abs(off).max() < bar_deg
