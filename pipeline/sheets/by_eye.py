"""When the eye finds Moon and Sun over home: how high they stand, how much of the Moon is lit, how light the sky is.

From the evening's sky. The limits are judgement.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from pipeline.sheets.evening import Body, Evening

# Lower than this haze and trees take both.
LEAST_DEG = 2.0
# Least lit share of the Moon's disc: in the dark a thin crescent, in daylight nearly half.
LIT_IN_THE_DARK, LIT_IN_DAYLIGHT = 0.02, 0.3
# The Sun this high makes the sky light (end of civil twilight).
DAYLIGHT_DEG = -6.0

Mask = npt.NDArray[np.bool_]


def lit_share(sun_separation_deg: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Lit share of the Moon's disc, 0 to 1, from its separation from the Sun, degrees (the Sun far beyond it)."""
    return np.asarray((1.0 - np.cos(np.radians(np.asarray(sun_separation_deg, dtype=float)))) / 2.0)


def is_dark(evening: Evening) -> Mask:
    """Minutes in which the sky is dark and only lit landmarks are seen."""
    return np.asarray(evening.sun.elevation_deg < DAYLIGHT_DEG)


def moon_by_eye(evening: Evening) -> Mask:
    """Minutes in which a clear sky shows the Moon and the dish can be turned to it."""
    least = np.where(is_dark(evening), LIT_IN_THE_DARK, LIT_IN_DAYLIGHT)
    return _stands_free(evening.moon) & (lit_share(evening.sun_separation_deg) >= least)


def sun_by_eye(evening: Evening) -> Mask:
    """Minutes in which a clear sky gives the feed's shadow on the dish."""
    return _stands_free(evening.sun)


def _stands_free(body: Body) -> Mask:
    high = (body.elevation_deg >= LEAST_DEG) & (body.clearance_deg >= 0.0)
    return np.asarray(high & (body.reach_deg >= 0.0))
