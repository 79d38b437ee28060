"""Figures of safety and deadlines as they are printed: never nearer, longer or later than they are.

A distance to keep and energy to bring go up, a margin and a clearance down, a deadline to the minute before.
"""

from __future__ import annotations

import datetime as dt
import math
from typing import Literal

# What a product of floats may be off: 2.3 in tenths is 23, and not 22.
SLACK = 1e-9
MINUTE = dt.timedelta(minutes=1)
Way = Literal["up", "down"]


def rounded(value: float, way: Way, digits: int = 0) -> float:
    """The next figure of so many decimals upwards or downwards; a figure that has no more stays."""
    scale = 10.0**digits
    steps = math.ceil(value * scale - SLACK) if way == "up" else math.floor(value * scale + SLACK)
    return steps / scale


def up(value: float, digits: int = 0) -> str:
    """Of what must not be told too small, printed with these decimals."""
    return f"{rounded(value, 'up', digits) + 0.0:.{digits}f}"


def down(value: float, digits: int = 0) -> str:
    """Of what must not be told too large, printed with these decimals."""
    return f"{rounded(value, 'down', digits) + 0.0:.{digits}f}"


def no_later(moment: dt.datetime) -> dt.datetime:
    """The whole minute at or before an instant: a deadline."""
    return moment.replace(second=0, microsecond=0)


def no_sooner(moment: dt.datetime) -> dt.datetime:
    """The whole minute at or after an instant: from when something is safe."""
    full = no_later(moment)
    return full if full == moment else full + MINUTE
