"""Polarization against Meeus's formula, astropy's position angles and plain arithmetic."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from pipeline.link import polarization as pol

hundredth_db = 0.01


@pytest.mark.parametrize(
    ("hour_angle_deg", "declination_deg", "latitude_deg", "expected_deg"),
    [
        (30, 20, 48, 33.7807),
        (-45, -10, 40, -36.6860),
        (60, 28, 52, 44.0450),
        (90, 0, 50, 40.0),
        (0, 10, 50, 0.0),
    ],
)
def test_parallactic_angle_of_meeus(
    hour_angle_deg: float, declination_deg: float, latitude_deg: float, expected_deg: float
) -> None:
    """Astronomical Algorithms 14.1; values by PyMeeus."""
    h, d, p = np.radians([hour_angle_deg, declination_deg, latitude_deg])
    elevation = np.arcsin(np.sin(p) * np.sin(d) + np.cos(p) * np.cos(d) * np.cos(h))
    azimuth = np.arctan2(-np.cos(d) * np.sin(h), np.sin(d) * np.cos(p) - np.cos(d) * np.sin(p) * np.cos(h))
    computed_deg = pol.parallactic_angle_deg(np.degrees(azimuth), np.degrees(elevation), latitude_deg)
    assert computed_deg == pytest.approx(expected_deg, abs=1e-4)


def test_against_pymeeus() -> None:
    angle = pytest.importorskip("pymeeus.Angle").Angle
    parallactic_angle = pytest.importorskip("pymeeus.Coordinates").parallactic_angle
    for hour_angle_deg, declination_deg, latitude_deg in (
        (-50.0, 25.0, 42.0),
        (70.0, -15.0, 48.1),
        (30.0, -20.0, -35.0),
    ):
        h, d, p = np.radians([hour_angle_deg, declination_deg, latitude_deg])
        elevation = np.arcsin(np.sin(p) * np.sin(d) + np.cos(p) * np.cos(d) * np.cos(h))
        azimuth = np.arctan2(-np.cos(d) * np.sin(h), np.sin(d) * np.cos(p) - np.cos(d) * np.sin(p) * np.cos(h))
        expected = parallactic_angle(angle(hour_angle_deg), angle(declination_deg), angle(latitude_deg))
        computed_deg = pol.parallactic_angle_deg(np.degrees(azimuth), np.degrees(elevation), latitude_deg)
        assert computed_deg == pytest.approx(float(expected), abs=1e-6)


def test_against_position_angles_of_astropy() -> None:
    """The angle at the Moon between the great circles to the pole and to the zenith, by astropy's geometry."""
    functions = pytest.importorskip("astropy.coordinates")
    from astropy import units as u

    for azimuth_deg, elevation_deg, latitude_deg in ((153.9, 60.9, 48.15), (69.0, 7.9, 41.7), (300.0, 20.0, -33.0)):
        moon = functions.SkyCoord(azimuth_deg * u.deg, elevation_deg * u.deg)
        pole = functions.SkyCoord(0 * u.deg, latitude_deg * u.deg)
        zenith = functions.SkyCoord(0 * u.deg, 90 * u.deg)
        # Azimuth runs clockwise as seen from inside, right ascension the other way, so the sign turns.
        angle_deg = (moon.position_angle(pole) - moon.position_angle(zenith)).deg
        difference_deg = pol.parallactic_angle_deg(azimuth_deg, elevation_deg, latitude_deg) - angle_deg
        assert (difference_deg + 180) % 360 - 180 == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(
    ("home", "partner", "offset_deg", "loss_db"),
    [
        ((153.910, 60.8835, 48.14583, 11.625), (69.0285, 7.8906, 41.7292, -72.7083), -30.12, 1.26),
        ((194.080, 68.9380, 48.14583, 11.625), (74.855, 25.1911, 41.7292, -72.7083), -65.19, 7.54),
        ((242.239, 57.616, 48.14583, 11.625), (90.724, 44.860, 41.7292, -72.7083), 80.42, 15.0),
    ],
)
def test_moon_between_two_continents(
    home: tuple[float, ...], partner: tuple[float, ...], offset_deg: float, loss_db: float
) -> None:
    """Skyfield's topocentric Moon on 2026-01-05 00h, 06-15 12h and 10-02 06h UTC; the third meets the cap at 10 GHz."""
    offset = pol.polarization_offset_deg(pol.Look(*home), pol.Look(*partner))
    assert offset == pytest.approx(offset_deg, abs=0.05)
    loss = pol.polarization_loss(offset, "horizontal", "horizontal", 10368)
    assert loss.standing_db == pytest.approx(loss_db, abs=0.05)


def _turned_least(vector: np.ndarray, start: np.ndarray, end: np.ndarray) -> np.ndarray:
    """A vector turned by the least rotation from one unit vector to another (Rodrigues)."""
    axis = np.cross(start, end)
    cosine = float(start @ end)
    return vector * cosine + np.cross(axis, vector) + axis * (axis @ vector) / (1.0 + cosine)


