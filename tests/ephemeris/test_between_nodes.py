"""The sky between its nodes against Skyfield at the very instants, and the Earth's rotation as astropy reads it."""

from __future__ import annotations

from pathlib import Path

import astropy_iers_data
import numpy as np
import pytest
from astropy.utils import iers

from pipeline.ephemeris.sky import hermite_motion
from pipeline.ephemeris.timescale import earth_rotation_table, load_clock, load_kernel
from tests.conftest import Outside
from tests.windows.skies import sky_between, utc

ARCSECONDS = 206_265.0
turn_arcseconds, moon_m, moon_mm_per_s, sun_km = 0.0003, 0.015, 0.02, 0.5


def test_between_nodes(outside: Outside) -> None:
    """Two thousand instants of half a year: equator, spin, Moon and Sun."""
    start = utc(2027, 2, 3, 5)
    sky = sky_between(start, utc(2027, 8, 1))
    time_s = np.sort(np.random.default_rng(1).uniform(0.0, sky.duration_s, 2000))
    clock, (kernel, _) = load_clock().timescale, load_kernel()
    time = clock.utc(start.year, start.month, start.day, start.hour, 0, time_s)
    equator = np.abs(sky.equator_at(time_s) - np.moveaxis(time.M, -1, 0)).max() * ARCSECONDS
    spin = np.abs((sky.spin(time_s) - time.gast * np.pi / 12.0 + np.pi) % (2 * np.pi) - np.pi).max() * ARCSECONDS
    assert max(equator, spin) < turn_arcseconds
    moon = (kernel["moon"] - kernel["earth"]).at(time)
    place, rate, _ = hermite_motion(sky.moon_km, sky.moon_km_per_s, time_s)
    assert np.abs(place - moon.position.km.T).max() * 1e3 < moon_m
    assert np.abs(rate - moon.velocity.km_per_s.T).max() * 1e6 < moon_mm_per_s
    pair = kernel["sun"] - kernel["earth"]
    seen = pair.at(time)
    for _ in range(2):
        delay = np.linalg.norm(seen.position.km, axis=0) / 299_792.458 / 86_400.0
        seen = pair.at(clock.tdb_jd(time.whole, time.tdb_fraction - delay))
    assert np.abs(sky.sun_seen_km(time_s) - seen.position.km.T).max() < sun_km
    outside("Skyfield at the instants", time_s.size, f"{max(equator, spin):.2g} arcsecond", "turns between nodes")


def test_the_table_of_the_earths_rotation_is_as_astropy_reads_it() -> None:
    ours = earth_rotation_table(Path(astropy_iers_data.IERS_A_FILE).read_bytes())
    theirs = iers.IERS_A.read(iers.IERS_A_FILE)
    count = ours["utc_mjd"].size
    for name, column in (
        ("utc_mjd", "MJD"),
        ("dut1", "UT1_UTC_A"),
        ("x_arcseconds", "PM_x_A"),
        ("y_arcseconds", "PM_y_A"),
    ):
        assert (ours[name] == np.asarray(theirs[column].value if column != "MJD" else theirs[column])[:count]).all()


@pytest.mark.parametrize("spoil", [(b".", b"7"), (b"0.", b"x.")])
def test_another_shape_is_refused(spoil: tuple[bytes, bytes]) -> None:
    """A figure without its point, a letter in a figure: then the clock falls back and says so."""
    raw = Path(astropy_iers_data.IERS_A_FILE).read_bytes()
    line = raw[: raw.index(b"\n") + 1]
    with pytest.raises(ValueError, match="figure"):
        earth_rotation_table(line * 3 + line[:50] + line[50:].replace(*spoil))
