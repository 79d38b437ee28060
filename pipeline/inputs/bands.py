"""The band table of `data/bands.yaml`: limits, usual frequency, and the equipment assumed where a figure is absent.

Names: the band and mode enumerations of the ADIF specification 3.1 (adif.org), from memory.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from pipeline.inputs.yaml_tree import load_tree

BANDS_FILE = Path(__file__).resolve().parent.parent / "data" / "bands.yaml"

# Modes in which contacts off the Moon are or could be made, as the enumeration spells them.
MODES = (
    "Q65", "JT65", "JT4", "CW", "SSB", "FT8", "FT4", "FST4", "JT9", "JT44", "JT6M", "QRA64", "MSK144", "FSK441",
    "ISCAT", "OLIVIA", "PSK31", "RTTY", "HELL", "FM", "AM", "WSPR", "FST4W",
)  # fmt: skip


@dataclass(frozen=True)
class Band:
    """One band: limits and usual frequency in MHz, and the figures of `BandEquipment` to assume, still as text.

    `doubt_db` is the standard deviation of what each of some figures is worth where it is assumed.
    """

    name: str
    lowest_mhz: float
    highest_mhz: float
    typical_mhz: float
    equipment: dict[str, Any]
    doubt_db: dict[str, float]

    def holds(self, frequency_mhz: float) -> bool:
        """Whether a frequency lies in the band, its edges included."""
        return self.lowest_mhz <= frequency_mhz <= self.highest_mhz


@lru_cache(maxsize=1)
def band_table() -> dict[str, Band]:
    """All bands by name, from long waves to short."""
    tree = load_tree(BANDS_FILE.read_bytes(), BANDS_FILE.name)
    return {
        name: Band(
            name=name,
            lowest_mhz=float(row["lowest_mhz"]),
            highest_mhz=float(row["highest_mhz"]),
            typical_mhz=float(row["typical_mhz"]),
            equipment=row["equipment"],
            doubt_db={name: float(doubt) for name, doubt in row["doubt_db"].items()},
        )
        for name, row in tree.data.items()
    }


def band_of(frequency_mhz: float) -> str | None:
    """Name of the band that holds a frequency, or None."""
    return next((name for name, band in band_table().items() if band.holds(frequency_mhz)), None)


# Radar bands by their letters (IEEE 521) that hold one band of ours.
LETTERS = {"l": "23cm", "s": "13cm", "c": "6cm", "x": "3cm", "k": "1.25cm"}


def bands_meant(compact: str) -> list[str]:
    """The bands of a frequency with or without its unit, of a bare wavelength, or of a letter."""
    letter = LETTERS.get(re.sub(r"-?band$", "", compact))
    if letter:
        return [letter]
    frequency = re.fullmatch(r"(\d+(?:[.,]\d+)?)(g|ghz|mhz)?", compact, re.ASCII)
    if not frequency:
        return []
    value, unit = float(frequency[1].replace(",", ".")), frequency[2] or ""
    factors = (1.0,) if unit == "mhz" else (1000.0,) if unit else (1000.0, 1.0)
    found = [band_of(value * factor) for factor in factors]
    lengths = [name for name in band_table() if not unit and re.fullmatch(rf"{re.escape(frequency[1])}(c?m|mm)", name)]
    return list(dict.fromkeys([*[name for name in found if name], *lengths]))
