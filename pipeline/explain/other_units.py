"""Figures that are unusual in the unit of their key and usual in another one: hours for minutes, feet for metres.

Factors are the definitions of the units (NIST Special Publication 811, appendix B, from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

# By the end of a key: units that people write in its place, with what makes them the key's own. The likelier first.
UNITS: Mapping[str, tuple[tuple[str, float], ...]] = {
    "minutes": (("hours", 60.0), ("seconds", 1.0 / 60.0)),
    "hours": (("minutes", 1.0 / 60.0),),
    "m": (("feet", 0.3048), ("centimetres", 0.01), ("millimetres", 0.001), ("kilometres", 1000.0)),
    "w": (("kilowatts", 1000.0), ("milliwatts", 0.001)),
    "v": (("millivolts", 0.001),),
    "a": (("milliamperes", 0.001),),
    "m_s": (("kilometres an hour", 1.0 / 3.6), ("knots", 0.514444)),
}
# In this order, for the second is the end of the first.
ENDS = ("m_s", "minutes", "hours", "m", "w", "v", "a")


def unit_for(key: str, value: float, low: float, high: float) -> tuple[str, float] | None:
    """The first unit in which a figure is usual, and the figure in the unit of its key; None where there is none."""
    return next(iter(units_for(key, value, low, high)), None)


def point_for(value: float, low: float, high: float) -> float | None:
    """A figure that is usual with its decimal point one or two places to the left: 24 for 2.4; None for any other."""
    moved = (float(f"{value / 10.0:.6g}"), float(f"{value / 100.0:.6g}"))
    return next((one for one in moved if low <= one <= high and one > 0.0), None)


def meant_for(key: str, value: float, low: float, high: float) -> tuple[str, float | None]:
    """The unit in which a figure is usual and what it is then, else without a unit what it is with its point."""
    return unit_for(key, value, low, high) or ("", point_for(value, low, high) if value > high else None)


def units_for(key: str, value: float, low: float, high: float) -> Iterable[tuple[str, float]]:
    """Every such unit with the figure that it makes."""
    name = key.removesuffix(".least").removesuffix(".most")
    group, _, last = name.rpartition(".")
    words = last.split("_")
    end = "hours" if words[0] == "hours" else ""
    end = end or next((end for end in ENDS if last.endswith(f"_{end}") or last == end or group.endswith(f"_{end}")), "")
    for unit, factor in UNITS.get(end, ()):
        meant = float(f"{value * factor:.4g}")
        if low <= meant <= high and meant > 0.0:
            yield unit, meant
