"""The scene asks the sky once for the Moon and once for the Sun, whatever number of pairs and ends look at them."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from pipeline.ephemeris.sky import Sky, make_sky
from pipeline.ephemeris.tracks import see_moon, see_sun
from pipeline.pairs.ends import make_pair
from pipeline.pairs.reception import hear
from pipeline.windows.samples import Steps
from pipeline.windows.scene import Scene, make_scene, make_standpoints
from pipeline.windows.span import span_of
from tests.plan.months import TODAY, demo_inputs


def _scene() -> Scene:
    inputs = demo_inputs()
    period = span_of(inputs, TODAY)
    sky = make_sky(*period.sky_edges)
    pair = np.repeat(np.arange(len(inputs.partners)), 5)
    time_s = 86_400.0 + 7200.0 * np.arange(pair.size, dtype=float)
    return make_scene(make_standpoints(sky, [inputs.home, *inputs.partners]), Steps(time_s, pair, pair))


def test_the_sky_is_asked_once(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: Counter[str] = Counter()

    def counted(name: str) -> None:
        real = getattr(Sky, name)
        monkeypatch.setattr(Sky, name, lambda self, time_s: asked.update([name]) or real(self, time_s))

    for name in ("moon_seen_km", "sun_seen_km", "equator_at", "spin"):
        counted(name)
    inputs, scene = demo_inputs(), _scene()
    for index, band in enumerate(inputs.bands):
        pair = make_pair(inputs, index + 1, band, scene.take(np.flatnonzero(scene.steps.pair == index)))
        for end in (pair.home, pair.partner):
            hear(end, pair.elongation_deg, pair.solar_activity)
    assert set(asked.values()) == {1}


def test_it_sees_what_one_station_alone_sees() -> None:
    scene = _scene()
    sites = scene.standpoints.sites.take(scene.steps.pair + 1)
    for seen, alone in ((scene.partner.moon, see_moon), (scene.partner.sun, see_sun)):
        expected = alone(scene.sky, sites, scene.steps.time_s)
        assert np.array_equal(seen.azimuth_deg, expected.azimuth_deg)
        assert np.array_equal(seen.elevation_deg, expected.elevation_deg)
