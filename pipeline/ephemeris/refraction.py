"""Bending of radio waves by the standard atmosphere, from the geometric elevation and the station's height.

Source: Recommendation ITU-R P.834-9, equation 14 (mid-latitude mean atmosphere; meant for low elevations).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

# The fit is not meant for rays that dive below this; there the bending is held.
LOWEST_ELEVATION_DEG = -1.0
# From a degree to its 1e-15.
ROUNDS = 30


def refraction_deg(elevation_deg: npt.ArrayLike, height_m: npt.ArrayLike) -> FloatArray:
    """Degrees to add to the geometric elevation to get the apparent one; shapes broadcast.

    Source: ITU-R P.834-9 eq. 14. Above about 15 degrees the fit under-reads by up to 0.01 degree.
    """
    theta = np.maximum(np.asarray(elevation_deg, dtype=float), LOWEST_ELEVATION_DEG)
    # The atmosphere of the fit begins at sea level; a shore below it counts as sea level.
    h = np.maximum(np.asarray(height_m, dtype=float), 0.0) / 1000.0
    return 1.0 / (
        1.728
        + theta * (0.5411 + 0.03723 * theta)
        + h * (0.1815 + theta * (0.06272 + 0.01380 * theta))
        + h**2 * (0.01727 + 0.008288 * theta)
    )


def geometric_deg(apparent_deg: npt.ArrayLike, height_m: npt.ArrayLike) -> FloatArray:
    """The geometric elevation at which a ray comes in so high, degrees; shapes broadcast.

    Where the geometric elevation rises by a degree the bending falls by a quarter at most, so that each round leaves as
    much of the doubt.
    """
    apparent = np.asarray(apparent_deg, dtype=float)
    found = apparent
    for _ in range(ROUNDS):
        found = apparent - refraction_deg(found, height_m)
    return found
