"""Powering the station in words: currents at the battery, limits that are the operator's own, the order of proofs.

Currents are the station file's. A limit that it does not give is a blank: no safety figure is invented here. The order
is common practice, no source: preamplifier before changeover, changeover before drive, drive from its lowest.
"""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.inputs.model import Battery, Mount
from pipeline.wording import formats

BLANK = "____"


@dataclass(frozen=True)
class Powers:
    """Amperes at the battery while receiving and while sending, None without a battery; limits None where not given."""

    receive_a: float | None
    transmit_a: float | None
    minimum_voltage_v: float | None
    maximum_wind_m_s: float | None


def powers_of(battery: Battery | None, mount: Mount) -> Powers:
    """All else that runs off the battery is in both currents. A current of nothing was not given."""
    if battery is None:
        return Powers(None, None, None, mount.maximum_wind_m_s)
    return Powers(
        battery.receive_a + battery.other_a if battery.receive_a else None,
        battery.transmit_a + battery.other_a if battery.transmit_a else None,
        battery.minimum_voltage_v,
        mount.maximum_wind_m_s,
    )


def weather_words(powers: Powers) -> str:
    """What forbids the night."""
    return f"Wind to {_or_blank(powers.maximum_wind_m_s)} m/s, thunder, ice."


def powers_words(powers: Powers) -> str:
    """What to see on the meters before anything is sent."""
    return (
        f"No open end; drive lowest. Receiving {_or_blank(powers.receive_a)} A; "
        f"never under {_or_blank(powers.minimum_voltage_v)} V."
    )


def changeover_words(powers: Powers, antenna: str) -> str:
    """The order in which it is proven, and where the antenna looks meanwhile."""
    return (
        f"{antenna.capitalize()} high, clear. Keyed, no drive: noise gone. Lowest drive, then full: "
        f"{_or_blank(powers.transmit_a)} A. Back: noise as before."
    )


def _or_blank(value: float | None) -> str:
    return BLANK if value is None else formats.plain(value)
