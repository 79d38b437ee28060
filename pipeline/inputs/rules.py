"""What hangs together in a station or a season: checks across keys, and figures that follow from others.

Each is a validator of a dataclass of `model.py`. Those that take the keys as they stand in a file leave alone what is
built in the program.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from pydantic import ModelWrapValidatorHandler as Build

from pipeline.inputs import locator, scalars
from pipeline.inputs.bands import band_table
from pipeline.inputs.kinds import UNWRITTEN, entries, single, told
from pipeline.inputs.operator_words import words_table
from pipeline.inputs.scalars import Refusal
from pipeline.inputs.yaml_tree import Place, printable

if TYPE_CHECKING:
    from pipeline.inputs.horizon import HorizonKeys, HorizonPoint
    from pipeline.inputs.lengths import AssumedSkyline, SlotMinutes
    from pipeline.inputs.model import Antenna, Hours, Landmark, Mount, OutcomeThresholds, Position, Season

LONGEST_PERIOD_DAYS = 400
MOST_MONTHS = 13
# What stands in braces in a season's texts and is filled in for each partner.
LETTER_WORDS = ("operator", "call", "home", "sender", "period")
IN_BRACES = re.compile(r"\{([^{}]*)\}")
BAND = UNWRITTEN + "band"
UNCERTAINTY_KM = UNWRITTEN + "uncertainty_km"


def place_given(value: Any) -> Any:
    """A place by coordinates or by locator: the centre of the locator's cell where there are no coordinates."""
    if isinstance(value, (str, list)):
        raise Refusal("write {locator: GF25cl, height_m: 212} or latitude_deg and longitude_deg.")
    if not isinstance(value, dict):
        return value
    refuse_swapped(value)
    given = {key for key, entry in value.items() if entry != ""}
    if given & {"latitude_deg", "longitude_deg"}:
        return value
    if "locator" in given:
        try:
            name = scalars.locator(value["locator"])
        except (AttributeError, Refusal):
            name = "JJ00"  # the locator's own check tells what is wrong
        latitude_deg, longitude_deg = locator.position_of(name)
        centre = {"latitude_deg": latitude_deg, "longitude_deg": longitude_deg}
        return value | centre | {UNCERTAINTY_KM: locator.uncertainty_km(name)}
    if set(value) <= {"height_m", "latitude_deg", "longitude_deg", "locator"}:
        raise told(((), "{here} has no place; give locator, or latitude_deg and longitude_deg."))
    return value | {"latitude_deg": 0.0, "longitude_deg": 0.0}  # a misspelt key, which is told first


def refuse_swapped(value: dict[str, Any]) -> None:
    """A latitude beyond the poles beside a longitude that could be one: most likely the two changed places."""
    try:
        latitude = scalars.number(value["latitude_deg"])
        longitude = scalars.number(value["longitude_deg"])
    except (KeyError, TypeError, Refusal):
        return
    if 90 < abs(latitude) <= 180 and abs(longitude) <= 90:
        advice = f"a latitude is -90 to 90 and longitude_deg {longitude:g} would be one: the two look swapped."
        raise told((("latitude_deg",), f"{{here}} is {{value}}; {advice}"))


def one_place(cls: type[Position], value: Any, build: Build[Position]) -> Position:
    """Coordinates beside a locator lie in its cell; then they alone are kept."""
    made = build(value)
    if not isinstance(value, dict) or made.locator is None or made.uncertainty_km:
        return made
    if not locator.contains(made.locator, made.latitude_deg, made.longitude_deg):
        there = locator.locator_of(made.latitude_deg, made.longitude_deg, len(made.locator))
        advice = f"latitude_deg and longitude_deg lie in {there}; keep one of the two."
        raise told((("locator",), f"{{here}} is '{made.locator}'; {advice}"))
    return build({key: entry for key, entry in value.items() if key != "locator"})


def listed_points(value: Any) -> Any:
    """The skyline is a list of points, even where it is one."""
    if isinstance(value, (list, tuple)):
        return entries(value)
    raise Refusal(
        "a list of points is meant, such as {azimuth_deg: 95, elevation_deg: 7.5}; "
        "for one height all round write minimum_elevation_deg."
    )


def one_height_each(points: tuple[HorizonPoint, ...]) -> tuple[HorizonPoint, ...]:
    """The points without repeated ones; a fault where one azimuth has two elevations. 0 and 360 are one azimuth."""
    first: dict[float, tuple[HorizonPoint, int]] = {}
    faults: list[tuple[Place, str]] = []
    for index, point in enumerate(points):
        known, where = first.setdefault(point.azimuth_deg % 360.0, (point, index))
        if known.elevation_deg != point.elevation_deg:
            same = "0 and 360 are one azimuth" if known.azimuth_deg != point.azimuth_deg else "keep one of the two"
            sentence = (
                f"the horizon has two elevations at azimuth {point.azimuth_deg:g}: {known.elevation_deg:g} "
                f"(line {{line {where}}}) and {point.elevation_deg:g}; {same}."
            )
            faults.append(((index,), sentence))
    if faults:
        raise told(*faults)
    return tuple(point for point, _ in first.values())


