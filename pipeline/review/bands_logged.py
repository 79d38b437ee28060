"""Which band a record means: BAND and FREQ held against each other and against what is planned with the partner.

Band names and limits: band enumeration of ADIF 3.1.x (adif.org) by `inputs.bands`. 6m, 6cm and 6mm, or 1.25m and
1.25cm, differ by one letter; kilohertz and hertz in place of megahertz are slips of logs filled from a dial.
"""

from __future__ import annotations

import math
import re

from pipeline.inputs.bands import band_of, band_table

UNITS = ((1.0, "megahertz"), (1e-3, "kilohertz"), (1e-6, "hertz"), (1e3, "gigahertz"))
Note = tuple[str, str]


def band_and_frequency(
    band_text: str, frequency_text: str, receive_band_text: str, bands: tuple[str, tuple[str, ...]]
) -> tuple[str, float | None, list[Note]]:
    """Band, frequency in MHz (None where none can be read) and what is odd: pairs of what is wrong and what is taken.

    A contact across bands gives both, `3cm/13cm`. `bands` is the band planned with the partner and all those that both
    ends have figures for.
    """
    planned, both = bands
    notes: list[Note] = []
    named = _band_name(band_text)
    frequency = _frequency(frequency_text, named, notes)
    lies_in = band_of(frequency) if frequency is not None else None
    if named and lies_in and named != lies_in:
        notes.append((f"BAND says {named}, but {frequency:g} MHz lies in {lies_in}", f"{lies_in} is taken"))
    elif band_text and not named:
        taken = lies_in or planned
        notes.append((f"there is no band '{band_text[:20]}'", f"{taken} is taken"))
    elif not band_text and not lies_in:
        notes.append(("the band is missing", f"{planned}, the band planned with this partner, is taken"))
    band = lies_in or named or planned
    if lies_in is None and band != planned and band not in both and _letters_apart(band, planned):
        notes.append((f"BAND says {band}, but {planned} is planned with this partner", f"{planned} is taken"))
        band = planned
    received = _band_name(receive_band_text)
    if received and received != (named or band):
        return f"{band}/{received}", frequency, notes
    return band, frequency, notes


def _letters_apart(first: str, second: str) -> bool:
    """Whether two names have the same number and differ in the unit alone."""
    return first.rstrip("cm") == second.rstrip("cm")


def _band_name(text: str) -> str | None:
    """The band of the table that a text names, in any case; a frequency such as 10 GHz names one too."""
    compact = re.sub(r"\s", "", text).casefold()
    if compact in band_table():
        return compact
    by_frequency = re.fullmatch(r"(\d{1,6}(?:\.\d{1,6})?)(g|ghz|mhz)", compact, re.ASCII)
    if by_frequency is None:
        return None
    return band_of(float(by_frequency[1]) * (1.0 if by_frequency[2] == "mhz" else 1e3))


def _frequency(text: str, named: str | None, notes: list[Note]) -> float | None:
    """The frequency in MHz; the unit that brings it into the named band wins, else any that brings it into one."""
    if not text:
        return None
    try:
        value = float(text.replace(",", ".")) if len(text) <= 20 else math.nan
    except ValueError:
        value = math.nan
    if not math.isfinite(value) or value <= 0:
        notes.append((f"FREQ '{text[:20]}' is no frequency", "write megahertz, like 10368.1"))
        return None
    in_band = [unit for unit in UNITS if named and band_table()[named].holds(value * unit[0])]
    in_any = [unit for unit in UNITS if band_of(value * unit[0])]
    if not in_band and not in_any:
        notes.append((f"FREQ {value:g} lies in no band in megahertz", "write megahertz, like 10368.1"))
        return None
    factor, unit = (in_band or in_any)[0]
    if factor != 1.0:
        notes.append((f"FREQ {value:.12g} looks like {unit}", f"{value * factor:.9g} MHz is taken"))
    return value * factor
