"""What to ask of a partner's sky where no file states its skyline: over which azimuths, above which elevation.

From the pointing of its slots and of their other times. Free above that elevation means that no slot is in doubt.
Where nine skylines in ten lie below it anyway nothing is asked: an answer would tell nothing.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from pipeline.operating.pointing import pointing_table
from pipeline.pairs.assumed import clear_share, skyline_is_assumed
from pipeline.pairs.equipment import beam_of
from pipeline.record.model import AskedSky

if TYPE_CHECKING:
    import datetime as dt

    from pipeline.plan.views import PartnerView

FloatArray = npt.NDArray[np.float64]
# Nobody can say of half a sky at once: of a wider arc only the slot in most doubt is asked (judgement).
WIDEST_DEG = 120.0


def sky_question(view: PartnerView) -> AskedSky | None:
    """The one question about the partner's skyline; None where its file states one, or the answer changes nothing."""
    if not skyline_is_assumed(view.station):
        return None
    half = beam_of(view.station, view.band, view.home_mhz).beamwidth_deg / 2.0
    stretches = [
        edges
        for slot in view.slots
        for edges in ((slot.start, slot.end), *((one.start, one.end) for one in slot.alternatives))
    ]
    paths = [path for edges in stretches if (path := _path(view, edges)) is not None]
    if not paths:
        return None
    shares = [float(clear_share(view.policy.assumed_skyline, path[1] - half).mean()) for path in paths]
    asked = _over(np.concatenate([path[0] for path in paths]))
    if _width(*asked) > WIDEST_DEG:
        paths = [paths[int(np.argmin(shares))]]
        asked = _over(paths[0][0])
    lowest = min(float(path[1].min()) for path in paths)
    above = float(max(math.floor(lowest - half), 0))
    return AskedSky(*asked, above) if above < view.policy.assumed_skyline.nine_in_ten_deg else None


def _path(view: PartnerView, edges: tuple[dt.datetime, dt.datetime]) -> tuple[FloatArray, FloatArray] | None:
    """Azimuths and apparent elevations of a stretch, degrees, (n,) each; None where the Moon is not up for both."""
    lines = pointing_table(view, *edges)
    if not lines:
        return None
    return np.array([line.azimuth_deg for line in lines]), np.array([line.elevation_deg for line in lines])


def _over(azimuths_deg: FloatArray) -> tuple[float, float]:
    """The narrowest arc, clockwise, that holds all azimuths: whole degrees outward, 0 to 360."""
    sorted_deg = np.sort(azimuths_deg % 360.0)
    gaps = np.diff(np.append(sorted_deg, sorted_deg[0] + 360.0))
    widest = int(np.argmax(gaps))
    first, last = sorted_deg[(widest + 1) % sorted_deg.size], sorted_deg[widest]
    return float(math.floor(first) % 360), float(math.ceil(last) % 360)


def _width(first_deg: float, last_deg: float) -> float:
    return (last_deg - first_deg) % 360.0
