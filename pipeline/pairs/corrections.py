"""What reviews have learnt of stations, as the link takes it: decibels on each way and the doubt that is left of it.

From the record's `corrections.yaml`. The way A to B takes A's transmit side and B's receive side; sides are taken as
independent of each other, which claims no more than the file says.
"""

from __future__ import annotations

import math

from pipeline.link.chance import STATION_SPREAD_DB
from pipeline.record.inputs import Inputs
from pipeline.record.model import Correction

# Of a station that no review has met, each side has half of the variance that the chance takes for a way.
SIDE_VARIANCE_DB2 = STATION_SPREAD_DB**2 / 2.0


def correction_of(inputs: Inputs, call: str, band: str) -> Correction | None:
    """What has been learnt of a station on a band; None where nothing was."""
    found = (one for one in inputs.record.corrections if (one.call, one.band) == (call, band))
    return next(found, None)


def transmit_db(correction: Correction | None) -> float:
    """Decibels to add to what the station sends."""
    return 0.0 if correction is None else correction.transmit_db


def receive_db(correction: Correction | None) -> float:
    """Decibels to add to what the station hears."""
    return 0.0 if correction is None else correction.receive_db


def way_spread_db(sender: Correction | None, receiver: Correction | None) -> float:
    """Standard deviation of the station error of one way: 2 dB where nothing was learnt of either end."""
    sent = SIDE_VARIANCE_DB2 if sender is None else sender.transmit_uncertainty_db**2
    heard = SIDE_VARIANCE_DB2 if receiver is None else receiver.receive_uncertainty_db**2
    return math.sqrt(sent + heard)


def pair_spreads_db(inputs: Inputs, call: str, band: str) -> dict[str, float]:
    """Of home and a partner: the spread of the way to each end, by its name."""
    home, partner = correction_of(inputs, inputs.home.call, band), correction_of(inputs, call, band)
    return {"partner": way_spread_db(home, partner), "home": way_spread_db(partner, home)}