def one_survey(cls: type[HorizonKeys], value: Any, build: Build[HorizonKeys]) -> HorizonKeys:
    """A survey stands in a file or as points; what is asked of tiles needs some."""
    made = build(value)
    if not isinstance(value, dict):
        return made
    if made.file is not None and made.points:
        raise told((("points",), "{here} and a survey in a file; keep one of the two."))
    aside = [key for key in ("antenna_height_m", "ignored_within_m", "missing_is_sea") if value.get(key, "") != ""]
    if made.terrain is None and aside:
        raise told(*(((key,), "{here} goes with terrain only; leave it out.") for key in aside))
    return made


def both_ends(mount: Mount) -> Mount:
    """An azimuth range has both its ends."""
    if (mount.azimuth_from_deg is None) != (mount.azimuth_to_deg is None):
        have, lack = ("azimuth_from_deg", "azimuth_to_deg")[:: 1 if mount.azimuth_to_deg is None else -1]
        raise told(((have,), f"{{around}} has {have} but no {lack}; give both, clockwise, or none."))
    return mount


def always_or_hours(value: Any) -> Any:
    """`always`, or stretches of local time."""
    if isinstance(value, str) and value.casefold() != "always":
        if value.casefold().strip(" .!") in ("always", *words_table()["choices"]["always"]):
            raise Refusal("write always.")
        raise Refusal("'always' or a list is meant, such as {days: [fri], from: 18:00, to: 23:30}.")
    return value


def stretch(cls: type[Hours], value: Any, build: Build[Hours]) -> Hours:
    """A stretch of time without `days` holds on all of them; it begins on its own day and is never empty."""
    if not isinstance(value, dict):
        return build(value)
    if value.get("from") in ("24:00", "24.00"):
        raise told((("from",), "{here} is {value}; write 00:00 and the days after."))
    made = build({"days": scalars.WEEKDAYS} | value)
    if made.start == made.until and not str(value["to"]).startswith("24"):
        raise told(((), f"{{here}} begins and ends at {made.start:%H:%M}; for all day write from: 00:00, to: 24:00."))
    return made


def whole_place(landmark: Landmark) -> Landmark:
    """Something to sight on has a place or an azimuth."""
    has_place = landmark.latitude_deg is not None and landmark.longitude_deg is not None
    half_place = (landmark.latitude_deg is None) != (landmark.longitude_deg is None)
    if half_place or not (has_place or landmark.azimuth_deg is not None):
        raise told(((), "{here} has no whole place; give latitude_deg and longitude_deg, or azimuth_deg."))
    return landmark


def dish_or_gain(cls: type[Antenna], value: Any, build: Build[Antenna]) -> Antenna:
    """A dish by its diameter or any antenna by its gain, one of the two and what goes with it."""
    made = build(value)
    if not isinstance(value, dict):
        return made
    if (made.dish_diameter_m is None) == (made.gain_dbi is None):
        raise told(((), "{here} needs dish_diameter_m or gain_dbi, one of the two."))
    extra = "beamwidth_deg" if made.dish_diameter_m is not None else "aperture_efficiency"
    partner = "gain_dbi" if extra == "beamwidth_deg" else "dish_diameter_m"
    if value.get(extra):
        raise told(((extra,), f"{{here}} goes with {partner} only; leave it out."))
    return made


def with_usual_figures(value: Any) -> Any:
    """Equipment by band; what is absent has the figures of the band table."""
    if not isinstance(value, dict):
        raise Refusal("a band and its equipment are meant, such as {3cm: {power_w: 40}}.")
    made: dict[str, Any] = {}
    names: set[str] = set()
    for key, entry in value.items():
        try:
            name = scalars.band_name(key)
        except Refusal:
            made[key] = usual_figures(next(iter(band_table())))  # of an unknown band only its name is told
            continue
        if name in names:
            raise told(((key,), "{here} stands here twice; keep one of them."))
        names.add(name)
        given = {} if entry == "" else entry
        if isinstance(given, dict):
            usual = usual_figures(name)
            given = usual | {figure: text for figure, text in given.items() if text != "" or figure not in usual}
        made[key] = given
    return made


def usual_figures(band: str) -> dict[str, Any]:
    """The band table's equipment as a file would hold it."""
    return band_table()[band].equipment | {BAND: band}


def call_alone(value: Any) -> Any:
    """A partner or operator by its call alone."""
    return {"call": value} if isinstance(value, str) and value else value


def word_or_flux(value: Any) -> Any:
    """Solar activity by a word or its flux; a bare number is most likely the flux without its key."""
    if isinstance(value, str) and scalars.NUMBER.fullmatch(value):
        raise Refusal(f"quiet, average or active is meant, or {{flux_10_7_cm: {value}}}.")
    if isinstance(value, list):
        raise Refusal("one value is meant.")
    return value


