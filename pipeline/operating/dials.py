"""The dials of one slot minute by minute, by light times, and the step of a dial: 10 Hz from 3 GHz, else 1 Hz.

From the night's sky, both ends' places and the season's convention (`operating.dialing`).
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from pipeline.ephemeris.sky import Sky
from pipeline.link.doppler import echo_path
from pipeline.operating.dialing import Dialing, Shifts, dial_shifts, shifts_of_sky
from pipeline.plan.views import Slot
from pipeline.record.inputs import Inputs
from pipeline.windows.scene import sites_of

FloatArray = npt.NDArray[np.float64]

MINUTE_S = 60.0
# Lines of a dial table are this far apart; in slots of more than an hour further, so that the table stays as long.
LINE_MIN = 10
LINES = 6
Figures = TypeVar("Figures", Dialing, Shifts)


@dataclass(frozen=True)
class SlotDials:
    """Dials at `times`; the first `in_slot` of them lie in the slot, the others in the fall-back of the same night.

    `..._a_minute_hz` is what the dials move in the coming minute; `delay_s` that of their signal at the slot's start.
    """

    times: tuple[dt.datetime, ...]
    in_slot: int
    dialing: Dialing
    shifts: Shifts
    transmit_a_minute_hz: FloatArray
    receive_a_minute_hz: FloatArray
    delay_s: float


def slot_dials(inputs: Inputs, sky: Sky, slot: Slot) -> SlotDials:
    """Worked out from the sky for every line of the slot's table."""
    times = slot_times(slot.start, slot.end)
    return dials_at(inputs, sky, slot, times + (slot.again_tonight or ()), len(times))


def dials_at(inputs: Inputs, sky: Sky, slot: Slot, times: tuple[dt.datetime, ...], in_slot: int) -> SlotDials:
    """Worked out from the sky at any instants; the first `in_slot` of them lie in the slot."""
    home, partner = sites_of(sky, [inputs.home, slot.partner]).take([0]), sites_of(sky, [slot.partner])
    seconds = np.array([sky.seconds(moment) for moment in times])

    # Now and a minute later at once: of so few instants each step takes as long for two as for one.
    shifts = shifts_of_sky(sky, home, partner, np.append(seconds, seconds + MINUTE_S), slot.home_mhz, slot.partner_mhz)
    dialing = dial_shifts(inputs.season.policy.dialing, slot.home_mhz, slot.partner_mhz, shifts)
    now, soon = slice(seconds.size), slice(seconds.size, None)
    return SlotDials(
        times=times,
        in_slot=in_slot,
        dialing=_rows(dialing, now),
        shifts=_rows(shifts, now),
        transmit_a_minute_hz=dialing.home_transmit_hz[soon] - dialing.home_transmit_hz[now],
        receive_a_minute_hz=dialing.home_receive_hz[soon] - dialing.home_receive_hz[now],
        delay_s=float(echo_path(sky, partner, home, seconds[:1]).delay_s[0]),
    )


def _rows(figures: Figures, rows: slice) -> Figures:
    """Some instants of figures (n,)."""
    return type(figures)(*(getattr(figures, one.name)[rows] for one in dataclasses.fields(figures)))


def slot_times(start: dt.datetime, end: dt.datetime) -> tuple[dt.datetime, ...]:
    """The lines of a slot's table, both ends among them."""
    length = (end - start).total_seconds() / MINUTE_S
    step = max(LINE_MIN * math.ceil(length / LINE_MIN / LINES), LINE_MIN)
    lines = [start + dt.timedelta(minutes=minute) for minute in range(0, math.ceil(length), step)]
    return (*lines, end)
