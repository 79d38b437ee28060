"""The 408 MHz sky against readings of the survey, a brute-force average over the beam, and published scalings."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.radio_sky import sky_brightness as sky

ROW_DECLINATION_DEG = np.arange(-89.0, 90.0, 2.0)
COLUMN_RIGHT_ASCENSION_DEG = np.arange(1.0, 360.0, 2.0)

# Single pixels of the survey (Haslam and others 1982) along the ecliptic, read apart with astropy, longitude: K. They
# were read without precession, hence the wide bars; near the Galactic centre a pixel says nothing about a cell.
ECLIPTIC_K = {
    0: 17.5, 30: 26, 60: 29, 90: 37, 105: 29, 120: 21, 150: 15.0, 180: 17, 210: 23, 225: 33, 240: 31, 300: 26, 330: 24,
}  # fmt: skip


@pytest.mark.parametrize(("longitude_deg", "expected_k"), ECLIPTIC_K.items())
def test_along_the_ecliptic(longitude_deg: float, expected_k: float) -> None:
    place = sky.ecliptic_to_icrs_deg(longitude_deg, 0.0)
    assert sky.beam_sky(1.0).at(*place) == pytest.approx(expected_k, rel=0.13)


def test_landmarks() -> None:
    """Survey pixels at the galactic poles (21.1 and 20.2 K) and the celestial poles (24.9 and 24.0 K)."""
    assert sky.beam_sky(1.0).at(192.86, 27.13) == pytest.approx(21.1, rel=0.1)
    assert sky.beam_sky(1.0).at(12.86, -27.13) == pytest.approx(20.2, rel=0.1)
    assert sky.beam_sky(4.0).at(0.0, 90.0) == pytest.approx(24.9, rel=0.1)
    assert sky.beam_sky(4.0).at(0.0, -90.0) == pytest.approx(24.0, rel=0.1)


def test_galactic_centre_and_plane_are_where_astronomy_puts_them() -> None:
    """Galactic centre 17h45m37s -28d56' (IAU): precession left out would put it 0.7 degree off, a swapped axis far."""
    rows = np.abs(ROW_DECLINATION_DEG + 28.9) < 6
    columns = np.abs(COLUMN_RIGHT_ASCENSION_DEG - 266.4) < 6
    patch = sky.survey_408_k()[np.ix_(rows, columns)]
    row, column = np.unravel_index(patch.argmax(), patch.shape)
    assert patch.max() > 700
    assert ROW_DECLINATION_DEG[rows][row] == pytest.approx(-28.9, abs=1.5)
    assert COLUMN_RIGHT_ASCENSION_DEG[columns][column] == pytest.approx(266.4, abs=1.5)


def test_beam_of_fifteen_degrees_along_the_ecliptic() -> None:
    """The survey averaged apart with astropy: 15.4 K near longitude 140, 192 K near 270 (no precession: 5 %)."""
    longitude_deg = np.arange(0.0, 360.0, 5.0)
    averaged_k = sky.beam_sky(15.0).at(*sky.ecliptic_to_icrs_deg(longitude_deg, 0.0))
    assert averaged_k.min() == pytest.approx(15.4, rel=0.05)
    assert longitude_deg[averaged_k.argmin()] == pytest.approx(140, abs=10)
    assert averaged_k.max() == pytest.approx(192, rel=0.05)
    assert longitude_deg[averaged_k.argmax()] == 270


@pytest.mark.parametrize(
    ("beamwidth_deg", "right_ascension_deg", "declination_deg"),
    [(5.4, 269.0, -23.0), (15.0, 269.0, -27.0), (15.0, 85.0, 25.0), (28.0, 1.0, 3.0), (15.0, 201.0, 87.0)],
)
def test_average_by_brute_force(beamwidth_deg: float, right_ascension_deg: float, declination_deg: float) -> None:
    """A Gaussian over all cells of the table, by dot products of unit vectors, less what the cells smooth already."""
    ra, dec = np.radians(COLUMN_RIGHT_ASCENSION_DEG)[None, :], np.radians(ROW_DECLINATION_DEG)[:, None]
    ra0, dec0 = np.radians(right_ascension_deg), np.radians(declination_deg)
    cosine = np.sin(dec) * np.sin(dec0) + np.cos(dec) * np.cos(dec0) * np.cos(ra - ra0)
    angle_deg = np.degrees(np.arccos(np.clip(cosine, -1, 1)))
    variance_deg2 = (beamwidth_deg**2 - 0.85**2) / (8 * np.log(2)) - 4 / 12
    weight = np.exp(-(angle_deg**2) / (2 * variance_deg2)) * np.cos(dec)
    expected_k = (weight * sky.survey_408_k()).sum() / weight.sum()
    assert sky.beam_sky(beamwidth_deg).at(right_ascension_deg, declination_deg) == pytest.approx(expected_k, rel=2e-3)