def number_or_range(value: Any) -> Any:
    """Slots of one length by its number of minutes, or the least and the most of a range."""
    if isinstance(value, int) or (isinstance(value, str) and scalars.NUMBER.fullmatch(value)):
        if not float(value).is_integer() or not 5 <= float(value) <= 240:
            raise Refusal("a number of minutes is meant, 5 to 240, or {least: 45, most: 60}.")
        return {"least": str(value), "most": str(value)}
    if isinstance(value, (str, list)):
        raise Refusal("a number of minutes is meant, 5 to 240, or {least: 45, most: 60}.")
    return value


def number_or_positions(value: Any) -> Any:
    """One offset for every position of the feed, or one for each."""
    if isinstance(value, (int, float)) or (isinstance(value, str) and scalars.NUMBER.fullmatch(value)):
        number = float(value)
        if not -90.0 <= number <= 90.0:
            raise Refusal("an offset in degrees is meant, -90 to 90, or {horizontal: 0.2, vertical: -0.4}.")
        return {"horizontal": str(value), "vertical": str(value)}
    if isinstance(value, (str, list)):
        raise Refusal("an offset in degrees is meant, -90 to 90, or {horizontal: 0.2, vertical: -0.4}.")
    return value


def least_and_most(length: SlotMinutes) -> SlotMinutes:
    """The least is not more than the most."""
    if length.least > length.most:
        raise told(((), f"{{here}}: least is {length.least} and most {length.most}; least is meant to be less."))
    return length


def half_below_most(skyline: AssumedSkyline) -> AssumedSkyline:
    """Nine in ten lie below a greater height than half of all."""
    if skyline.median_deg >= skyline.nine_in_ten_deg:
        values = f"median_deg is {skyline.median_deg:g} and nine_in_ten_deg {skyline.nine_in_ten_deg:g}"
        raise told(((), f"{{here}}: {values}; the second is meant to be the higher one."))
    return skyline


def falling(chances: OutcomeThresholds) -> OutcomeThresholds:
    """A strong chance is higher than a workable one, and that than a marginal one."""
    if not chances.strong > chances.workable > chances.marginal:
        values = f"strong {chances.strong:g}, workable {chances.workable:g}, marginal {chances.marginal:g}"
        raise told(((), f"{{here}} are {values}; each is meant to be less than the one before."))
    return chances


def first_and_last(value: Any) -> Any:
    """Two dates, or one, from their text."""
    return single(lambda text: dict(zip(("first", "last"), scalars.date_range(text), strict=True)), value)


def season_whole(cls: type[Season], value: Any, build: Build[Season]) -> Season:
    """Months or dates, not both and no longer than the pages can show; each month and each partner once."""
    made = build(value)
    faults = [*period_faults(made), *partner_faults(made), *letter_faults(made)] if isinstance(value, dict) else []
    if faults:
        raise told(*faults)
    return made


def period_faults(season: Season) -> list[tuple[Place, str]]:
    """What is wrong with the season's months or dates."""
    faults: list[tuple[Place, str]] = []
    if season.months and season.dates:
        faults.append((("dates",), "the season has months and dates; keep one of the two."))
    for index, name in enumerate(season.months):
        if name in season.months[:index]:
            faults.append((("months", index), f"the month {name} is listed twice; keep one."))
    numbers = sorted({12 * int(name[:4]) + int(name[5:7]) for name in season.months})
    if numbers and numbers[-1] - numbers[0] >= len(numbers):
        sentence = "the months do not follow each other; plan months apart one by one, with --month."
        faults.append((("months",), sentence))
    if len(season.months) > MOST_MONTHS:
        faults.append((("months",), f"the season has {len(season.months)} months; at most {MOST_MONTHS} are taken."))
    days = (season.dates.last - season.dates.first).days + 1 if season.dates else 0
    if days > LONGEST_PERIOD_DAYS:
        faults.append((("dates",), f"dates span {days} days; at most {LONGEST_PERIOD_DAYS} are taken."))
    return faults


def letter_faults(season: Season) -> list[tuple[Place, str]]:
    """Words in braces that nothing fills in: a partner would read them as they stand."""
    known = ", ".join(f"{{{word}}}" for word in LETTER_WORDS)
    texts: dict[Place, str] = {(key,): getattr(season.letters, key) or "" for key in ("greeting", "closing", "meet")}
    if season.letters.sender is not None:
        texts["sender", "name"] = season.letters.sender.name
    faults: list[tuple[Place, str]] = []
    for place, text in texts.items():
        # A signature fills in nothing.
        allowed = LETTER_WORDS if len(place) == 1 else ()
        words = [word for word in IN_BRACES.findall(text) if word not in allowed]
        told = f"the words that are filled in are {known}." if allowed else "no word is filled in there."
        faults += [(("letters", *place), f"{{here}} has '{printable(word)}' in braces; {told}") for word in words]
        if not words and text.count("{") != text.count("}"):
            faults.append((("letters", *place), "{here} has a brace without its other; {operator} would be whole."))
    return faults


def partner_faults(season: Season) -> list[tuple[Place, str]]:
    """Partners that are listed twice."""
    calls = [wish.call for wish in season.partners or ()]
    return [
        (("partners", index), f"the partner {call} is listed twice; keep one line and set contacts_wanted in it.")
        for index, call in enumerate(calls)
        if call in calls[:index]
    ]
