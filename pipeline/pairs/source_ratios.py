"""Source against system: the form of a noise rise in which gain and noise of a station count as plain decibels.

A rise is hot over cold, 10^(rise / 10) - 1 is the source's noise against that of the system on cold sky.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.pairs.noise_rises import Rise

FloatArray = npt.NDArray[np.float64]


def ratio_of_db(rise_db: npt.ArrayLike) -> FloatArray:
    """Source against system, dB, of rises of any shape; far down where nothing rises."""
    ratio = np.expm1(np.asarray(rise_db, dtype=float) * np.log(10.0) / 10.0)
    return np.asarray(10.0 * np.log10(np.maximum(ratio, 1e-6)))


def rise_of_db(ratio_db: npt.ArrayLike) -> FloatArray:
    """Rises, dB, of source against system in dB, of any shape."""
    return np.asarray(10.0 * np.log10(1.0 + 10.0 ** (np.asarray(ratio_db, dtype=float) / 10.0)))


@dataclass(frozen=True)
class Known:
    """What readings tell of a station's rises: decibels of source against system to add, and the doubt that is left."""

    by_db: float
    doubt_db: float

    def of(self, rise: Rise) -> Rise:
        """The rise of the station as it was measured."""
        ratio = ratio_of_db(rise.rise_db) + self.by_db
        middle, low, high = (float(rise_of_db(ratio + by)) for by in (0.0, -self.doubt_db, self.doubt_db))
        return Rise(middle, (high - low) / 2.0)
