"""Power density and safe distances against examples worked by hand after FCC OET Bulletin 65 and ICNIRP 2020."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.link.antenna import gain_dbi
from pipeline.link.exposure import (
    Radiator,
    distance_to_level_m,
    exposure_distances,
    power_density_w_m2,
    reference_level_w_m2,
)

half_percent = 5e-3


def dish(power_w: float, diameter_m: float, frequency_mhz: float, efficiency: float) -> Radiator:
    gain = float(gain_dbi(diameter_m, efficiency, frequency_mhz))
    return Radiator(power_w, gain, frequency_mhz, diameter_m, efficiency)


# OET 65 worked by hand: W, m, MHz, efficiency; near-field density, its end, start of the far field, 10 W/m2 at.
WORKED = [
    (50, 3.0, 10368, 0.55, 15.56, 77.8, 186.8, 121.0),
    (100, 2.4, 10368, 0.60, 53.1, 49.8, 119.5, 180.2),
    (50, 1.8, 10368, 0.55, 43.2, 28.0, 67.2, 91.5),
    (20, 1.2, 24048, 0.50, 35.4, 28.9, 69.3, 85.3),
    (500, 3.0, 1296, 0.55, 155.6, 9.73, 23.3, 60.3),
]


@pytest.mark.parametrize("row", WORKED)
def test_dishes(row: tuple[float, ...]) -> None:
    power_w, diameter_m, frequency_mhz, efficiency, near_w_m2, near_m, far_m, distance_m = row
    radiator = dish(power_w, diameter_m, frequency_mhz, efficiency)
    assert radiator.near_density_w_m2 == pytest.approx(near_w_m2, rel=half_percent)
    assert radiator.near_limit_m == pytest.approx(near_m, rel=half_percent)
    assert radiator.far_limit_m == pytest.approx(far_m, rel=half_percent)
    assert distance_to_level_m(radiator, 10.0) == pytest.approx(distance_m, rel=half_percent)
    assert power_density_w_m2(radiator, distance_m) == pytest.approx(10.0, rel=2 * half_percent)


@pytest.mark.parametrize("row", WORKED)
def test_density_never_rises(row: tuple[float, ...]) -> None:
    radiator = dish(*row[:4])
    density = power_density_w_m2(radiator, np.geomspace(0.1, 5 * radiator.far_limit_m, 4000))
    assert np.all(np.diff(density) <= 1e-12)
    # At the border the transition's 6.48 W/m2 meets the far field's 6.67 for 50 W and 3 m: 2.8 %, by hand.
    assert power_density_w_m2(radiator, radiator.far_limit_m) == pytest.approx(radiator.border_density_w_m2)


@pytest.mark.parametrize("level_w_m2", np.geomspace(0.5, 60, 25))
def test_distance_is_the_inverse_of_density(level_w_m2: float) -> None:
    radiator = dish(50, 3.0, 10368, 0.55)
    distance_m = distance_to_level_m(radiator, level_w_m2)
    if distance_m > 0:
        assert power_density_w_m2(radiator, distance_m * 1.0001) <= level_w_m2
        assert power_density_w_m2(radiator, distance_m * 0.97) >= level_w_m2 * 0.999
    else:
        assert power_density_w_m2(radiator, 0.0) <= level_w_m2


def test_array_of_rods() -> None:
    """144 MHz, 1 kW, 21 dBi, 2 W/m2: 70.8 m free, 113.2 m with likely and 141.6 m with worst ground, by hand."""
    radiator = Radiator(1000, 21.0, 144)
    assert distance_to_level_m(radiator, 2.0) == pytest.approx(70.8, rel=half_percent)
    assert distance_to_level_m(radiator, 2.0, reflection=2.56) == pytest.approx(113.2, rel=half_percent)
    assert distance_to_level_m(radiator, 2.0, reflection=4.0) == pytest.approx(141.6, rel=half_percent)


@pytest.mark.parametrize(
    ("frequency_mhz", "occupational", "public"),
    [(144, 10, 2), (432, 10.8, 2.16), (1296, 32.4, 6.48), (2304, 50, 10), (10368, 50, 10), (47088, 50, 10)],
)
def test_reference_levels(frequency_mhz: float, occupational: float, public: float) -> None:
    """ICNIRP 2020, whole body (from memory); FCC 47 CFR 1.1310 agrees from 1.5 GHz: 10 and 50 W/m2 (published)."""
    assert reference_level_w_m2(frequency_mhz, "occupational") == pytest.approx(occupational)
    assert reference_level_w_m2(frequency_mhz, "general public") == pytest.approx(public)


def test_levels_end_at_30_mhz() -> None:
    with pytest.raises(ValueError, match="30 MHz and above"):
        reference_level_w_m2(21.0, "occupational")


def test_half_the_duty_is_half_the_power() -> None:
    radiator = dish(100, 2.4, 10368, 0.60)
    distances = exposure_distances(radiator, duty=0.5)
    assert distances.general_public_peak_m == pytest.approx(180.2, rel=half_percent)
    assert distances.general_public_average_m == pytest.approx(distance_to_level_m(dish(50, 2.4, 10368, 0.60), 10.0))
    assert distances.occupational_peak_m < distances.general_public_average_m
