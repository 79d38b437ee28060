"""Why a pair has no window: never above both horizons, or always behind something, and behind what.

From both stations' places of the Moon every two minutes of the period, with their rules taken off one by one.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, auto

import numpy as np
import numpy.typing as npt

from pipeline.windows.rules import Rules

FloatArray = npt.NDArray[np.float64]
STEP_S = 120.0
ENDS = ("home", "partner")


class NoWindowKind(Enum):
    """What keeps the Moon from both ends."""

    NEVER_RISES = auto()
    NEVER_ABOVE_BOTH = auto()
    BEFORE_FIRST_NIGHT = auto()
    ALWAYS_HIDDEN = auto()
    HIDDEN_WHILE_HOME_SEES = auto()


@dataclass(frozen=True)
class Hidden:
    """A rule of `windows.rules` that hides the Moon, the arc in which it does, and the least elevation it may ask."""

    rule: int
    azimuth_from_deg: float
    azimuth_to_deg: float
    minimum_elevation_deg: float


@dataclass(frozen=True)
class NoWindow:
    """Why a pair has no window: `end` is home or partner, where the cause lies at one end.

    `below_horizon_deg` is how far below its horizon the lower end has the Moon at best; `hidden_by` are the fewest
    rules that together explain all instants.
    """

    kind: NoWindowKind
    end: str = ""
    below_horizon_deg: float = 0.0
    hidden_by: tuple[Hidden, ...] = ()


def why_no_window(
    rules: Rules, stations: tuple[int, int], azimuth_deg: FloatArray, elevation_deg: FloatArray
) -> NoWindow:
    """The cause for a pair without a window.

    `azimuth_deg` and `elevation_deg` are (2, n): home and partner at the same instants, elevation as the rules take it.
    """
    owner = np.repeat(np.array(stations)[:, None], azimuth_deg.shape[1], axis=1)
    clear = rules.clearances(owner, azimuth_deg, elevation_deg)  # (rules, 2, n)
    up = elevation_deg >= 0.0
    for row, end in enumerate(ENDS):
        if not up[row].any():
            return NoWindow(NoWindowKind.NEVER_RISES, end)
    both_up = up.all(axis=0)
    if not both_up.any():
        lower = float(elevation_deg.min(axis=0).max())
        return NoWindow(NoWindowKind.NEVER_ABOVE_BOTH, below_horizon_deg=-lower)
    # A stretch that began before the first night belongs to the one before: what is left of it explains nothing here.
    free = (clear >= 0.0).all(axis=(0, 1))
    if not (both_up & ~free).any():
        return NoWindow(NoWindowKind.BEFORE_FIRST_NIGHT)
    both_up &= ~free
    broken = clear[:, :, both_up] < 0.0
    azimuth, least = azimuth_deg[:, both_up], rules.minimum_elevation_deg[list(stations)]
    for row, end in enumerate(ENDS):
        if broken[:, row].any(axis=0).all():
            hidden = _hidden(broken[:, row], azimuth[row], float(least[row]))
            return NoWindow(NoWindowKind.ALWAYS_HIDDEN, end, hidden_by=hidden)
    # Each end sees it at times: what hides it from the partner whenever home is free?
    free = ~broken[:, 0].any(axis=0)
    hidden = _hidden(broken[:, 1][:, free], azimuth[1, free], float(least[1]))
    return NoWindow(NoWindowKind.HIDDEN_WHILE_HOME_SEES, ENDS[1], hidden_by=hidden)


def _hidden(broken: npt.NDArray[np.bool_], azimuth_deg: FloatArray, minimum_deg: float) -> tuple[Hidden, ...]:
    """What hides the Moon from one end at these instants: the fewest rules that together explain all of them."""
    found: list[Hidden] = []
    left = np.ones(azimuth_deg.size, dtype=bool)
    while left.any():
        # Where several rules explain as much, the skyline comes first: it cannot be changed by a wish.
        rule = int(np.argmax(broken[:, left].sum(axis=1)))
        found.append(Hidden(rule, *azimuth_range(azimuth_deg[broken[rule] & left]), minimum_deg))
        left &= ~broken[rule]
    return tuple(found)


def azimuth_range(azimuth_deg: FloatArray) -> tuple[float, float]:
    """The shortest arc, clockwise, that holds all azimuths. Azimuths (n,), degrees."""
    ordered = np.sort(azimuth_deg % 360.0)
    gaps = np.diff(np.concatenate([ordered, ordered[:1] + 360.0]))
    widest = int(np.argmax(gaps))
    return float(ordered[(widest + 1) % ordered.size]), float(ordered[widest])
