"""What is known of stations beyond their files, as the link takes it: decibels on each way and the doubt that is left.

From what reviews have learnt (`corrections.yaml`) and what was measured (`measurements.csv`). The way A to B
takes A's transmit side and B's receive side; sides are taken as independent, which claims no more than the file says.
"""

from __future__ import annotations

import math
from dataclasses import replace

from pipeline.inputs.model import Station
from pipeline.link.chance import STATION_SPREAD_DB
from pipeline.pairs.assumed import RECEIVE, TRANSMIT, assumed_figures, side_doubt_db2, skyline_is_assumed
from pipeline.pairs.measured import before_of, measured_correction
from pipeline.record.inputs import Inputs
from pipeline.record.model import Correction

# Of a station that no review has met, each side has half of the variance that the chance takes for a way.
SIDE_VARIANCE_DB2 = STATION_SPREAD_DB**2 / 2.0


def learnt_of(inputs: Inputs, call: str, band: str) -> Correction | None:
    """What reviews have learnt of a station on a band, be it presence alone; None where nothing was."""
    found = (one for one in inputs.record.corrections if (one.call, one.band) == (call, band))
    return next(found, None)


def sides_learnt_of(inputs: Inputs, call: str, band: str) -> Correction | None:
    """The same where it tells of the station's sides."""
    found = learnt_of(inputs, call, band)
    return found if found is not None and found.tells_sides else None


def correction_of(inputs: Inputs, call: str, band: str) -> Correction | None:
    """What is known of a station's sides on a band beyond its file, learnt and measured together; None where nothing.

    Presence and evenings are the log's.
    """
    told, measured = learnt_of(inputs, call, band), measured_correction(inputs, call, band)
    learnt = sides_learnt_of(inputs, call, band)
    if measured is None or told is None:
        return measured or learnt
    words = f"{told.reviewed}, {measured.reviewed}" if told.reviewed else measured.reviewed
    if learnt is None:
        return replace(measured, reviewed=words, presence=told.presence, evening_db=told.evening_db)
    station = next(one for one in (inputs.home, *inputs.partners) if one.call == call)
    before = before_of(station, band)
    sends = joined(
        (learnt.transmit_db, learnt.transmit_uncertainty_db),
        (measured.transmit_db, measured.transmit_uncertainty_db),
        before.gain_db2 + before.power_db2,
    )
    hears = joined(
        (learnt.receive_db, learnt.receive_uncertainty_db),
        (measured.receive_db, measured.receive_uncertainty_db),
        before.gain_db2 + before.noise_db2,
    )
    return Correction(
        call, band, sends[0], hears[0], sends[1], hears[1], words, learnt.presence, learnt.evening_db, tells_sides=True
    )


def joined(one: tuple[float, float], other: tuple[float, float], before_db2: float) -> tuple[float, float]:
    """Two findings about one side, each a mean and its deviation that began from the same belief, as one of both.

    Normals: precisions add, and what was believed before is counted once. Never less sure than the surer of the two.
    """
    if min(one[1], other[1]) <= 0.0:
        return min(one, other, key=lambda found: found[1])
    weights = [max(1.0 / found[1] ** 2 - 1.0 / before_db2, 0.0) for found in (one, other)]
    precision = sum(weights) + 1.0 / before_db2
    # Each mean was drawn to zero by the belief; its own message alone is that much further out.
    told = sum(found[0] / found[1] ** 2 for found, weight in zip((one, other), weights, strict=True) if weight > 0.0)
    return told / precision, math.sqrt(1.0 / precision)


def transmit_db(correction: Correction | None) -> float:
    """Decibels to add to what the station sends."""
    return 0.0 if correction is None else correction.transmit_db


def receive_db(correction: Correction | None) -> float:
    """Decibels to add to what the station hears."""
    return 0.0 if correction is None else correction.receive_db


def side_variances_db2(inputs: Inputs, station: Station, band: str) -> tuple[float, float]:
    """Variances of what a station sends and of what it hears, dB squared: as learnt or measured, else as assumed.

    What is known is a station's mean; on the next evening it differs from that as evenings do, where a log tells.
    """
    known = correction_of(inputs, station.call, band)
    if known is not None:
        evening = known.evening_db**2
        return known.transmit_uncertainty_db**2 + evening, known.receive_uncertainty_db**2 + evening
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
        skyline_is_assumed(one)
        or (bool(assumed_figures(one, band)) and sides_learnt_of(inputs, one.call, band) is None)
        for one in (inputs.home, inputs.partners[pair])
    )
