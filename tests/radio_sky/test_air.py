"""Loss of clear air against the line-by-line slant paths of the package itur, and against its own integrand."""

from __future__ import annotations

import numpy as np
import pytest

from pipeline.radio_sky import air

ELEVATIONS_DEG = [90.0, 45.0, 30.0, 20.0, 10.0, 5.0, 3.0, 1.0]
# itur 0.4.0: itur676.gaseous_attenuation_slant_path(f, el, 7.5, 1013.25 hPa, 288.15 K, mode="exact"), P.676-12, dB. It
# takes the total pressure for that of the dry air, and so reads up to 3 % more than the Recommendation near 60 GHz.
ITUR_DB = {
    1296: [0.033, 0.047, 0.067, 0.097, 0.188, 0.358, 0.545, 1.040],
    5760: [0.041, 0.058, 0.082, 0.119, 0.231, 0.440, 0.676, 1.323],
    10368: [0.053, 0.075, 0.106, 0.154, 0.300, 0.573, 0.885, 1.781],
    24048: [0.400, 0.565, 0.799, 1.166, 2.280, 4.425, 6.996, 15.28],
    47088: [0.892, 1.261, 1.781, 2.598, 5.058, 9.665, 14.91, 29.87],
}


@pytest.mark.parametrize(("frequency_mhz", "expected_db"), ITUR_DB.items())
def test_standard_atmosphere_at_sea_level(frequency_mhz: int, expected_db: list[float]) -> None:
    loss_db = air.air_loss_db(frequency_mhz, "standard", 0.0, ELEVATIONS_DEG)
    # Half a unit of the last printed digit, and 3 % for the pressure.
    np.testing.assert_allclose(loss_db, expected_db, rtol=0.03, atol=5e-4)


def test_zenith_emission() -> None:
    """A zenith loss of 0.053 dB radiates 3.3 K at 10.368 GHz (275 K mean, ITU-R P.618, from memory)."""
    loss_db = air.zenith_air_loss_db(10368, "standard", 0.0)
    assert 275 * (1 - 10 ** (-loss_db / 10)) == pytest.approx(3.3, abs=0.1)


def test_between_the_nodes_of_elevation() -> None:
    """A plane-parallel atmosphere loses as 1 / sin elevation; at 24 to 60 degrees the curved one does to 1 %."""
    elevation_deg = np.linspace(24, 60, 50)
    zenith_db = air.zenith_air_loss_db(10368, "standard", 0.0)
    np.testing.assert_allclose(
        air.air_loss_db(10368, "standard", 0.0, elevation_deg) * np.sin(np.radians(elevation_deg)), zenith_db, rtol=0.01
    )


def test_falls_with_elevation_and_height() -> None:
    elevation_deg = np.linspace(0, 90, 400)
    for atmosphere in air.ATMOSPHERES:
        loss_db = np.stack(
            [air.air_loss_db(10368, atmosphere, height_m, elevation_deg) for height_m in (0, 400, 1500, 5000)]
        )
        assert np.all(np.diff(loss_db, axis=1) < 0)
        assert np.all(np.diff(loss_db, axis=0) < 0)
    # Damp tropics lose most at 24 GHz, polar winter least: water decides there.
    zenith_db = {name: air.zenith_air_loss_db(24048, name, 0.0) for name in air.ATMOSPHERES}
    assert max(zenith_db, key=lambda name: zenith_db[name]) == "low"
    assert min(zenith_db, key=lambda name: zenith_db[name]) == "high winter"


def test_belts_and_seasons() -> None:
    """ITU-R P.835-6: low latitudes below 22 degrees, middle ones to 45 degrees, high ones beyond."""
    assert air.reference_atmosphere(10.0, 1) == "low"
    assert air.reference_atmosphere(35.0, 7) == "mid summer"
    assert air.reference_atmosphere(48.1, 1) == "high winter"
    assert air.reference_atmosphere(-33.0, 1) == "mid summer"
    assert air.reference_atmosphere(-50.0, 7) == "high winter"
    assert air.reference_atmosphere(48.1, 1, "standard") == "standard"


def test_below_the_horizon_and_unknown_names() -> None:
    assert air.air_loss_db(10368, "low", 0.0, -5.0) == air.air_loss_db(10368, "low", 0.0, 0.0)
    with pytest.raises(ValueError, match="one of standard, low"):
        air.air_loss_db(10368, "venus", 0.0, 10.0)


def test_derivation_repeats_itself() -> None:
    """A few entries of the table, computed anew from itur's specific attenuation (skipped where itur is absent)."""
    pytest.importorskip("itur")
    from pipeline.data import derive_air_loss as derive

    levels_km = np.concatenate([np.arange(0.0, 20.0, 0.25), np.arange(20.0, 101.0, 1.0)])
    frequencies_mhz, elevations_deg = np.array([10_000.0, 24_000.0]), np.array([1.0, 10.0, 90.0])
    table = air.air_table()
    columns = np.searchsorted(table.frequencies_mhz, frequencies_mhz)
    angles = np.searchsorted(table.elevations_deg, elevations_deg)
    for name in ("standard", "mid summer"):
        atmosphere = derive.reference_atmospheres()[name]
        rates = np.log(derive.specific_attenuation_db_per_km(atmosphere, levels_km, frequencies_mhz))
        anew_db = derive.loss_db(atmosphere, 1.0, elevations_deg, levels_km, rates)
        height = int(np.searchsorted(table.heights_km, 1.0))
        kept_db = table.loss_db[table.atmospheres.index(name), height][np.ix_(columns, angles)]
        np.testing.assert_allclose(anew_db, kept_db, rtol=0.005)
