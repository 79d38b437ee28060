"""The page on how the figures were made: policy, notes and assumptions of this plan in words."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from pipeline.link.rain import shower
from pipeline.reports.learnt import learnt_lines, rests_on
from pipeline.reports.views import Assumption, Method, partner_bands
from pipeline.wording import formats
from pipeline.wording.assumed import SKYLINE_UNKNOWN, below_words
from pipeline.wording.corrections import less_doubt_words, taught_words
from pipeline.wording.terrain import home_skyline_words, terrain_words

if TYPE_CHECKING:
    from pipeline.inputs.model import Season, Station
    from pipeline.plan.plan import Plan

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
    "minimum_elevation_deg": "no minimum elevation beyond the horizon",
    "mount": "a mount that reaches everywhere",
}

BY_THE_SUN = "at the station from 07:00 to 23:30 by the mean Sun, its time zone not being known"


def method_view(plan: Plan) -> Method:
    """What the last page is given."""
    stations = {plan.inputs.home.call: plan.inputs.home, **{one.call: one for one in plan.inputs.partners}}
    bands = {plan.inputs.home.call: plan.band, **partner_bands(plan)}
    named: dict[str, Station | Season] = {"season": plan.inputs.season, **stations}
    calls: dict[str, list[str]] = {}
    below_deg = plan.inputs.season.policy.assumed_skyline.nine_in_ten_deg
    for call, keys in plan.assumed.items():
        words = formats.listed(_words(keys, named.get(call), bands.get(call, plan.band), below_deg))
        if words:
            calls.setdefault(words, []).append(call)
    # Stations of which the same is assumed share a line.
    assumed = tuple(Assumption(formats.listed(found), words) for words, found in calls.items())
    notes = tuple(note for note in plan.notes if note not in plan.inputs.warnings)
    return Method(
        policy=_policy(plan),
        notes=notes,
        warnings=plan.inputs.warnings,
        assumed=assumed,
        outcome=_outcome_words(plan),
        ranking=_ranking_words(plan),
        weather=weather_words(plan.frequency_mhz),
        learnt=learnt_lines(plan.inputs),
        taught=taught_words(*rests_on(plan.inputs)),
    )


def _outcome_words(plan: Plan) -> str:
    """What the outcome of a window means, with this season's thresholds."""
    policy = plan.inputs.season.policy
    limits = policy.outcome_thresholds
    less = less_doubt_words(*rests_on(plan.inputs))
    learnt = any(one.presence is not None for one in plan.inputs.record.corrections)
    there = ", or the log has taught" if learnt else ""
    skyline = policy.assumed_skyline.median_deg
    return (
        f"A window's chance is that of completing a contact in its best {policy.slot_minutes.most} minutes, both ends "
        f"on the air, with 2 dB of doubt about each way{less}, and more for each figure of power, antenna, noise and "
        "losses that a file leaves to be assumed; what rests on such figures, or on a skyline nobody has told, is "
        f"never called strong. Contacts to expect count, besides, that a partner is there in {policy.presence:.0%} of "
        f"the nights agreed (or as its file says{there}) and that half of all unknown skylines lie above "
        f"{skyline:g} degrees. The words follow from it: "
        f"strong from {limits.strong:.0%}, workable from {limits.workable:.0%}, marginal from {limits.marginal:.0%}, "
        "unlikely below. Reports are expected signal over noise in 2500 Hz."
    )


def _ranking_words(plan: Plan) -> str:
    """How nights are judged and ranked."""
    return (
        "A night's word is that of the best chance within the hours of both ends; nights are ranked by the contacts "
        "that the best agenda of each alone should bring, then by the least degradation. Figures of the Moon in the "
        "month's cells are those of its highest point. The file nights.csv holds every figure of the ranking."
    )


def weather_words(frequency_mhz: float) -> str:
    """What rain would cost on this band (ITU-R P.838)."""
    steady, heavy = (shower(frequency_mhz, rain) for rain in (5.0, 25.0))
    if heavy.loss_db < 0.2:
        return "All figures are for clear air. On this band rain costs next to nothing; a wet feed or connector can."
    return (
        "All figures are for clear air. With the Moon 20° up, steady rain (5 mm an hour) on the way costs each end "
        f"about {formats.decibels_in_words(steady.loss_db)} each way and adds {steady.noise_k:.0f} K of noise; heavy "
        f"rain (25 mm an hour) costs {formats.decibels_in_words(heavy.loss_db)} and adds {heavy.noise_k:.0f} K "
        "(ITU-R P.838). A wet feed cover can cost as much again."
    )


def _policy(plan: Plan) -> tuple[str, ...]:
    """The rules of this season that shaped the windows."""
    policy = plan.inputs.season.policy
    lines = [
        "Windows count the Moon's apparent place, lifted by radio refraction."
        if policy.refraction
        else "Windows are geometric: refraction was switched off in the season file.",
    ]
    for home in plan.inputs.homes:
        where = f"At {home.title}" if plan.inputs.sites else "At home"
        if home.minimum_elevation_deg:
            lines.append(f"{where} the Moon must stand {formats.plain(home.minimum_elevation_deg)}° high at least.")
        lines.append(home_skyline_words(home, home.title if plan.inputs.sites else "Home"))
    if others := terrain_words(plan.inputs.partners):
        lines.append(f"{others[0].upper()}{others[1:]}.")
    return tuple(lines)


def _words(keys: tuple[str, ...], station: Station | Season | None, band: str, below_deg: float) -> list[str]:
    """`bands.3cm.noise_figure_db` to `noise figure 0.8 dB`; each thing once, other bands left out."""
    words = []
    for key in keys:
        if key == f"bands.{band}":
            words.append(f"all equipment on {formats.band(band)}")
        elif not key.startswith("bands.") or f".{band}." in key:
            words.append(assumed_words(key, station, below_deg))
    return list(dict.fromkeys(words))


def assumed_words(key: str, station: Station | Season | None, below_deg: float) -> str:
    """One assumed key in words, with its value where the station shows it; nine unknown skylines in ten lie below."""
    if key == "horizon":
        return f"{SKYLINE_UNKNOWN}, {below_words(below_deg)}"
    if key == "available" and not getattr(station, "time_zone", None):
        return BY_THE_SUN
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


def _value(station: Station | Season | None, key: str) -> Any:
    """What the dotted key leads to; None where it leads nowhere plain."""
    found: Any = station
    for part in re.split(r"\.", key):
        found = found.get(part) if isinstance(found, dict) else getattr(found, part, None)
    plain = isinstance(found, str | int | float) or (
        isinstance(found, tuple) and all(isinstance(item, str) for item in found)
    )
    return found if plain else None
