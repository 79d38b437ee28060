"""Where contacts by the Moon are looked for in each band, and a frequency that lies elsewhere.

Common practice of several countries, no source; most have their own piece of a band.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from pipeline.explain.digits import with_two_exchanged
from pipeline.explain.slip_values import OddFrequency
from pipeline.inputs.bands import band_table

Pieces = tuple[tuple[float, float], ...]
LOOKED_FOR_MHZ: Mapping[str, Pieces] = {
    "6m": ((50.0, 51.0),),
    "2m": ((144.0, 145.0),),
    "1.25m": ((222.0, 223.0),),
    "70cm": ((430.0, 433.0),),
    "33cm": ((902.0, 904.0),),
    "23cm": ((1295.0, 1297.5),),
    "13cm": ((2300.0, 2306.0), (2319.0, 2322.0), (2399.0, 2426.0)),
    "9cm": ((3399.0, 3402.0), (3455.0, 3458.0)),
    "6cm": ((5759.0, 5762.0),),
    "3cm": ((10367.0, 10371.0), (10449.0, 10453.0)),
    "1.25cm": ((24047.0, 24051.0), (24191.0, 24195.0)),
    "6mm": ((47087.0, 47091.0),),
}
DECIMALS = 3


def frequency_oddities(frequency_mhz: float | None, band: str, key: str) -> Iterator[OddFrequency]:
    """A frequency outside all pieces of its band, and what it is by two digits exchanged where that lies inside."""
    pieces = LOOKED_FOR_MHZ.get(band, ())
    if frequency_mhz is None or not pieces or _inside(frequency_mhz, pieces):
        return
    limits = band_table()[band]
    if not limits.lowest_mhz <= frequency_mhz <= limits.highest_mhz:
        return  # of another band, which is told by itself
    usual = limits.typical_mhz
    others = [one for one in with_two_exchanged(frequency_mhz, DECIMALS) if _inside(one, pieces)]
    meant = min(others, key=lambda one: abs(one - usual), default=None)
    yield OddFrequency(key, frequency_mhz, pieces, meant)


def _inside(frequency_mhz: float, pieces: Pieces) -> bool:
    return any(first <= frequency_mhz <= last for first, last in pieces)
