"""The time scale and the planetary kernel: UT1 and polar motion of the newest table, DE421 or another kernel.

Sources: IERS finals2000A (package astropy-iers-data), JPL DE421 (package skyfield-data), read through Skyfield.
"""

from __future__ import annotations

import atexit
import datetime as dt
import warnings
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]


class EphemerisUnavailable(Exception):
    """The kernel cannot be read or does not cover the period; the text says which and what would do."""


@dataclass(frozen=True)
class Clock:
    """Skyfield's time scale, a sentence that says where UT1 came from, and the last day of that table."""

    timescale: Any
    note: str
    known_until: dt.date | None = None

    def note_until(self, end: dt.datetime) -> str:
        """The sentence for a period, with what is extrapolated of it.

        UT1 stays within 0.9 s of UTC by leap seconds (ITU-R TF.460, from memory); the Earth turns a station by that.
        """
        if self.known_until is None or end.date() <= self.known_until:
            return self.note
        return (
            f"{self.note}; extrapolated: held from {self.known_until:%Y-%m-%d}, the table's end; since then 0.9 s off "
            "at most, window edges as far and Doppler at 10 GHz by 3 Hz"
        )


@lru_cache(maxsize=1)
def load_clock() -> Clock:
    """The time scale with the freshest UT1 installed; falls back on Skyfield's own table and says so."""
    from skyfield.data import iers
    from skyfield.timelib import Timescale

    try:
        import astropy_iers_data

        known = earth_rotation_table(np.memmap(astropy_iers_data.IERS_A_FILE, np.uint8, "r"))
        table = held_beyond(known)
        days_tt, delta_t, leap_dates, leap_offsets = iers.build_timescale_arrays(table["utc_mjd"], table["dut1"])
        scale = Timescale((days_tt, delta_t), leap_dates, leap_offsets)
        # Without it a station stands up to 15 m off: 0.05 Hz at 10 GHz.
        scale.polar_motion_table = days_tt, table["x_arcseconds"], table["y_arcseconds"]
    except (ImportError, OSError, ValueError, AttributeError):
        from skyfield.api import load

        return Clock(load.timescale(builtin=True), "UT1 from Skyfield's own table: up to 0.3 s off, 1 Hz at 10 GHz")
    version = getattr(astropy_iers_data, "__version__", None) or _version("astropy-iers-data")
    until = MJD_ZERO + dt.timedelta(days=float(known["utc_mjd"][-1]))
    return Clock(scale, f"UT1 and polar motion from IERS finals2000A, package astropy-iers-data {version}", until)


MJD_ZERO = dt.date(1858, 11, 17)
# 2150-01-01: past every period and the usual kernels.
HELD_UNTIL_MJD = 106_331.0
# Columns of finals2000A, from 0, end excluded, and their decimals (the readme beside the file at the IERS).
FINALS_COLUMNS = {
    "utc_mjd": (7, 15, 2), "x_arcseconds": (18, 27, 6), "y_arcseconds": (37, 46, 6), "dut1": (58, 68, 7),
}  # fmt: skip
LONGEST_LINE = 1000
# So many lines at once stay near the processor: memory that is new costs more than the digits in it.
LINES_AT_ONCE = 2048


def earth_rotation_table(raw: bytes | npt.NDArray[np.uint8]) -> dict[str, FloatArray]:
    """UTC date (MJD), pole x and y (arcsecond) and UT1-UTC (s) of each day of a finals2000A file, (n,) each.

    Lines have one length and figures their point in one place, so that all are read as digits at once: many times
    quicker than one by one, and as exact. Raises ValueError where the file has another shape.
    """
    letters = np.frombuffer(raw, dtype=np.uint8)
    lines = letters.reshape(-1, int(np.argmax(letters[:LONGEST_LINE] == ord("\n"))) + 1)
    # The last months hold no predictions yet.
    known = lines[:, FINALS_COLUMNS["dut1"][1] - 1] != ord(" ")
    count = int(known.sum())
    if not known[:count].all():
        raise ValueError("a day without UT1 before others that have it")
    table = {name: np.empty(count) for name in FINALS_COLUMNS}
    for row in range(0, count, LINES_AT_ONCE):
        block = lines[row : min(row + LINES_AT_ONCE, count)]
        for name, (first, last, places) in FINALS_COLUMNS.items():
            table[name][row : row + len(block)] = _decimals(block[:, first:last].copy(), places)
    return table


def _decimals(letters: npt.NDArray[np.uint8], places: int) -> FloatArray:
    """Figures with so many decimals as letters (n, width), right-aligned, to numbers (n,)."""
    point = letters.shape[1] - places - 1
    digits, is_sign = letters - np.uint8(ord("0")), letters == ord("-")  # what stands before 0 comes out above 9
    is_digit = digits <= 9
    others = np.count_nonzero(is_digit) + np.count_nonzero(is_sign) + np.count_nonzero(letters == ord(" "))
    if (letters[:, point] != ord(".")).any() or others + len(letters) != letters.size:
        raise ValueError("a figure without its point or its digits")
    weights = 10.0 ** np.concatenate([np.arange(point)[::-1] + places, [0], np.arange(places)[::-1]])
    weights[point] = 0.0
    whole = np.where(is_digit, digits, np.uint8(0)).astype(float) @ weights
    whole[np.flatnonzero(is_sign) // letters.shape[1]] *= -1.0
    return whole / 10.0**places


def held_beyond(table: dict[str, FloatArray]) -> dict[str, FloatArray]:
    """The same table, columns (n,) and one more, with its last UT1-UTC and pole once more, far ahead: held there.

    Skyfield would lead UT1 to a parabola of the tides: 3 s off in fifteen years, where leap seconds allow 0.9.
    """
    last = {name: column[-1] for name, column in table.items()} | {"utc_mjd": HELD_UNTIL_MJD}
    return {name: np.append(column, last[name]) for name, column in table.items()}


@lru_cache(maxsize=4)
def load_kernel(file: str | None = None) -> tuple[Any, str]:
    """A JPL kernel and its name; DE421 of the package skyfield-data where none is named.

    Raises EphemerisUnavailable where the file is missing or no such kernel.
    """
    from skyfield.jpllib import SpiceKernel

    path = Path(file) if file else _de421_path()
    if file and not path.is_file():
        raise EphemerisUnavailable(
            f"there is no ephemeris file {path}; write ephemeris.file in the season as a whole path, "
            "or as one from the folder in which the command runs"
        )
    try:
        kernel = SpiceKernel(str(path))
        names = {name for segment in kernel.segments for name in (segment.center, segment.target)}
    except Exception as error:  # jplephem raises half a dozen kinds for a file that is no kernel
        raise EphemerisUnavailable(f"{path.name} cannot be read as a JPL kernel (.bsp): {error}") from error
    if not {3, 10, 301, 399} <= names:
        raise EphemerisUnavailable(f"{path.name} lacks the Moon, the Earth or the Sun; a planetary kernel is meant")
    # The kernel stays mapped for the life of the process.
    atexit.register(kernel.close)
    return kernel, path.name


def _de421_path() -> Path:
    with warnings.catch_warnings():
        # The package also carries an old table of UT1 and warns of it on import; that table is not used here.
        warnings.simplefilter("ignore", RuntimeWarning)
        from skyfield_data import get_skyfield_data_path

        return Path(get_skyfield_data_path()) / "de421.bsp"


def _version(package: str) -> str:
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version(package)
    except PackageNotFoundError:
        return "unknown"
