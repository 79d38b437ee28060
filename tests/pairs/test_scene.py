"""The scene asks the sky once for the Moon and once for the Sun, whatever number of pairs and ends look at them."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from pipeline.ephemeris.sky import Sky, make_sky
from pipeline.ephemeris.tracks import see_moon, see_sun
from pipeline.pairs.budget import CHANCE_COLUMNS, doppler_of, link_columns, pair_modes, work_out_pair
from pipeline.pairs.ends import make_pair
from pipeline.pairs.reception import hear
from pipeline.windows.samples import Steps
from pipeline.windows.scene import Scene, make_scene, make_standpoints
from pipeline.windows.span import span_of
from tests.plan.months import TODAY, demo_inputs


def _scene(together: bool = False) -> Scene:
    """Five instants of each pair, the same ones or one after the other."""
    inputs = demo_inputs()
    sky = make_sky(*span_of(inputs, TODAY).sky_edges)
    pair = np.repeat(np.arange(len(inputs.partners)), 5)
    time_s = 86_400.0 + 7200.0 * (np.arange(pair.size, dtype=float) % (5 if together else pair.size))
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


def test_what_pairs_share_is_what_each_has_alone() -> None:
    """Home is looked at once an instant for all pairs; a narrower question has the same answers."""
    inputs, scene = demo_inputs(), _scene(together=True)
    modes = pair_modes(inputs)
    every = link_columns(inputs, scene, modes)
    narrow = link_columns(inputs, scene, modes, shifts=False, figures=False)
    assert tuple(narrow) == CHANCE_COLUMNS
    for index, (band, mode) in enumerate(zip(inputs.bands, modes, strict=True)):
        rows = np.flatnonzero(scene.steps.pair == index)
        pair = make_pair(inputs, index + 1, band, scene.take(rows))
        alone = work_out_pair(pair, mode, doppler_of(scene.sky, pair)).columns
        for name, column in alone.items():
            if column.dtype.kind == "f":
                assert every[name][rows] == pytest.approx(column, rel=1e-12, abs=1e-9, nan_ok=True), name
            else:
                assert np.array_equal(every[name][rows], column), name
    for name, column in narrow.items():
        assert column == pytest.approx(every[name], rel=1e-12, nan_ok=True), name
