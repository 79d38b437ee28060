"""What reviews have learnt of stations, as the link takes it: decibels on each way and the doubt that is left of it.

From the record's `corrections.yaml`. The way A to B takes A's transmit side and B's receive side; sides are taken as
independent of each other, which claims no more than the file says.
"""

from __future__ import annotations

import math

from pipeline.inputs.model import Station
from pipeline.link.chance import STATION_SPREAD_DB
from pipeline.pairs.assumed import RECEIVE, TRANSMIT, assumed_figures, side_doubt_db2, skyline_is_assumed
from pipeline.record.inputs import Inputs
from pipeline.record.model import Correction

# Of a station that no review has met, each side has half of the variance that the chance takes for a way.
SIDE_VARIANCE_DB2 = STATION_SPREAD_DB**2 / 2.0


def correction_of(inputs: Inputs, call: str, band: str) -> Correction | None:
    """What has been learnt of a station's sides on a band; None where nothing was."""
    found = learnt_of(inputs, call, band)
    return found if found is not None and found.tells_sides else None


def learnt_of(inputs: Inputs, call: str, band: str) -> Correction | None:
    """The same, also where only presence was learnt."""
    return next((one for one in inputs.record.corrections if (one.call, one.band) == (call, band)), None)


def transmit_db(correction: Correction | None) -> float:
    """Decibels to add to what the station sends."""
    return 0.0 if correction is None else correction.transmit_db


def receive_db(correction: Correction | None) -> float:
    """Decibels to add to what the station hears."""
    return 0.0 if correction is None else correction.receive_db


def side_variances_db2(inputs: Inputs, station: Station, band: str) -> tuple[float, float]:
    """Variances of what a station sends and of what it hears, dB squared: as learnt, else as assumed.

    What was learnt is a station's mean; on the next evening it differs from that as evenings do.
    """
    learnt = correction_of(inputs, station.call, band)
    if learnt is not None:
        evening = learnt.evening_db**2
        return learnt.transmit_uncertainty_db**2 + evening, learnt.receive_uncertainty_db**2 + evening
    return (
        SIDE_VARIANCE_DB2 + side_doubt_db2(station, band, TRANSMIT),
        SIDE_VARIANCE_DB2 + side_doubt_db2(station, band, RECEIVE),
    )


def pair_spreads_db(inputs: Inputs, call: str, band: str) -> dict[str, float]:
    """Of home and a partner: the standard deviation of the station error of the way to each end, by its name.

    2 dB where both files state power, antenna, noise figure and losses and nothing was learnt of either end.
    """
    home, partner = (side_variances_db2(inputs, one, band) for one in (inputs.home, inputs.partner(call)))
    return {"partner": math.sqrt(home[0] + partner[1]), "home": math.sqrt(partner[0] + home[1])}


def rests_on_assumptions(inputs: Inputs, pair: int) -> bool:
    """Whether a skyline, or equipment of which no log has taught, is assumed at either end: then nothing is strong."""
    band = inputs.bands[pair]
    return any(
        skyline_is_assumed(one) or (bool(assumed_figures(one, band)) and correction_of(inputs, one.call, band) is None)
        for one in (inputs.home, inputs.partners[pair])
    )
