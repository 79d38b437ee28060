"""What was assumed of a partner's station, in short phrases: what its file says, and apart from it what is a guess."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipeline.inputs.locator import locator_of
from pipeline.letters.document import Section
from pipeline.letters.sky_answer import is_told_in_part
from pipeline.pairs.assumed import skyline_is_assumed
from pipeline.wording import formats, phrases, sentences
from pipeline.wording.speech import Speech, speech_for
from pipeline.wording.words import one_line

if TYPE_CHECKING:
    from pipeline.inputs.model import BandEquipment, Station
    from pipeline.plan.views import PartnerView

DAY_NAMES = {"mon": 0, "tue": 1, "wed": 2, "thu": 3, "fri": 4, "sat": 5, "sun": 6}


def station_section(view: PartnerView) -> Section:
    """What we counted with; whatever nobody has told us is marked as a guess.

    Where the Moon is never up for both, nothing but place and horizon matters.
    """
    station, speech = view.station, speech_for(view.station)
    below_deg = view.policy.assumed_skyline.nine_in_ten_deg
    figures = _place_figures(station, speech, below_deg)
    if view.no_window is None:
        figures = _figures(station, view.band, speech, below_deg)
    told = [words for words, guessed in figures if not guessed]
    guesses = [words for words, guessed in figures if guessed]
    points = [speech.say(sentences.WE_KNOW, figures=speech.say(sentences.COMMA).join(told))] if told else []
    if guesses:
        points.append(speech.say(sentences.WE_GUESSED, figures=speech.say(sentences.COMMA).join(guesses)))
    if view.no_window is None:
        hours = sentences.YOUR_HOURS_GUESSED if "available" in station.assumed else sentences.YOUR_HOURS
        points.append(speech.say(hours, hours=_hours(station, speech)))
    lead = speech.say(sentences.STATION_LEAD)
    return Section("station", speech.say(sentences.STATION_TITLE), (lead,), tuple(points))


def short_station(station: Station, band: str, speech: Speech) -> str:
    """`We count with 1.2 m dish, 20 W, at RE44qt: right?`, each guess marked by a question mark: for the chat."""
    equipment = station.bands[band]
    figures = {"antenna": antenna_words(equipment, speech), "power_w": power_words(equipment, speech)}
    marked = [
        speech.say(sentences.DOUBTED, figure=words) if _assumed(station, band, key) else words
        for key, words in figures.items()
    ]
    return speech.say(sentences.ASSUMED_SHORT, antenna=marked[0], power=marked[1], locator=locator_words(station))


def _figures(station: Station, band: str, speech: Speech, below_deg: float) -> list[tuple[str, bool]]:
    """Each figure in words, and whether it is a guess."""
    equipment, say = station.bands[band], speech.say
    *place, horizon = _place_figures(station, speech, below_deg)
    found = [
        (antenna_words(equipment, speech), _assumed(station, band, "antenna.dish_diameter_m", "antenna.gain_dbi")),
        (
            say(sentences.POWER_AT_FEED, watts=formats.plain(equipment.power_w)),
            _assumed(station, band, "power_w"),
        ),
        *place,
        (
            say(sentences.NOISE_FIGURE, decibels=formats.plain(equipment.noise_figure_db)),
            _assumed(station, band, "noise_figure_db"),
        ),
        (say(sentences.FEEDS[equipment.polarization]), _assumed(station, band, "polarization")),
        (say(sentences.MODES, modes=speech.listed(list(equipment.modes))), _assumed(station, band, "modes")),
        (
            say(sentences.ACCURACY, hertz=formats.plain(equipment.frequency_accuracy_hz)),
            _assumed(station, band, "frequency_accuracy_hz"),
        ),
        horizon,
    ]
    if station.time_zone:
        zone = one_line(station.time_zone).replace("_", " ")
        found.append((say(sentences.TIME_ZONE, zone=zone), "time_zone" in station.assumed))
    return found


def _place_figures(station: Station, speech: Speech, below_deg: float) -> list[tuple[str, bool]]:
    """Place, height where its file tells one, and horizon."""
    height = speech.say(sentences.HEIGHT, metres=formats.plain(station.position.height_m))
    return [
        (
            speech.say(sentences.AT_PLACE, locator=locator_words(station), position=position_words(station)),
            False,
        ),
        *([] if "position.height_m" in station.assumed else [(height, False)]),
        (_horizon(station, speech, below_deg), skyline_is_assumed(station)),
    ]


def _assumed(station: Station, band: str, *keys: str) -> bool:
    whole = f"bands.{band}"
    return whole in station.assumed or any(f"{whole}.{key}" in station.assumed for key in keys)


def antenna_words(equipment: BandEquipment, speech: Speech) -> str:
    """`1.8 m dish`."""
    antenna = equipment.antenna
    if antenna.dish_diameter_m is not None:
        return speech.say(sentences.DISH, metres=formats.plain(antenna.dish_diameter_m))
    return speech.say(sentences.ANTENNA_GAIN, gain=formats.plain(antenna.gain_dbi or 0.0))


def power_words(equipment: BandEquipment, speech: Speech) -> str:
    """`40 W`."""
    return speech.say(sentences.POWER, watts=formats.plain(equipment.power_w))


def locator_words(station: Station) -> str:
    """The locator, also of a place known by coordinates."""
    place = station.position
    return place.locator or locator_of(place.latitude_deg, place.longitude_deg)


def position_words(station: Station) -> str:
    """`60.90° N 23.40° E`."""
    return formats.place(station.position.latitude_deg, station.position.longitude_deg)


def _horizon(station: Station, speech: Speech, below_deg: float) -> str:
    """What is counted with; `below_deg` is the height that nine unknown skylines in ten lie below."""
    lowest = station.minimum_elevation_deg
    free, above = sentences.FREE, sentences.FREE_ABOVE
    if skyline_is_assumed(station):
        below, least = formats.plain(below_deg), formats.plain(lowest)
        words = phrases.UNKNOWN_HORIZON_ABOVE if lowest else phrases.UNKNOWN_HORIZON
        return speech.say(words, degrees=below, **({"lowest": least} if lowest else {}))
    if station.terrain is not None:
        free, above = phrases.BY_TERRAIN, phrases.BY_TERRAIN_ABOVE
    elif is_told_in_part(station.horizon):
        free, above = phrases.TOLD_IN_PART, phrases.TOLD_IN_PART_ABOVE
    elif station.horizon:
        free, above = sentences.SURVEYED, sentences.SURVEYED_ABOVE
    return speech.say(above, degrees=formats.plain(lowest)) if lowest else speech.say(free)


def _hours(station: Station, speech: Speech) -> str:
    if station.available == "always":
        return speech.say(sentences.ANY_TIME)
    if not station.available:
        return usual_hours(station, speech)
    stretches = [
        speech.say(
            sentences.STRETCH,
            days=_days([DAY_NAMES[day] for day in hours.days], speech),
            start=f"{hours.start:%H:%M}",
            end=f"{hours.until:%H:%M}",
        )
        for hours in station.available
    ]
    hours = sentences.HOURS if station.time_zone else phrases.HOURS_SUN
    return speech.say(hours, stretches=speech.say(sentences.AND).join(stretches))


def usual_hours(station: Station, speech: Speech) -> str:
    """The hours that are taken where nobody has told any, by the clock there or, its zone not known, by the Sun."""
    return speech.say(sentences.USUAL_HOURS if station.time_zone else phrases.USUAL_HOURS_SUN)


def _days(days: list[int], speech: Speech) -> str:
    """`Mon to Fri`, `Sat, Sun`, `every day`."""
    if len(set(days)) == 7:
        return speech.say(sentences.EVERY_DAY)
    runs: list[list[int]] = []
    for day in sorted(set(days)):
        if runs and day == runs[-1][-1] + 1:
            runs[-1].append(day)
        else:
            runs.append([day])
    words = []
    for run in runs:
        whole = speech.say(sentences.DAY_RUN, first=speech.weekday(run[0]), last=speech.weekday(run[-1]))
        words += [whole] if len(run) > 2 else [speech.weekday(day) for day in run]
    return speech.say(sentences.COMMA).join(words)
