"""What was assumed of a partner's station, in short phrases: what its file says, and apart from it what is a guess."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipeline.inputs.locator import locator_of
from pipeline.letters.document import Section
from pipeline.wording import formats
from pipeline.wording.words import one_line

if TYPE_CHECKING:
    from pipeline.inputs.model import BandEquipment, Station

DAY_NAMES = {"mon": 0, "tue": 1, "wed": 2, "thu": 3, "fri": 4, "sat": 5, "sun": 6}


def station_section(station: Station, band: str) -> Section:
    """What we counted with; whatever nobody has told us is marked as a guess."""
    figures = _figures(station, band)
    told = [words for words, guessed in figures if not guessed]
    guesses = [words for words, guessed in figures if guessed]
    paragraphs = ["This is what we know of your station. Please correct what is wrong."]
    points = [f"We have: {', '.join(told)}."] if told else []
    if guesses:
        points.append(f"We guessed: {', '.join(guesses)}.")
    points.append(f"Your hours{' (a guess)' if 'available' in station.assumed else ''}: {_hours(station)}.")
    return Section("station", "Your station: please correct", tuple(paragraphs), tuple(points))


def short_station(station: Station, band: str) -> str:
    """`1.2 m dish, 20 W, at RE44qt`, each guess marked by a question mark: for the chat."""
    equipment = station.bands[band]
    antenna, power = _antenna(equipment), f"{formats.plain(equipment.power_w)} W"
    marks = ["?" if _assumed(station, band, key) else "" for key in ("antenna", "power_w")]
    return f"{antenna}{marks[0]}, {power}{marks[1]}, at {_locator(station)}"


def _figures(station: Station, band: str) -> list[tuple[str, bool]]:
    """Each figure in words, and whether it is a guess."""
    equipment = station.bands[band]
    found = [
        (_antenna(equipment), _assumed(station, band, "antenna.dish_diameter_m", "antenna.gain_dbi")),
        (f"{formats.plain(equipment.power_w)} W at the feed", _assumed(station, band, "power_w")),
        (f"at {_place(station)}", False),
        (f"{formats.plain(station.position.height_m)} m above the sea", "position.height_m" in station.assumed),
        (f"noise figure {formats.plain(equipment.noise_figure_db)} dB", _assumed(station, band, "noise_figure_db")),
        (_feed(equipment), _assumed(station, band, "polarization")),
        (f"modes {formats.listed(list(equipment.modes))}", _assumed(station, band, "modes")),
        (
            f"frequency accurate to {formats.plain(equipment.frequency_accuracy_hz)} Hz",
            _assumed(station, band, "frequency_accuracy_hz"),
        ),
        (_horizon(station), "horizon" in station.assumed),
    ]
    if station.time_zone:
        zone = one_line(station.time_zone).replace("_", " ")
        found.append((f"time zone {zone}", "time_zone" in station.assumed))
    return found


def _assumed(station: Station, band: str, *keys: str) -> bool:
    whole = f"bands.{band}"
    return whole in station.assumed or any(f"{whole}.{key}" in station.assumed for key in keys)


def _antenna(equipment: BandEquipment) -> str:
    antenna = equipment.antenna
    if antenna.dish_diameter_m is not None:
        return f"{formats.plain(antenna.dish_diameter_m)} m dish"
    return f"antenna of {formats.plain(antenna.gain_dbi or 0.0)} dBi"


def _locator(station: Station) -> str:
    place = station.position
    return place.locator or locator_of(place.latitude_deg, place.longitude_deg)


def _place(station: Station) -> str:
    place = station.position
    return f"{_locator(station)} ({formats.place(place.latitude_deg, place.longitude_deg)})"


def _feed(equipment: BandEquipment) -> str:
    words = {"rotatable": "a feed that can be turned", "circular": "a feed for circular polarization"}
    return words.get(equipment.polarization, f"a {equipment.polarization} feed")


def _horizon(station: Station) -> str:
    lowest = station.minimum_elevation_deg
    skyline = "your surveyed horizon" if station.horizon else "a flat, free horizon"
    return skyline + (f", not below {formats.plain(lowest)}°" if lowest else "")


def _hours(station: Station) -> str:
    if station.available == "always":
        return "you can be there at any time"
    if not station.available:
        return "every day 07:00 to 23:30, your time"
    parts = [
        f"{_days([DAY_NAMES[day] for day in hours.days])} {hours.start:%H:%M} to {hours.until:%H:%M}"
        for hours in station.available
    ]
    return f"{' and '.join(parts)}, your time"


def _days(days: list[int]) -> str:
    """`Mon to Fri`, `Sat, Sun`, `every day`."""
    if len(set(days)) == 7:
        return "every day"
    runs: list[list[int]] = []
    for day in sorted(set(days)):
        if runs and day == runs[-1][-1] + 1:
            runs[-1].append(day)
        else:
            runs.append([day])
    names = formats.WEEKDAYS
    words = []
    for run in runs:
        words += [f"{names[run[0]]} to {names[run[-1]]}"] if len(run) > 2 else [names[day] for day in run]
    return ", ".join(words)
