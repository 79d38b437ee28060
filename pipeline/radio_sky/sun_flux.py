"""Radio flux of the Sun at any band, from a table of the quiet Sun and the 10.7 cm flux as the measure of activity.

The quiet values are those of a solar minimum as the observatories of Nobeyama, Toyokawa, Penticton and the RSTN
network report them; the slopes with activity are rough. Both from memory: 12 % on the table, less sure of the slopes.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

# Frequency in MHz, flux in solar flux units (1e-22 W/m2/Hz), quiet Sun at minimum (from memory, +-12 %).
QUIET_MHZ = np.array(
    [
        245.0,
        410.0,
        610.0,
        1000.0,
        1415.0,
        2000.0,
        2695.0,
        2800.0,
        3750.0,
        4995.0,
        8800.0,
        9400.0,
        15400.0,
        17000.0,
        35000.0,
    ]
)
QUIET_SFU = np.array([10.0, 22.5, 32.5, 38.0, 50.0, 50.0, 66.0, 66.0, 71.0, 110.0, 220.0, 245.0, 510.0, 620.0, 2300.0])
# Extra flux per unit of F10.7 above its floor (from memory, low confidence).
SLOPE_MHZ = np.array([245.0, 1000.0, 1415.0, 2800.0, 5000.0, 9500.0, 15400.0, 30000.0])
SLOPE = np.array([0.15, 0.45, 0.6, 1.0, 0.9, 0.7, 0.4, 0.0])
FLOOR_F10_7 = 66.0
# Words for the 10.7 cm flux: near minimum, between, near maximum (floor about 65, over 200 at some maxima).
F10_7_OF_ACTIVITY = {"quiet": 70.0, "average": 120.0, "active": 180.0}


def f10_7_sfu(activity: str | float) -> float:
    """The 10.7 cm flux behind a word (`quiet`, `average`, `active`) or the number itself. KeyError for another word."""
    return F10_7_OF_ACTIVITY[activity] if isinstance(activity, str) else float(activity)


def quiet_flux_sfu(frequency_mhz: npt.ArrayLike) -> Array:
    """Flux of the quiet Sun in solar flux units, straight between the table's points in double logarithm.

    Below the table its first slope goes on; above it the flux grows as the frequency squared, as a disc of constant
    temperature does. Of any shape.
    """
    frequency = np.log(np.asarray(frequency_mhz, dtype=float))
    nodes, values = np.log(QUIET_MHZ), np.log(QUIET_SFU)
    first_slope = (values[1] - values[0]) / (nodes[1] - nodes[0])
    below = np.minimum(frequency - nodes[0], 0.0) * first_slope
    above = np.maximum(frequency - nodes[-1], 0.0) * 2.0
    return np.asarray(np.exp(np.interp(frequency, nodes, values) + below + above))


def flux_sfu(frequency_mhz: npt.ArrayLike, activity: str | float = "average") -> Array:
    """Flux of the whole disc in solar flux units at a word of activity or a 10.7 cm flux.

    Quiet table + a(f) (F10.7 - 66), never below the quiet table. Below 245 MHz the slope shrinks with the quiet flux.
    Of any shape.
    """
    frequency = np.asarray(frequency_mhz, dtype=float)
    quiet = quiet_flux_sfu(frequency)
    shrink = np.where(frequency < QUIET_MHZ[0], quiet / QUIET_SFU[0], 1.0)
    slope = np.interp(np.log(frequency), np.log(SLOPE_MHZ), SLOPE) * shrink
    return np.asarray(quiet + slope * max(f10_7_sfu(activity) - FLOOR_F10_7, 0.0))


def flux_uncertainty(activity: str | float) -> float:
    """Share by which the flux may be off: 0.10 for a quiet Sun, 0.25 for an active one, straight between."""
    return float(np.interp(f10_7_sfu(activity), [70.0, 180.0], [0.10, 0.25]))
