"""What of a pair is assumed and not stated: equipment with the band table's doubt, a skyline nobody has surveyed.

Doubts are judgement (`data/bands.yaml`); so is the height of an unknown skyline, whose logarithm is taken as normal.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

from pipeline.inputs.bands import band_table
from pipeline.inputs.lengths import AssumedSkyline
from pipeline.inputs.model import Station
from pipeline.record.inputs import Inputs

FloatArray = npt.NDArray[np.float64]

# The figures of a station's file that bear on each side of its link.
TRANSMIT, RECEIVE = ("power_w", "antenna"), ("antenna", "noise_figure_db", "loss_before_preamplifier_db")
# Nine in ten lie below so many standard deviations (Gauss).
NINE_IN_TEN = 1.2815515655446004


def assumed_figures(station: Station, band: str) -> tuple[str, ...]:
    """Which of the figures above are a default of the band table, in that order."""
    place = f"bands.{band}"
    every = dict.fromkeys((*TRANSMIT, *RECEIVE))
    if place in station.assumed:
        return tuple(every)
    return tuple(name for name in every if f"{place}.{name}" in station.assumed)


def side_doubt_db2(station: Station, band: str, figures: tuple[str, ...]) -> float:
    """The variance that assumed figures among these add to one side of a station's link, dB squared."""
    doubt = band_table()[band].doubt_db
    return sum(doubt[name] ** 2 for name in assumed_figures(station, band) if name in figures)


def skyline_is_assumed(station: Station) -> bool:
    """Whether the station's file states no horizon."""
    return "horizon" in station.assumed


def clear_share(skyline: AssumedSkyline, above_deg: npt.ArrayLike) -> FloatArray:
    """Share of places whose skyline lies below these elevations, of any shape, degrees: 0 at the level, 1 far up."""
    above = np.maximum(np.asarray(above_deg, dtype=float), 1e-9)
    width = math.log(skyline.nine_in_ten_deg / skyline.median_deg) / NINE_IN_TEN
    return np.asarray(ndtr(np.log(above / skyline.median_deg) / width))


def presence_of(inputs: Inputs, pair: int) -> float:
    """The share of agreed slots in which this partner is really there.

    As the logs have taught of it; of a partner they have not met, what its file says, else what they say of all.
    """
    station, band = inputs.partners[pair], inputs.bands[pair]
    learnt = presence_learnt(inputs, station.call, band)
    if learnt is not None:
        return learnt
    if station.presence is not None:
        return station.presence
    of_all = presence_learnt(inputs, inputs.home.call, band)
    return inputs.season.policy.presence if of_all is None else of_all


def presence_believed(inputs: Inputs, pair: int) -> float:
    """The same before any log: the partner's own figure, else the policy's."""
    own = inputs.partners[pair].presence
    return inputs.season.policy.presence if own is None else own


def presence_learnt(inputs: Inputs, call: str, band: str) -> float | None:
    """The share that logs have taught of a partner on a band, or (home's call) of all; None where none was learnt."""
    found = (one.presence for one in inputs.record.corrections if (one.call, one.band) == (call, band))
    return next(found, None)
