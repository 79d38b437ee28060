"""The units of the keys, by which operators write a figure, and figures with commas, points and blanks as numbers.

A key's unit is that of its name. Factors are exact by definition (SI, the international foot, the nautical mile);
decibels by their definition, a noise temperature by F = 1 + T / 290 K.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable

from pipeline.inputs.odd_characters import plain

Factor = float | Callable[[float], float]
# Rise of a noise figure over its temperature: the reference of the definition.
REFERENCE_K = 290.0
DIPOLE_DBI = 2.15
LENGTHS: dict[str, Factor] = {
    "m": 1.0, "metre": 1.0, "metres": 1.0, "meter": 1.0, "meters": 1.0, "metros": 1.0, "m\u00e8tres": 1.0, "metri": 1.0,
    "cm": 0.01, "mm": 0.001, "km": 1000.0, "ft": 0.3048, "feet": 0.3048, "foot": 0.3048, "'": 0.3048, "pies": 0.3048,
    "in": 0.0254, "inch": 0.0254, "inches": 0.0254, '"': 0.0254, "''": 0.0254, "zoll": 0.0254, "yd": 0.9144,
}  # fmt: skip
POWERS: dict[str, Factor] = {
    "w": 1.0, "watt": 1.0, "watts": 1.0, "vatios": 1.0, "kw": 1000.0, "mw": 0.001, "wrf": 1.0, "wpep": 1.0,
    "dbm": lambda value: 10 ** (value / 10) / 1000, "dbw": lambda value: 10 ** (value / 10),
}  # fmt: skip
SHARES: dict[str, Factor] = {"%": 0.01, "percent": 0.01, "prozent": 0.01, "pct": 0.01, "pourcent": 0.01}
FREQUENCIES: dict[str, Factor] = {"hz": 1e-6, "khz": 1e-3, "mhz": 1.0, "ghz": 1e3}
DECIBELS: dict[str, Factor] = {"db": 1.0, "decibel": 1.0, "decibels": 1.0}
TIMES: dict[str, Factor] = {
    "min": 1.0, "mins": 1.0, "minute": 1.0, "minutes": 1.0, "minuten": 1.0, "minutos": 1.0, "m": 1.0, "'": 1.0,
    "h": 60.0, "hr": 60.0, "hrs": 60.0, "hour": 60.0, "hours": 60.0, "std": 60.0, "s": 1 / 60, "sec": 1 / 60,
}  # fmt: skip
ANGLES: dict[str, Factor] = {
    "deg": 1.0, "degree": 1.0, "degrees": 1.0, "\u00b0": 1.0, "\u00ba": 1.0, "grad": 1.0, "grados": 1.0, "gradi": 1.0,
    "degr\u00e9s": 1.0, "graus": 1.0, "rad": 180 / math.pi, "mrad": 0.18 / math.pi, "'": 1 / 60, "arcmin": 1 / 60,
}  # fmt: skip
WINDS: dict[str, Factor] = {
    "m/s": 1.0, "ms": 1.0, "mps": 1.0, "km/h": 1 / 3.6, "kmh": 1 / 3.6, "kph": 1 / 3.6, "mph": 0.44704,
    "bft": lambda force: 0.836 * force**1.5, "beaufort": lambda force: 0.836 * force**1.5,  # WMO's own formula
    "kn": 1852 / 3600, "kt": 1852 / 3600, "kts": 1852 / 3600, "knots": 1852 / 3600,
}  # fmt: skip


def noise_figure_db(kelvin: float) -> float:
    """The noise figure of a noise temperature."""
    return 10 * math.log10(1 + kelvin / REFERENCE_K)


# By the end of the key's name, or by the whole of it: what the unit is called, and the units that can stand for it.
QUANTITIES: dict[str, tuple[str, dict[str, Factor]]] = {
    "noise_figure_db": ("decibels", DECIBELS | {"k": noise_figure_db, "kelvin": noise_figure_db}),
    "gain_dbi": ("decibels over an isotropic antenna", DECIBELS | {"dbi": 1.0, "dbd": lambda gain: gain + DIPOLE_DBI}),
    "maximum_wind_m_s": ("metres a second", WINDS),
    **dict.fromkeys(
        ("aperture_efficiency", "spillover_fraction", "usable_fraction", "presence", "strong", "workable", "marginal"),
        ("a share", SHARES),
    ),
    "hours_to_get_there": ("hours", {unit: factor / 60 for unit, factor in TIMES.items() if isinstance(factor, float)}),
    "flux_10_7_cm": ("solar flux units", {"sfu": 1.0}),
    **dict.fromkeys(("arrive", "align", "check", "least", "most", "_minutes"), ("minutes", TIMES)),
    **dict.fromkeys(("horizontal", "vertical", "_deg"), ("degrees", ANGLES)),
    "_w": ("watts", POWERS),
    "_m": ("metres", LENGTHS),
    "_mhz": ("megahertz", FREQUENCIES),
    "_hz": ("hertz", {"hz": 1.0, "khz": 1e3, "mhz": 1e6, "ghz": 1e9}),
    "_db": ("decibels", DECIBELS),
    "_v": ("volts", {"v": 1.0, "volt": 1.0, "volts": 1.0, "vdc": 1.0, "mv": 0.001}),
    "_ah": ("ampere-hours", {"ah": 1.0, "mah": 0.001}),
    "_a": ("amperes", {"a": 1.0, "amp": 1.0, "amps": 1.0, "ampere": 1.0, "amperes": 1.0, "ma": 0.001}),
    "contacts_wanted": ("a number of contacts", {"x": 1.0, "qso": 1.0, "qsos": 1.0}),
}
FIGURE = r"[+-]?(?:\d[\d., ]*\d|\d|[.,]\d+)(?:[eE][+-]?\d+)?"


def quantity(key: str) -> tuple[str, dict[str, Factor]] | None:
    """What the unit of a key is called, and the units by their usual spellings; None for a key without one."""
    if key in QUANTITIES:
        return QUANTITIES[key]
    ending = next((ending for ending in QUANTITIES if ending.startswith("_") and key.endswith(ending)), None)
    return QUANTITIES[ending] if ending else None


def name_of(key: str) -> str:
    """What the unit of a key is called."""
    return (quantity(key) or ("", {}))[0]


def readings(figure: str) -> list[float]:
    """What a figure with commas, points and blanks can mean; two values where a comma may part thousands."""
    figure = figure.replace(" ", "").replace("'", "")
    commas, points = figure.count(","), figure.count(".")
    if commas and points:
        # The mark that comes last and once parts the decimals.
        last, other = (",", ".") if figure.rfind(",") > figure.rfind(".") else (".", ",")
        texts = [figure.replace(other, "").replace(last, ".")] if figure.count(last) == 1 else []
    elif commas > 1 or points > 1:
        texts = [figure.replace(",", "").replace(".", "")]
    elif commas and re.fullmatch(r"[+-]?[1-9]\d{0,2},\d{3}", figure):
        texts = [figure.replace(",", "."), figure.replace(",", "")]
    else:
        texts = [figure.replace(",", ".")]
    try:
        return [float(text) for text in texts]
    except ValueError:
        return []


def figure_in(key: str, text: str) -> str:
    """`2,4m`, `0.1 kW` in the unit of a key; empty where the figure or the unit is not sure, or not one of the key."""
    found = re.fullmatch(rf"({FIGURE})\s*(\D*)", plain(text).rstrip(" .,;"))
    _, units = quantity(key) or ("", {})
    values = readings(found[1]) if found else []
    factor = units.get(found[2].casefold()) if found and found[2] else 1.0
    if len(values) != 1 or factor is None:
        return ""
    return spelled(factor(values[0]) if callable(factor) else factor * values[0], factor != 1.0)


def spelled(value: float, converted: bool = False) -> str:
    """The number as a file has it; one that was worked out in three figures, or in what it holds exactly."""
    exact = f"{value:.9g}"
    if converted and len(exact.lstrip("-0.").replace(".", "")) > 4:
        return f"{value:.3g}" if abs(value) < 1000 else f"{value:.0f}"
    return exact
