"""Derives `radio_sky_408.npz`, the brightness of the whole sky at 408 MHz in cells of 2 degrees, from the survey file.

    python -m pipeline.data.derive_radio_sky radio408.RaDec.fits

The survey is that of Haslam and others (1982, A&A Supplement 47, 1), equinox B1950, steps of 1/3 degree, unit 0.1 K.
Each cell of the table is the mean over the cell's area of the survey, taken at the B1950 place of each point; so the
integral of brightness over any patch is kept. Needs astropy, which nothing else in the package does.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

CELL_DEG = 2.0
# Points a side within each cell; 1/6 degree apart, half the survey's step, so that no survey pixel is passed over.
POINTS_A_SIDE = 12
SURVEY_UNIT_K = 0.1
TABLE = Path(__file__).with_name("radio_sky_408.npz")


def read_survey(file: Path) -> tuple[Array, Array, Array]:
    """Right ascension (1081,) and declination (541,) of B1950 in degrees, rising, and the brightness (541, 1081), K."""
    from astropy.io import fits

    with fits.open(file) as units:
        header, counts = units[0].header, np.asarray(units[0].data, dtype=float)[0]
    if header["EPOCH"] != 1950 or counts.shape != (541, 1081):
        raise ValueError("not the 408 MHz survey on the B1950 grid of 541 x 1081 points")

    def axis(number: int) -> Array:
        steps = np.arange(1, header[f"NAXIS{number}"] + 1) - header[f"CRPIX{number}"]
        # The header rounds the step of 1/3 degree to twelve digits.
        return np.asarray(np.round(header[f"CRVAL{number}"] + steps * header[f"CDELT{number}"], 8))

    right_ascension, declination = axis(1), axis(2)
    return right_ascension[::-1], declination, counts[:, ::-1] * SURVEY_UNIT_K


def average_over_cells(right_ascension_deg: Array, declination_deg: Array, brightness_k: Array) -> Array:
    """Brightness of each cell, K, shape (90, 180): rows from the south, columns from 0 h, both in ICRS."""
    from astropy import units as u
    from astropy.coordinates import FK4, SkyCoord
    from scipy.interpolate import RegularGridInterpolator

    survey = RegularGridInterpolator((declination_deg, right_ascension_deg), brightness_k)
    fine = CELL_DEG / POINTS_A_SIDE
    columns = (np.arange(round(360 / fine)) + 0.5) * fine
    cells = np.empty((round(180 / CELL_DEG), round(360 / CELL_DEG)))
    for row in range(cells.shape[0]):
        rows = -90.0 + row * CELL_DEG + (np.arange(POINTS_A_SIDE) + 0.5) * fine
        dec, ra = np.meshgrid(rows, columns, indexing="ij")
        old = SkyCoord(ra * u.deg, dec * u.deg, frame="icrs").transform_to(FK4(equinox="B1950"))
        values = survey(np.stack([old.dec.deg, (old.ra.deg + 180.0) % 360.0 - 180.0], axis=-1))
        weights = np.cos(np.radians(rows))
        by_column = weights @ values / weights.sum()
        cells[row] = by_column.reshape(-1, POINTS_A_SIDE).mean(axis=1)
    return cells


def main(arguments: list[str]) -> int:
    """Writes the table beside this module."""
    if len(arguments) != 1:
        print("usage: python -m pipeline.data.derive_radio_sky radio408.RaDec.fits", file=sys.stderr)
        return 2
    try:
        survey = read_survey(Path(arguments[0]))
    except (OSError, KeyError, ValueError) as error:
        print(f"{arguments[0]}: cannot be read as the survey file: {error}", file=sys.stderr)
        return 2
    cells = average_over_cells(*survey)
    # Tenths of a kelvin are the survey's own unit; whole numbers of it pack into a few tens of kilobytes.
    np.savez_compressed(TABLE, temperature_408_tenths_k=np.round(cells / SURVEY_UNIT_K).astype(np.uint16))
    print(f"{TABLE.name}: {cells.shape[0]} x {cells.shape[1]} cells, {cells.min():.1f} to {cells.max():.1f} K")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
