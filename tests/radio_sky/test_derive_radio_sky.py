"""The derivation of the sky table on made-up surveys: places are precessed, brightness is kept."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("astropy")

from pipeline.data import derive_radio_sky as derive

RIGHT_ASCENSION_DEG = np.round(np.arange(-540, 541) / 3.0, 8)
DECLINATION_DEG = np.round(np.arange(-270, 271) / 3.0, 8)
CELL_RIGHT_ASCENSION_DEG = np.arange(1.0, 360.0, 2.0)
CELL_DECLINATION_DEG = np.arange(-89.0, 90.0, 2.0)


def test_a_source_moves_by_the_precession_and_keeps_its_flux() -> None:
    """Crab nebula: B1950 05h31m31s +21d59', J2000 05h34m32s +22d01' (SIMBAD, from memory)."""
    old_ra, old_dec, new_ra, new_dec = 82.88, 21.98, 83.63, 22.01
    ra, dec = np.meshgrid(RIGHT_ASCENSION_DEG, DECLINATION_DEG)
    distance_deg = np.hypot((ra - old_ra) * np.cos(np.radians(dec)), dec - old_dec)
    survey_k = 20.0 + 500.0 * np.exp(-((distance_deg / 2.0) ** 2))
    cells_k = derive.average_over_cells(RIGHT_ASCENSION_DEG, DECLINATION_DEG, survey_k)

    area = np.cos(np.radians(CELL_DECLINATION_DEG))[:, None]
    excess = (cells_k - 20.0) * area
    assert (excess * CELL_RIGHT_ASCENSION_DEG).sum() / excess.sum() == pytest.approx(new_ra, abs=0.03)
    assert (excess * CELL_DECLINATION_DEG[:, None]).sum() / excess.sum() == pytest.approx(new_dec, abs=0.03)
    # Solid angle of the spot: 500 K over pi 2^2 square degrees.
    assert excess.sum() * derive.CELL_DEG**2 == pytest.approx(500 * np.pi * 4, rel=0.01)
    # Far from it and at the poles nothing is made up.
    np.testing.assert_allclose(cells_k[[0, 20, 89]], 20.0, atol=1e-9)


def test_another_file_is_refused_in_one_sentence(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert derive.main([]) == 2
    assert derive.main([str(tmp_path / "missing.fits")]) == 2
    assert "cannot be read as the survey file" in capsys.readouterr().err
