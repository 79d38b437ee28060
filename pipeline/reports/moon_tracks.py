"""Where the Moon stands during a stretch of one window, between the samples of that window, as a dish is pointed.

From the samples of one partner, by time; elevations are apparent where refraction is known.
"""

from __future__ import annotations

import datetime as dt
from typing import Literal

import numpy as np
import numpy.typing as npt
import pandas as pd

from pipeline.windows.instants import EPOCH

FloatArray = npt.NDArray[np.float64]
End = Literal["home", "partner"]


class MoonTracks:
    """One partner's samples, ready to be read between two of them."""

    def __init__(self, samples: pd.DataFrame) -> None:
        """`samples` are the partner's rows, sorted by time."""
        self._time_s = pd.DatetimeIndex(samples["time_utc"]).as_unit("us").asi8 / 1e6 if len(samples) else np.zeros(0)
        self._sky: dict[str, tuple[FloatArray, FloatArray]] = {}
        for end in ("home", "partner") if len(samples) else ():
            height = samples[f"{end}_elevation_deg"].to_numpy(float)
            if f"{end}_refraction_deg" in samples.columns:
                height = height + samples[f"{end}_refraction_deg"].to_numpy(float)
            self._sky[end] = samples[f"{end}_azimuth_deg"].to_numpy(float), height

    def at(self, end: End, start: dt.datetime, until: dt.datetime, count: int) -> tuple[FloatArray, FloatArray] | None:
        """Azimuth (not folded) and elevation at `count` even instants of a stretch, degrees, (count,) each.

        None where no sample stands near it.
        """
        first, last = ((moment - EPOCH).total_seconds() for moment in (start, until))
        low = max(int(np.searchsorted(self._time_s, first, side="right")) - 1, 0)
        high = int(np.searchsorted(self._time_s, last, side="left")) + 1
        time = self._time_s[low:high]
        if not time.size or time[0] > last or time[-1] < first:
            return None
        azimuth, elevation = (values[low:high] for values in self._sky[end])
        looks = np.linspace(first, last, count)
        turned = np.degrees(np.unwrap(np.radians(azimuth)))
        return np.interp(looks, time, turned), np.interp(looks, time, elevation)
