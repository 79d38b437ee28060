"""Antenna formulas against worked values, the recommendation's own numbers, and brute-force integrals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.link import antenna

hundredth_db = 0.01
arcseconds = 0.001  # degrees


@pytest.mark.parametrize(
    ("diameter_m", "efficiency", "frequency_mhz", "gain_dbi", "width_deg"),
    [
        (1.2, 0.55, 10368, 39.71, 1.687),
        (1.8, 0.55, 10368, 43.23, 1.124),
        (2.4, 0.55, 10368, 45.73, 0.843),
        (2.4, 0.60, 10368, 46.11, 0.843),
        (3.0, 0.55, 10368, 47.67, 0.675),
        (3.0, 0.70, 10368, 48.71, 0.675),
        (3.0, 0.55, 1296, 29.60, 5.397),
        (2.4, 0.55, 5760, 40.62, 1.518),
        (1.8, 0.55, 24048, 50.54, 0.485),
        (1.2, 0.55, 47088, 52.85, 0.371),
    ],
)
def test_dishes(diameter_m: float, efficiency: float, frequency_mhz: float, gain_dbi: float, width_deg: float) -> None:
    """Arithmetic of eta (pi D / lambda)^2 and 70 lambda / D, worked apart."""
    assert antenna.gain_dbi(diameter_m, efficiency, frequency_mhz) == pytest.approx(gain_dbi, abs=hundredth_db)
    assert antenna.beamwidth_deg(diameter_m, frequency_mhz) == pytest.approx(width_deg, abs=arcseconds)
    beam = antenna.dish_beam(diameter_m, efficiency, frequency_mhz)
    assert beam.diameter_in_wavelengths == pytest.approx(70 / width_deg, rel=1e-2)


def test_beamwidth_from_gain_alone() -> None:
    """Directivity 41253 / (E H) of Kraus (from memory), times the share that gain keeps of it."""
    assert antenna.beamwidth_from_gain_deg(16.63, 144) == pytest.approx(np.sqrt(0.785 * 28 * 32), rel=1e-3)
    assert antenna.beamwidth_from_gain_deg(16.63, 1296) == pytest.approx(np.sqrt(0.65 * 28 * 32), rel=1e-3)
    assert antenna.gain_beam(21.0, 144).array
    assert not antenna.gain_beam(40.0, 10368).array
    assert antenna.gain_beam(40.0, 10368, beamwidth_deg=1.5).beamwidth_deg == 1.5
    assert antenna.diameter_in_wavelengths(47.7) == pytest.approx(100.0)


def test_side_lobes_of_the_recommendation() -> None:
    """ITU-R F.1245 worked by hand, dBi: 29 - 25 log theta above D / lambda of 100, else 39 - 5 log(D / lambda) - ..."""
    np.testing.assert_allclose(
        antenna.average_side_lobes_dbi([1.0, 10.0, 20.0, 90.0], 103.8), [29.0, 4.0, -3.53, -10.0], atol=0.01
    )
    np.testing.assert_allclose(
        antenna.average_side_lobes_dbi([10.0, 90.0], 20.0), [39 - 6.505 - 25, -3 - 6.505], atol=0.01
    )
    # The first plateau: G1 = 2 + 15 log(D / lambda).
    assert antenna.average_side_lobes_dbi(0.0, 103.8) == pytest.approx(2 + 15 * np.log10(103.8))


def test_main_lobe_is_half_at_half_the_width() -> None:
    """ITU WRC Final Acts, resolution 553: -12 (phi / phi_0)^2."""
    beam = antenna.dish_beam(3.0, 0.55, 10368)
    shape = antenna.pattern_relative_db(
        [0.0, beam.beamwidth_deg / 2], beam.gain_dbi, beam.beamwidth_deg, beam.diameter_in_wavelengths
    )
    np.testing.assert_allclose(shape, [0.0, -3.0], atol=1e-12)
    assert antenna.pattern_ratio(beam.beamwidth_deg / 2, beam) == pytest.approx(10**-0.3)


def test_arrays_have_a_shelf_then_a_floor() -> None:
    shape = antenna.pattern_relative_db([30.0, 90.0], 16.0, 20.0, 3.0, array=True)
    np.testing.assert_allclose(shape, [-20.0, -26.0])


@given(
    theta_deg=st.floats(0, 180), diameter_m=st.floats(0.3, 30), frequency_mhz=st.sampled_from([432, 1296, 10368, 47088])
)
def test_no_pattern_exceeds_its_peak_or_falls_below_the_floor(
    theta_deg: float, diameter_m: float, frequency_mhz: float
) -> None:
    beam = antenna.dish_beam(diameter_m, 0.55, frequency_mhz)
    relative_db = antenna.pattern_relative_db(
        theta_deg, beam.gain_dbi, beam.beamwidth_deg, beam.diameter_in_wavelengths
    )
    assert min(-10.0, antenna.average_side_lobes_dbi(theta_deg, beam.diameter_in_wavelengths)) - 1e-9 <= (
        relative_db + beam.gain_dbi
    )
    assert relative_db <= max(0.0, 2 + 15 * np.log10(beam.diameter_in_wavelengths) - beam.gain_dbi)


def test_pointing_loss() -> None:
    """Worked by hand for a beam of 0.675 degree."""
    np.testing.assert_allclose(
        antenna.pointing_loss_db([0.05, 0.1, 0.2, 0.3375], 0.675), [0.066, 0.263, 1.053, 3.000], atol=6e-4
    )
    # Beyond the main lobe the first side lobes are left, 25 dB down (common practice, no source).
    assert antenna.pointing_loss_db([0.97, 0.98, 5.0], 0.675) == pytest.approx([24.78, 25.0, 25.0], abs=0.01)


def test_obstruction() -> None:
    """An edge through the middle of the beam takes half of the field: 6.02 dB; the rest by hand from a normal table."""
    np.testing.assert_allclose(antenna.obstruction_loss_db([0.0, 0.5, 2.0], 1.0), [6.0206, 1.106, 0.0], atol=2e-3)
    # ITU-R P.526, from memory: a knife edge 1 km off gives 40 dB at 5 degrees behind it; the wave is never gone.
    assert antenna.obstruction_loss_db(-30.0, 0.5) == 40.0
    assert antenna.obstruction_loss_db(-0.5, 1.0) == pytest.approx(18.45, abs=0.01)


@pytest.mark.parametrize(("width_deg", "share"), [(1.687, 0.063), (1.124, 0.137), (0.675, 0.335), (0.450, 0.601)])
def test_share_of_the_moon(width_deg: float, share: float) -> None:
    """Worked by hand at 10.368 GHz for dishes of 1.2, 1.8, 3.0 and 4.5 m."""
    assert antenna.disc_share(0.518, width_deg) == pytest.approx(share, abs=6e-4)


def test_share_of_a_disc_by_brute_force() -> None:
    radius = np.linspace(0, 4, 200_001)
    beam = np.exp(-4 * np.log(2) * radius**2) * radius
    assert antenna.disc_share(0.9, 1.0) == pytest.approx(beam[radius <= 0.45].sum() / beam.sum(), abs=1e-4)


def test_main_beam_share() -> None:
    """Solid angle 1.133 HPBW^2 (Gaussian beam, Kraus) times G / 4 pi."""
    beam = antenna.dish_beam(3.0, 0.55, 10368)
    by_hand = 1.133 * np.radians(0.675) ** 2 * 10**4.767 / (4 * np.pi)
    assert antenna.main_beam_share(beam.beamwidth_deg, beam.gain_dbi) == pytest.approx(by_hand, rel=1e-2)
    assert antenna.main_beam_share(2.0, 45.0, 0.05) == pytest.approx(0.95)


def test_narrow_beams_miss_part_of_the_moon() -> None:
    """Against a brute-force average of both beams over a Gaussian-lit disc's diameter."""
    assert antenna.narrow_beam_loss_db(0.5, 20.0, 20.0, 0.2) == pytest.approx(0.0, abs=1e-4)
    radius = (np.arange(200_000) + 0.5) / 200_000 * 0.25
    both = np.exp(-4 * np.log(2) * radius**2 * (1 / 0.3**2 + 1 / 0.6**2))
    mean = (both * radius).sum() / radius.sum()
    assert antenna.narrow_beam_loss_db(1.0, 0.3, 0.6, 0.5) == pytest.approx(-10 * np.log10(mean), abs=1e-4)
    assert antenna.narrow_beam_loss_db(0.0, 0.3, 0.6, 0.5) == 0.0