@given(st.lists(st.floats(0.02, 0.98), min_size=8, max_size=8))
def test_mirrored_plane_is_the_least_turn_of_the_upright(unit: list[float]) -> None:
    """An independent derivation: turn home's upright by the least rotation from one ray to the other."""
    place = [(180 * unit[i] - 90, 360 * unit[i + 1], 360 * unit[i + 2], 90 * unit[i + 3]) for i in (0, 4)]
    rays, uprights = [], []
    for latitude_deg, longitude_deg, azimuth_deg, elevation_deg in place:
        to_earth = Rotation.from_euler("ZY", [longitude_deg, 90.0 - latitude_deg], degrees=True)
        # In south, east, up: the axes that the two turns carry from the pole's.
        azimuth, elevation = np.radians(azimuth_deg), np.radians(elevation_deg)
        south, east = -np.cos(azimuth) * np.cos(elevation), np.sin(azimuth) * np.cos(elevation)
        ray = to_earth.apply([south, east, np.sin(elevation)])
        zenith = to_earth.apply([0.0, 0.0, 1.0])
        upright = zenith - (zenith @ ray) * ray
        rays.append(ray)
        uprights.append(upright / np.linalg.norm(upright))
    assume(rays[0] @ rays[1] > -0.9)
    carried = _turned_least(uprights[0], rays[0], rays[1])
    expected = np.degrees(np.arctan2(np.cross(carried, uprights[1]) @ -rays[1], carried @ uprights[1]))
    looks = [pol.Look(one[2], one[3], one[0], one[1]) for one in place]
    found = pol.polarization_offset_deg(*looks)
    assert np.sin(np.radians(2 * (found - expected))) == pytest.approx(0.0, abs=1e-6)
    assert np.sin(np.radians(found + pol.polarization_offset_deg(*looks[::-1]))) == pytest.approx(0.0, abs=1e-6)


def test_linear_loss() -> None:
    """-20 log |cos theta|: 0, 0.133, 1.249, 3.010, 6.021 dB; capped at 15 dB from 5 GHz and at 20 dB below."""
    np.testing.assert_allclose(
        pol.linear_loss_db([0, 10, 30, 45, 60, -60], 10368), [0, 0.133, 1.249, 3.010, 6.021, 6.021], atol=hundredth_db
    )
    np.testing.assert_allclose(pol.linear_loss_db([80, 90], 2304), [15.21, 20.0], atol=hundredth_db)
    np.testing.assert_allclose(pol.linear_loss_db([80, 90], 10368), 15.0, atol=hundredth_db)


@given(st.floats(-720, 720))
def test_folding(angle_deg: float) -> None:
    folded = pol.fold_deg(angle_deg)
    assert -90 < folded <= 90
    assert np.sin(np.radians(2 * folded)) == pytest.approx(np.sin(np.radians(2 * angle_deg)), abs=1e-9)


def test_feeds() -> None:
    """Linear to circular costs 3 dB; circular ends are set for the swap of sense at the reflection."""
    offset = np.array([0.0, 60.0, 90.0])
    assert np.all(pol.polarization_loss(offset, "circular", "circular", 1296).standing_db == 0)
    half = pol.polarization_loss(offset, "circular", "horizontal", 5760)
    np.testing.assert_allclose(half.standing_db, 3.0103, atol=1e-4)
    assert not half.linear
    crossed = pol.polarization_loss(offset, "vertical", "horizontal", 10368)
    np.testing.assert_allclose(crossed.standing_db, [15.0, 1.249, 0.0], atol=1e-3)
    np.testing.assert_array_equal(crossed.turned_db, crossed.standing_db)
    same = pol.polarization_loss(offset, "vertical", "vertical", 10368)
    np.testing.assert_allclose(same.standing_db, [0.0, 6.021, 15.0], atol=1e-3)


def test_advice() -> None:
    """Turning by 90 degrees helps beyond 45 degrees of offset, if one end can."""
    far = pol.polarization_loss(np.array([70.0, 60.0, 40.0]), "rotatable", "horizontal", 10368)
    assert far.who_can_turn == "home"
    assert far.turned_is_better().tolist() == [True, True, False]
    np.testing.assert_allclose(far.turned_db, -20 * np.log10(np.sin(np.radians([70.0, 60.0, 40.0]))), atol=1e-9)
    np.testing.assert_array_equal(far.for_signal_db(turned=True), far.turned_db)
    assert not pol.polarization_loss(np.array([20.0, 30.0]), "rotatable", "rotatable", 10368).turned_is_better().any()
    assert not pol.polarization_loss(np.array([80.0]), "horizontal", "horizontal", 10368).turned_is_better().any()
    assert pol.who_can_turn("rotatable", "rotatable") == "either"
    assert pol.who_can_turn("vertical", "rotatable") == "partner"


def test_faraday_rotation_decides_at_long_waves() -> None:
    loss = pol.polarization_loss(np.array([0.0, 90.0]), "rotatable", "horizontal", 432)
    np.testing.assert_allclose(loss.for_signal_db(), 3.0103, atol=1e-4)
    np.testing.assert_allclose(loss.standing_db, [0.0, 20.0], atol=1e-9)
    assert not loss.turned_is_better().any()
    assert not pol.polarization_loss(np.array([90.0]), "horizontal", "horizontal", 10368).faraday_decides


@pytest.mark.parametrize(
    ("frequency_mhz", "rotation_deg"), [(50, 2704), (144, 326.0), (432, 36.23), (1296, 4.025), (10368, 0.0629)]
)
def test_faraday_rotation(frequency_mhz: float, rotation_deg: float) -> None:
    """ITU-R P.531 worked by hand for one pass, 5e-5 T and 1e17 electrons a square metre."""
    assert pol.faraday_rotation_deg(frequency_mhz, passes=1) == pytest.approx(rotation_deg, rel=5e-3)


def test_faraday_constant() -> None:
    """2.36e4 in SI is e^3 / (8 pi^2 epsilon_0 m_e^2 c) (CODATA); at 1 GHz, 1e18 and 8e-5 T one way 108 degrees."""
    from scipy import constants as si

    constant = si.e**3 / (8 * np.pi**2 * si.epsilon_0 * si.m_e**2 * si.c)
    assert constant * 1e-18 == pytest.approx(2.36e-14, rel=3e-3)
    assert pol.faraday_rotation_deg(1000, 1e18, 8e-5, passes=1) == pytest.approx(108, abs=1)