@pytest.mark.parametrize("beamwidth_deg", [0.5, 5.0, 25.0])
def test_smoothing_keeps_the_integral(beamwidth_deg: float) -> None:
    area = np.cos(np.radians(ROW_DECLINATION_DEG))[:, None] * np.ones(180)
    smoothed_k = sky.beam_sky(beamwidth_deg).temperature_408_k
    assert np.average(smoothed_k, weights=area) == pytest.approx(np.average(sky.survey_408_k(), weights=area), rel=1e-4)
    # The survey itself, averaged over the sphere by area: 34.73 K.
    assert np.average(smoothed_k, weights=area) == pytest.approx(34.73, abs=0.03)


@pytest.mark.parametrize(
    ("temperature_408_k", "frequency_mhz", "expected_k"),
    [(20, 144, 248.6), (50, 144, 675.7), (300, 144, 4234), (20, 432, 17.66), (50, 432, 43.59), (300, 432, 259.7)],
)
def test_scaling_below_1_ghz(temperature_408_k: float, frequency_mhz: float, expected_k: float) -> None:
    """Index 2.55 about the cosmic background, worked by hand; Guzman 2011 (A&A 525, A138) gives 2.1 to 2.7."""
    assert sky.scale_to_band_k(temperature_408_k, frequency_mhz) == pytest.approx(expected_k, rel=1e-3)


def test_scaling_above_1_ghz() -> None:
    """Index 2.695 +- 0.120 from 408 to 2326 MHz (Platania 2003); at 10 GHz only the background is left."""
    galaxy_k = sky.scale_to_band_k(50.0, 2326.0) - 2.725
    assert -np.log(galaxy_k / (50 - 2.725)) / np.log(2326 / 408) == pytest.approx(2.695, abs=0.12)
    assert sky.scale_to_band_k(20.0, 10368.0) == pytest.approx(2.73, abs=0.005)


def test_coldest_sky_near_the_ecliptic() -> None:
    """Readings of the survey with a beam of 15 degrees scaled by hand: 183 K at 144 MHz, 13.7 K at 432 on the ecliptic.

    The Moon's latitude lets it come a little closer to the cold pole of the winter sky.
    """
    assert sky.coldest_sky_k(15.0, 144.0) == pytest.approx(183, rel=0.06)
    assert sky.coldest_sky_k(15.0, 432.0) == pytest.approx(13.7, rel=0.06)
    assert sky.coldest_sky_k(5.4, 1296.0) == pytest.approx(3.3, abs=0.2)
    longitude_deg = np.arange(0.0, 360.0, 3.0)
    along_k = sky.sky_temperature_k(*sky.ecliptic_to_icrs_deg(longitude_deg, 3.0), 15.0, 144.0)
    assert sky.coldest_sky_k(15.0, 144.0) <= along_k.min()


def test_wrap_and_shapes() -> None:
    beam = sky.beam_sky(15.0)
    assert beam.at(-0.5, 10.0) == pytest.approx(float(beam.at(359.5, 10.0)))
    assert beam.at(360.0, 10.0) == pytest.approx(float(beam.at(0.0, 10.0)))
    assert beam.at(np.zeros((3, 1)), np.zeros(4)).shape == (3, 4)


def test_ecliptic_against_astropy() -> None:
    coordinates = pytest.importorskip("astropy.coordinates")
    from astropy import units

    longitude, latitude = np.array([0.0, 75.0, 190.0, 300.0]), np.array([5.0, -3.0, 0.0, 4.0])
    place = coordinates.SkyCoord(
        longitude * units.deg, latitude * units.deg, frame="barycentricmeanecliptic"
    ).transform_to("icrs")
    ra, dec = sky.ecliptic_to_icrs_deg(longitude, latitude)
    np.testing.assert_allclose(ra, place.ra.deg, atol=1e-3)
    np.testing.assert_allclose(dec, place.dec.deg, atol=1e-3)


def test_mean_of_the_whole_sky() -> None:
    """The survey's mean is 34.7 K at 408 MHz (integrated apart from this code), 4.1 K at 1.3 GHz by its index."""
    assert sky.mean_sky_k(408.0) == pytest.approx(34.7, abs=0.1)
    assert sky.mean_sky_k(1296.0) == pytest.approx(2.725 + (34.7 - 2.725) * (1296 / 408) ** -2.70, abs=0.02)


@settings(max_examples=30, deadline=None)
@given(st.floats(0, 360), st.floats(-89, 89), st.floats(0.01, 170), st.floats(0, 360))
def test_places_beside_a_direction_against_astropy(ra_deg: float, dec_deg: float, off_deg: float, angle: float) -> None:
    """`SkyCoord.directional_offset_by`: position angle north through east, on the sphere."""
    coordinates = pytest.importorskip("astropy.coordinates")
    from astropy import units

    start = coordinates.SkyCoord(ra_deg, dec_deg, unit="deg")
    there = start.directional_offset_by(angle * units.deg, off_deg * units.deg)
    found = coordinates.SkyCoord(*sky.offset_icrs_deg(ra_deg, dec_deg, off_deg, angle), unit="deg")
    assert found.separation(there).deg < 1e-6
