"""Why a pair has no window, in words: never above both horizons, or always behind something, and behind what.

From both stations' places of the Moon every two minutes of the period, with their rules taken off one by one.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from pipeline.windows.rules import HORIZON, MINIMUM_ELEVATION, MOUNT_ELEVATION, Rules

FloatArray = npt.NDArray[np.float64]
STEP_S = 120.0


def no_window_reason(
    calls: tuple[str, str], rules: Rules, stations: tuple[int, int], azimuth_deg: FloatArray, elevation_deg: FloatArray
) -> str:
    """One sentence for a pair without a window.

    `azimuth_deg` and `elevation_deg` are (2, n): home and partner at the same instants, elevation as the rules take it.
    """
    owner = np.repeat(np.array(stations)[:, None], azimuth_deg.shape[1], axis=1)
    clear = rules.clearances(owner, azimuth_deg, elevation_deg)  # (rules, 2, n)
    up = elevation_deg >= 0.0
    for end in (0, 1):
        if not up[end].any():
            return f"the Moon never rises at {calls[end]} in this period"
    both_up = up.all(axis=0)
    if not both_up.any():
        lower = elevation_deg.min(axis=0).max()
        return f"the Moon is never above both horizons: at best one end has it {-lower:.1f} degrees below its own"
    # A window that began before the first noon belongs to the night before: what is left of it explains nothing here.
    free = (clear >= 0.0).all(axis=(0, 1))
    if not (both_up & ~free).any():
        return "the only window of this period began before its first night"
    both_up &= ~free
    broken = clear[:, :, both_up] < 0.0
    azimuth, least = azimuth_deg[:, both_up], rules.minimum_elevation_deg[list(stations)]
    for end in (0, 1):
        if broken[:, end].any(axis=0).all():
            where = _hidden(calls[end], broken[:, end], azimuth[end], least[end])
            return f"the Moon is above both level horizons only while it is {where}"
    # Each end sees it at times: what hides it from the partner whenever home is free?
    free = ~broken[:, 0].any(axis=0)
    where = _hidden(calls[1], broken[:, 1][:, free], azimuth[1, free], least[1])
    return f"whenever {calls[0]} sees the Moon, it is {where}"


def _hidden(call: str, broken: npt.NDArray[np.bool_], azimuth_deg: FloatArray, minimum_deg: float) -> str:
    """What hides the Moon from one end at these instants: the fewest rules that together explain all of them."""
    words: list[str] = []
    left = np.ones(azimuth_deg.size, dtype=bool)
    while left.any():
        # Where several rules explain as much, the skyline comes first: it cannot be changed by a wish.
        rule = int(np.argmax(broken[:, left].sum(axis=1)))
        here = broken[rule] & left
        words.append(_words(rule, call if not words else "it", azimuth_deg[here], minimum_deg))
        left &= ~broken[rule]
    return " or ".join(words)


def _words(rule: int, call: str, azimuth_deg: FloatArray, minimum_deg: float) -> str:
    first, last = azimuth_range(azimuth_deg)
    of, place = ("its", "there") if call == "it" else (f"{call}'s", f"at {call}")
    if rule == HORIZON:
        return f"behind {of} horizon at azimuth {first:.0f} to {last:.0f} degrees"
    if rule == MINIMUM_ELEVATION:
        return f"below {of} minimum elevation of {minimum_deg:g} degrees"
    if rule == MOUNT_ELEVATION:
        return f"higher than {of} mount reaches"
    return f"outside {of} mount's reach {place}, at azimuth {first:.0f} to {last:.0f} degrees"


def azimuth_range(azimuth_deg: FloatArray) -> tuple[float, float]:
    """The shortest arc, clockwise, that holds all azimuths."""
    ordered = np.sort(azimuth_deg % 360.0)
    gaps = np.diff(np.concatenate([ordered, ordered[:1] + 360.0]))
    widest = int(np.argmax(gaps))
    return float(ordered[(widest + 1) % ordered.size]), float(ordered[widest])
