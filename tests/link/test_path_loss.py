"""Path loss against the averages that handbooks of the field print, and plain arithmetic."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.link.path_loss import distance_part_db, path_loss_db

MEAN_DISTANCE_KM = 384_400.0
rounding = 0.06  # one decimal in the printed table; its 222 MHz row sits 0.06 off the rest

# Average path loss by band, ARRL Handbook / Antenna Book, moonbounce chapter (from memory).
HANDBOOK_DB = {
    50: 242.9, 144: 252.1, 222: 255.8, 432: 261.6, 902: 268.0, 1296: 271.2,
    2304: 276.2, 3456: 279.7, 5760: 284.1, 10368: 289.2, 24048: 296.5,
}  # fmt: skip


@pytest.mark.parametrize(("frequency_mhz", "expected_db"), HANDBOOK_DB.items())
def test_handbook_averages(frequency_mhz: int, expected_db: float) -> None:
    assert path_loss_db(MEAN_DISTANCE_KM, MEAN_DISTANCE_KM, frequency_mhz) == pytest.approx(expected_db, abs=rounding)


@pytest.mark.parametrize(
    ("frequency_mhz", "mean_db", "near_db", "far_db", "albedo_0_07_db"),
    [(144, 252.10, 250.79, 253.08, 251.78), (1296, 271.18, 269.88, 272.16, 270.86),
     (10368, 289.25, 287.94, 290.23, 288.92), (47088, 302.39, 301.08, 303.37, 302.07)],
)  # fmt: skip
def test_formula_by_hand(
    frequency_mhz: float, mean_db: float, near_db: float, far_db: float, albedo_0_07_db: float
) -> None:
    """Bistatic radar equation worked by hand: L = 20 log f_MHz + 20 log d1_km + 20 log d2_km - 14.4587 dB."""
    distances_km = np.array([MEAN_DISTANCE_KM, 356_500.0, 406_700.0])
    loss_db = path_loss_db(distances_km, distances_km, frequency_mhz)
    np.testing.assert_allclose(loss_db, [mean_db, near_db, far_db], atol=0.01)
    # Pettengill 1965 (DTIC AD0628197): mean 0.07 of the geometric disc.
    assert path_loss_db(MEAN_DISTANCE_KM, MEAN_DISTANCE_KM, frequency_mhz, 0.07) == pytest.approx(
        albedo_0_07_db, abs=0.01
    )


def test_constant_of_the_short_form() -> None:
    assert path_loss_db(1.0, 1.0, 1.0) == pytest.approx(-14.4587, abs=1e-4)


def test_distance_part_follows_the_published_extremes() -> None:
    """Meeus, Astronomical Algorithms: the Moon comes to 356,371 km and goes to 406,720 km."""
    assert distance_part_db(406_720.0, 406_720.0) == pytest.approx(40 * np.log10(406_720 / 356_400), abs=1e-9)
    assert distance_part_db(406_720.0, 406_720.0) == pytest.approx(2.295, abs=0.002)
    # Nearer than the reference costs nothing and earns nothing.
    np.testing.assert_array_equal(distance_part_db([356_371.0, 350_000.0], [356_371.0, 352_000.0]), [0.0, 0.0])


def test_distance_part_is_the_difference_of_losses() -> None:
    home_km, partner_km = np.array([370_000.0, 399_000.0]), np.array([372_000.0, 401_000.0])
    difference_db = path_loss_db(home_km, partner_km, 10368) - path_loss_db(356_400, 356_400, 10368)
    np.testing.assert_allclose(distance_part_db(home_km, partner_km), difference_db, atol=1e-9)
