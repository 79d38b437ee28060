"""How many digits of a figure stand in files: those that are known, by the unit in its name, and one to work on with.

What lies beyond them differs between processors (vector instructions add in another order), and nobody knows it.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

# Places behind the point; the longest ending that fits a name decides. The Moon's place is known to 0.002 degree, its
# distance to 0.1 km, edges to 0.1 s, a Doppler shift to 1 Hz at 10 GHz, decibels to some hundredths.
DECIMALS = {
    "_hz_per_s": 4,
    "_mhz": 6,
    "_hz": 2,
    "_db": 3,
    "_deg": 4,
    "_km": 2,
    "_min": 3,
    "_k": 3,
    "_s": 6,
    "_w": 1,
    "_m": 2,
    "_fraction": 4,
    "hours": 3,
    "hours_on_site": 3,
    "contacts_expected": 4,
    "contacts_in_agenda": 4,
    "contacts_if_added": 4,
    "contacts_if_free": 4,
    "chance": 4,
    "chance_met": 4,
}
TENTHS_OF_A_SECOND = 100_000  # in microseconds
# Of a figure whose name tells no unit.
SIGNIFICANT = 9


@cache
def decimals_of(name: str) -> int | None:
    """Places behind the point of a column or key; None where its name tells no unit."""
    return next((places for ending, places in DECIMALS.items() if name.endswith(ending)), None)


def rounded(name: str, values: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Figures of any shape with the digits that files have; zero has no sign."""
    known, places = np.asarray(values, dtype=float), decimals_of(name)
    if places is not None:
        return np.round(known, places) + 0.0
    return np.array([_significant(value) for value in known.ravel()]).reshape(known.shape)


def _significant(value: float) -> float:
    return float(f"{value:.{SIGNIFICANT}g}") + 0.0


def rounded_table(frame: pd.DataFrame) -> pd.DataFrame:
    """A table with the digits that files have."""
    floats = {str(name): rounded(str(name), frame[name]) for name in frame.columns if frame[name].dtype.kind == "f"}
    return frame.assign(**floats)


def rounded_tree(value: Any, name: str = "") -> Any:
    """Dictionaries and lists with every figure in them rounded by the key it stands under."""
    if isinstance(value, dict):
        return {key: rounded_tree(one, str(key)) for key, one in value.items()}
    if isinstance(value, list | tuple):
        if value and all(isinstance(one, float) for one in value):
            return rounded(name, value).tolist()
        return [rounded_tree(one, name) for one in value]
    return float(rounded(name, value)) if isinstance(value, float) else value
