"""Derives `weather_maps.npz`, means of the ITU-R maps of rain, temperature, cloud and vapour in cells of 3 degrees.

    python -m pipeline.data.derive_weather_maps

Needs the package `itur` (MIT), which carries the maps; some minutes. Rain totals and temperature are by month, the
others of the year, as the Recommendations have them.
"""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

TABLE = Path(__file__).with_name("weather_maps.npz")
CELL_DEG, POINTS = 3.0, 4
MONTHS = range(1, 13)
ROWS, COLUMNS = 60, 120


def places() -> tuple[Array, Array]:
    """Points inside every cell, (rows, columns, points): latitude from the south, longitude from 180 west; degrees."""
    inside = (np.arange(POINTS) + 0.5) / POINTS * CELL_DEG
    latitude = -90.0 + np.arange(ROWS)[:, None] * CELL_DEG + inside
    longitude = -180.0 + np.arange(COLUMNS)[:, None] * CELL_DEG + inside
    lat = np.broadcast_to(latitude[:, None, :, None], (ROWS, COLUMNS, POINTS, POINTS))
    lon = np.broadcast_to(longitude[None, :, None, :], (ROWS, COLUMNS, POINTS, POINTS))
    return lat.reshape(ROWS, COLUMNS, -1), lon.reshape(ROWS, COLUMNS, -1)


def mean(values: Array) -> Array:
    """Of each cell what its points say, those without a value left out; 0 where none has one."""
    with np.errstate(invalid="ignore"):
        known = np.isfinite(values)
        return np.where(known, values, 0.0).sum(axis=-1) / np.maximum(known.sum(axis=-1), 1)


def maps() -> dict[str, npt.NDArray[np.int16]]:
    """The tables in whole numbers of a unit that each name tells."""
    from itur.models import itu836, itu837, itu839, itu840, itu1510

    lat, lon = places()
    east = lon % 360.0
    rain = itu837._ITU837_7()
    cloud = itu840._ITU840_8_()
    totals = [mean(rain.Mt(lat.copy(), lon.copy(), month)) for month in MONTHS]
    warmth = [mean(np.asarray(itu1510.surface_month_mean_temperature(lat, lon, month).value)) for month in MONTHS]
    with np.errstate(all="ignore"):
        columns = {
            "cloud_log_mean_hundredths": (mean(cloud.M(lat, east)), 100.0),
            "cloud_log_deviation_hundredths": (mean(cloud.sigma(lat, east)), 100.0),
            "cloud_share_tenths_percent": (np.minimum(mean(cloud.Pclw(lat, east)), 100.0), 10.0),
        }
    vapour = [
        mean(np.asarray(itu836.total_water_vapour_content(lat, lon, share, alt=None).value)) for share in (50, 10)
    ]
    height = mean(np.asarray(itu839.rain_height(lat, lon).value))
    return {
        "rain_total_mm": np.rint(totals).astype(np.int16),
        "temperature_k": np.rint(warmth).astype(np.int16),
        **{name: np.rint(values * unit).astype(np.int16) for name, (values, unit) in columns.items()},
        "vapour_median_tenths_kg_per_m2": np.rint(vapour[0] * 10.0).astype(np.int16),
        "vapour_tenth_tenths_kg_per_m2": np.rint(vapour[1] * 10.0).astype(np.int16),
        "rain_height_hundredths_km": np.rint(height * 100.0).astype(np.int16),
    }


def packed(tables: dict[str, npt.NDArray[np.int16]]) -> bytes:
    """The tables as an .npz that is the same at every run."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, table in tables.items():
            one = io.BytesIO()
            np.save(one, table)
            entry = zipfile.ZipInfo(f"{name}.npy", date_time=(2000, 1, 1, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, one.getvalue())
    return out.getvalue()


def main() -> None:
    """Write the table beside this module."""
    TABLE.write_bytes(packed(maps()))


if __name__ == "__main__":
    main()
