"""Plain words for what pydantic and the reader find: what each key means, its range, an example of it."""

from __future__ import annotations

import typing
from typing import Annotated, Any, get_args, get_origin

import annotated_types
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

# What a number is, by the name of its key; keys not listed are told by their range alone.
MEANINGS = {
    "latitude_deg": "a latitude in degrees, south negative,",
    "longitude_deg": "a longitude in degrees, west negative,",
    "height_m": "a height above sea level in metres",
    "azimuth_deg": "an azimuth in degrees from true north",
    "azimuth_from_deg": "an azimuth in degrees from true north",
    "azimuth_to_deg": "an azimuth in degrees from true north",
    "elevation_deg": "an elevation in degrees",
    "minimum_elevation_deg": "an elevation in degrees",
    "maximum_elevation_deg": "an elevation in degrees",
    "inclinometer_offset_deg": "an offset in degrees",
    "dial_resolution_deg": "the smallest step of the dial in degrees",
    "dish_diameter_m": "a diameter in metres",
    "aperture_efficiency": "a share, such as 0.55,",
    "gain_dbi": "a gain in decibels over an isotropic antenna",
    "beamwidth_deg": "a beamwidth between half-power points in degrees",
    "power_w": "a power at the feed in watts",
    "noise_figure_db": "a noise figure in decibels",
    "loss_before_preamplifier_db": "a loss in decibels",
    "spillover_fraction": "a share, such as 0.05,",
    "pointing_error_deg": "a root mean square error in degrees",
    "frequency_accuracy_hz": "an accuracy in hertz",
    "ground_gain_db": "a gain in decibels",
    "voltage_v": "a voltage in volts",
    "capacity_ah": "a capacity in ampere-hours",
    "usable_fraction": "a share, such as 0.8,",
    "receive_a": "a current in amperes",
    "transmit_a": "a current in amperes",
    "other_a": "a current in amperes",
    "contacts_wanted": "a number of contacts",
    "priority": "a weight, 1 being usual,",
    "step_minutes": "a number of minutes",
    "slot_minutes": "a number of minutes",
    "gap_minutes": "a number of minutes",
    "maximum_slots_per_night": "a number of slots",
    "maximum_nights": "a number of nights",
    "night_cost": "a number of contacts",
    "hour_cost": "a number of contacts",
    "minimum_sun_separation_deg": "an angle in degrees",
    "flux_10_7_cm": "the Sun's 10.7 cm flux in solar flux units",
    "arrive": "a number of minutes",
    "align": "a number of minutes",
    "check": "a number of minutes",
    "strong": "a chance",
    "workable": "a chance",
    "marginal": "a chance",
}

# How to write a key that must be there.
EXAMPLES = {
    "call": "call: QM7TOR",
    "position": "position: {locator: GF25cl, height_m: 212}",
    "latitude_deg": "latitude_deg: -34.50121",
    "longitude_deg": "longitude_deg: -55.80342",
    "time_zone": "time_zone: America/Montevideo",
    "azimuth_deg": "azimuth_deg: 95",
    "elevation_deg": "elevation_deg: 7.5",
    "days": "days: [fri, sat]",
    "from": "from: 18:00",
    "to": "to: 23:30",
    "voltage_v": "voltage_v: 12.8",
    "capacity_ah": "capacity_ah: 160",
    "name": "name: Basalt Tor",
    "email": "email: ines@basalt-tor.example",
    "home": "home: QM7TOR",
    "band": "band: 3cm",
    "flux_10_7_cm": "flux_10_7_cm: 140",
    "partner": "partner: QF4LUM",
    "start": "start: 2027-03-13T01:15Z",
    "state": "state: confirmed",
}


def limits_of(hint: Any) -> dict[str, float]:
    """The bounds of an annotated number, as {'ge': .., 'gt': .., 'le': .., 'lt': ..}."""
    found: dict[str, float] = {}
    if get_origin(hint) is Annotated:
        for note in get_args(hint)[1:]:
            for bound in note.metadata if isinstance(note, FieldInfo) else [note]:
                for name, kind in (
                    ("ge", annotated_types.Ge),
                    ("gt", annotated_types.Gt),
                    ("le", annotated_types.Le),
                    ("lt", annotated_types.Lt),
                ):
                    if isinstance(bound, kind):
                        found[name] = getattr(bound, name)
        return found
    for part in get_args(hint):
        found |= limits_of(part)
    return found


def range_words(limits: dict[str, float]) -> str:
    """`-450 to 6500`, `more than 0, at most 5000`."""
    if "ge" in limits and "le" in limits:
        return f"{limits['ge']:g} to {limits['le']:g}"
    low = f"{limits['ge']:g} or more" if "ge" in limits else f"more than {limits['gt']:g}" if "gt" in limits else ""
    high = f"at most {limits['le']:g}" if "le" in limits else f"less than {limits['lt']:g}" if "lt" in limits else ""
    return ", ".join(part for part in (low, high) if part)


def advice_for(error: ErrorDetails, cls: type, key: str) -> str:
    """The second half of the sentence for one of pydantic's errors about a value."""
    hint = typing.get_type_hints(cls, include_extras=True).get(str(error["loc"][0]))
    limits = limits_of(hint)
    if limits:
        meaning = MEANINGS.get(key, "a number")
        return f"{meaning} is meant, {range_words(limits)}."
    context = error.get("ctx", {})
    if error["type"] == "string_too_long":
        return f"at most {context.get('max_length')} characters are meant."
    if error["type"] == "string_too_short":
        return "some text is meant; leave the line out if there is none."
    return f"{error['msg'][:1].lower()}{error['msg'][1:]}."
