"""Radio refraction against values worked by hand from Recommendation ITU-R P.834, equation 14, and its equation 9.

The published transcription (Orekit, EarthITU453AtmosphereRefraction, P.834-7) has the same coefficients at sea level.
"""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.ephemeris.refraction import geometric_deg, refraction_deg
from tests.claims import asserted
from tests.conftest import Outside

rounding_deg = asserted("refraction")

SEA_LEVEL = {
    0: 0.5787, 0.5: 0.4980, 1: 0.4336, 2: 0.3379, 3: 0.2713, 5: 0.1864, 10: 0.0921, 20: 0.0364, 30: 0.0194, 45: 0.0099,
}  # fmt: skip
ONE_KILOMETRE_UP = {0: 0.5190, 1: 0.3861, 5: 0.1597, 10: 0.0760}


def test_worked_values(outside: Outside) -> None:
    worst = 0.0
    for height_m, table in ((0.0, SEA_LEVEL), (1000.0, ONE_KILOMETRE_UP)):
        ours = refraction_deg(np.array(list(table), dtype=float), height_m)
        worst = max(worst, float(np.abs(ours - list(table.values())).max()))
    assert worst < rounding_deg
    outside("ITU-R P.834", len(SEA_LEVEL) + len(ONE_KILOMETRE_UP), f"{worst:.2g} degree", "refractions")


def test_agrees_with_the_fit_from_the_apparent_elevation() -> None:
    """P.834 eq. 9 gives the bending from the apparent elevation: from 1 degree both describe one ray to 0.01 degree."""
    geometric = np.array([1.0, 2.0, 3.0, 5.0, 10.0])
    apparent = geometric + refraction_deg(geometric, 0.0)
    from_apparent = 1.0 / (1.314 + 0.6437 * apparent + 0.02869 * apparent**2)
    np.testing.assert_allclose(apparent - from_apparent, geometric, atol=0.01)


def test_held_below_the_fit_and_below_the_sea() -> None:
    np.testing.assert_array_equal(refraction_deg([-1.0, -5.0, -90.0], 0.0), np.repeat(refraction_deg(-1.0, 0.0), 3))
    assert refraction_deg(3.0, -400.0) == refraction_deg(3.0, 0.0)


def test_apparent_elevation_never_folds() -> None:
    """A higher Moon appears higher, at every height: without that a window could open twice."""
    geometric = np.linspace(-5.0, 90.0, 9501)
    for height_m in (0.0, 500.0, 2850.0, 6500.0):
        assert (np.diff(geometric + refraction_deg(geometric, height_m)) > 0.0).all()


def test_there_and_back() -> None:
    """From the geometric elevation to the apparent one and back, below the fit and at height too."""
    geometric = np.linspace(-3.0, 90.0, 400)
    for height_m in (-100.0, 0.0, 4000.0):
        there = geometric + refraction_deg(geometric, height_m)
        assert geometric_deg(there, height_m) == pytest.approx(geometric, abs=1e-12)
