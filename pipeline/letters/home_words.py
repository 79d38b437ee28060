"""Who writes: home's call, place and equipment, and the horizon below the Moon in the partner's slots.

From home's station file and the plan's samples; the same figures stand in letter, message and invitation.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from pipeline.inputs.model import mask_arrays
from pipeline.letters.document import Section
from pipeline.letters.offers import OfferedSlot
from pipeline.letters.station_words import antenna_words, locator_words, position_words, power_words
from pipeline.reports.moon_tracks import MoonTracks
from pipeline.wording import formats, phrases, sentences
from pipeline.wording.speech import Speech, speech_for
from pipeline.wording.words import one_line

if TYPE_CHECKING:
    from pipeline.inputs.model import Station
    from pipeline.plan.views import PartnerView

# Looks at the Moon over a slot: a skyline's corners of a few degrees are not passed over.
LOOKS = 25


def home_section(view: PartnerView, slots: Sequence[OfferedSlot]) -> Section:
    """Home's station, and how the Moon stands over its skyline in each slot."""
    home, say = view.home, speech_for(view.station).say
    stays = stays_of(view, slots)
    name = "" if stays else formats.short(one_line(home.name or ""))
    points = [say(sentences.WE_ARE_NAMED, call=home.call, name=name) if name else say(sentences.WE_ARE, call=home.call)]
    points += [
        say(
            phrases.HOME_PLACE_THEN_ONLY if _without_height(here) else sentences.HOME_PLACE_THEN,
            labels=say(sentences.OR).join(labels),
            name=_title(here),
            **_place(here),
        )
        for here, labels in stays
    ] or [say(phrases.HOME_PLACE_ONLY if _without_height(home) else sentences.HOME_PLACE, **_place(home))]
    if view.no_window is None:
        points.append(say(sentences.HOME_EQUIPMENT, **_equipment(view)))
    skies = tuple(words for slot in slots if (words := sky_words(view, slot)))
    return Section("home", say(sentences.HOME_TITLE), (), (*points, *skies), shifting=skies)


def stays_of(view: PartnerView, slots: Sequence[OfferedSlot]) -> list[tuple[Station, list[str]]]:
    """Home at each place where it stands in these slots and their other times, with their letters; where it moves."""
    if not view.stays:
        return []
    times = [(slot.start_utc, slot.label) for slot in slots]
    times += [(one.start_utc, one.label) for slot in slots for one in slot.alternatives]
    found: dict[str, tuple[Station, list[str]]] = {}
    for start, label in sorted(times):
        here = view.home_at(start)
        found.setdefault(here.title, (here, []))[1].append(label)
    return list(found.values())


def _title(station: Station) -> str:
    return formats.short(one_line(station.title))


def _without_height(station: Station) -> bool:
    return "position.height_m" in station.assumed


def _place(station: Station) -> dict[str, str]:
    height = formats.plain(station.position.height_m)
    return {"locator": locator_words(station), "position": position_words(station), "height": height}


def home_line(view: PartnerView, slot: OfferedSlot) -> str:
    """All of home's station in one line, for an invitation."""
    home, say = view.home_at(slot.start_utc), speech_for(view.station).say
    place = {"locator": locator_words(home), "position": position_words(home)}
    if view.stays:
        return say(sentences.HOME_LINE_NAMED, call=home.call, name=_title(home), **place, **_equipment(view))
    return say(sentences.HOME_LINE, call=home.call, **place, **_equipment(view))


def home_locators(view: PartnerView, slots: Sequence[OfferedSlot]) -> str:
    """Home's locator; where it moves each with its slots: `GF25cl (A), GF25ah (B)`."""
    stays = stays_of(view, slots)
    if len(stays) < 2:
        return locator_words(stays[0][0] if stays else view.home)
    comma = speech_for(view.station).say(sentences.COMMA)
    return comma.join(f"{locator_words(here)} ({comma.join(labels)})" for here, labels in stays)


def short_home(view: PartnerView, slots: Sequence[OfferedSlot]) -> str:
    """The same in the fewest words, for a chat; the skyline over all slots."""
    home, speech = view.home, speech_for(view.station)
    equipment = home.bands[view.band]
    figures = {
        "antenna": antenna_words(equipment, speech),
        "power": power_words(equipment, speech),
        "locator": home_locators(view, slots),
    }
    skylines = [sky[1] for slot in slots if (sky := _sky(view, slot)) is not None]
    if not skylines or not all(view.home_at(slot.start_utc).horizon for slot in slots):
        return speech.say(sentences.HOME_SHORT, **figures)
    skyline = _degrees((min(low for low, _ in skylines), max(high for _, high in skylines)), speech)
    return speech.say(sentences.HOME_SHORT_SKY, **figures, skyline=skyline)


def sky_words(view: PartnerView, slot: OfferedSlot) -> str:
    """How high the Moon stands at home in a slot, and the skyline below it; empty where it is not up for both."""
    speech, sky = speech_for(view.station), _sky(view, slot)
    if sky is None:
        return ""
    elevation = _degrees(sky[0], speech)
    if not view.home_at(slot.start_utc).horizon:
        return speech.say(sentences.HOME_SKY_UNKNOWN, label=slot.label, elevation=elevation)
    return speech.say(sentences.HOME_SKY, label=slot.label, elevation=elevation, skyline=_degrees(sky[1], speech))


def _equipment(view: PartnerView) -> dict[str, str]:
    speech, equipment = speech_for(view.station), view.home.bands[view.band]
    return {
        "antenna": antenna_words(equipment, speech),
        "power": speech.say(sentences.POWER_AT_FEED, watts=formats.plain(equipment.power_w)),
        "feed": speech.say(sentences.FEEDS[equipment.polarization]),
    }


def _sky(view: PartnerView, slot: OfferedSlot) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """Least and highest elevation of the Moon at home in a slot, then of the skyline below it, degrees."""
    seen = MoonTracks(view.samples).at("home", slot.start_utc, slot.end_utc, LOOKS)
    if seen is None:
        return None
    azimuth_deg, elevation_deg = seen
    skyline_deg = skyline_at(view.home_at(slot.start_utc), azimuth_deg)
    return (
        (float(elevation_deg.min()), float(elevation_deg.max())),
        (float(skyline_deg.min()), float(skyline_deg.max())),
    )


def skyline_at(station: Station, azimuth_deg: np.ndarray) -> np.ndarray:
    """Elevation of a station's skyline at azimuths, degrees, the same shape: straight lines, round through north."""
    return np.interp(azimuth_deg, *mask_arrays(station), period=360.0)


def _degrees(span_deg: tuple[float, float], speech: Speech) -> str:
    """`31° to 42°`, to the whole degree."""
    first, last = (formats.signed(value, 0) for value in span_deg)
    return f"{last}°" if first == last else speech.say(sentences.FROM_TO, first=first, last=f"{last}°")
