"""The page on how the figures were made: policy, notes and assumptions of this plan in words."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from pipeline.reports import formats
from pipeline.reports.views import Assumption, Method

if TYPE_CHECKING:
    from pipeline.inputs.model import Station
    from pipeline.planning.plan import Plan

# Endings of keys to units as they are printed.
UNITS = {
    "_db": "dB",
    "_dbi": "dBi",
    "_w": "W",
    "_deg": "°",
    "_m": "m",
    "_hz": "Hz",
    "_mhz": "MHz",
    "_v": "V",
    "_ah": "Ah",
    "_a": "A",
}
WHOLE_KEYS = {
    "available": "at the station from 07:00 to 23:30 local time",
    "horizon": "a flat horizon at 0°",
    "minimum_elevation_deg": "no minimum elevation beyond the horizon",
    "mount": "a mount that reaches everywhere",
}


def method_view(plan: Plan) -> Method:
    """What the last page is given."""
    stations = {plan.inputs.home.call: plan.inputs.home, **{one.call: one for one in plan.inputs.partners}}
    assumed = tuple(
        Assumption(call, formats.listed(_words(keys, stations.get(call), plan.band)))
        for call, keys in plan.assumed.items()
        if keys
    )
    notes = tuple(note for note in plan.notes if note not in plan.inputs.warnings)
    return Method(_policy(plan), notes, plan.inputs.warnings, assumed, "outcome" in plan.nights.columns)


def _policy(plan: Plan) -> tuple[str, ...]:
    """The rules of this season that shaped the windows."""
    policy, home = plan.inputs.season.policy, plan.inputs.home
    lines = [
        "Windows count the Moon's apparent place, lifted by radio refraction."
        if policy.refraction
        else "Windows are geometric: refraction was switched off in the season file.",
    ]
    if home.minimum_elevation_deg:
        lines.append(f"At home the Moon must stand {formats.plain(home.minimum_elevation_deg)}° high at least.")
    surveyed = "with" if home.horizon else "without"
    lines.append(f"Home is planned {surveyed} a surveyed horizon.")
    return tuple(lines)


def _words(keys: tuple[str, ...], station: Station | None, band: str) -> list[str]:
    """`bands.3cm.noise_figure_db` to `noise figure 0.8 dB`; each thing once."""
    words = [assumed_words(key, station) for key in keys if not key.startswith("bands.") or f".{band}." in key]
    return list(dict.fromkeys(words))


def assumed_words(key: str, station: Station | None) -> str:
    """One assumed key in words, with its value where the station shows it."""
    if key in WHOLE_KEYS:
        return WHOLE_KEYS[key]
    last = key.rsplit(".", 1)[-1]
    name, unit = last, ""
    for ending, printed in sorted(UNITS.items(), key=lambda pair: -len(pair[0])):
        if last.endswith(ending):
            name, unit = last[: -len(ending)], printed
            break
    value = _value(station, key)
    label = name.replace("_", " ")
    if last.endswith("_fraction") and isinstance(value, float):
        return f"{label.removesuffix(' fraction')} {formats.plain(value * 100)} %"
    if isinstance(value, bool) or value is None:
        return label
    if isinstance(value, int | float):
        # A non-breaking space keeps the figure and its unit on one line; the degree sign stands close.
        return f"{label} {formats.plain(value)}{'' if unit in ('', '°') else chr(0xA0)}{unit}"
    if isinstance(value, tuple):
        return f"{label} {', '.join(str(item) for item in value)}"
    return f"{label} {value}"


def _value(station: Station | None, key: str) -> Any:
    """What the dotted key leads to; None where it leads nowhere plain."""
    found: Any = station
    for part in re.split(r"\.", key):
        found = found.get(part) if isinstance(found, dict) else getattr(found, part, None)
    plain = isinstance(found, str | int | float) or (
        isinstance(found, tuple) and all(isinstance(item, str) for item in found)
    )
    return found if plain else None
