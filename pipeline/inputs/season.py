"""A season's tree to a `Season`: months or dates, partners, policy; what hangs together is checked together."""

from __future__ import annotations

import dataclasses
import typing
from typing import Any

from pipeline.inputs import scalars
from pipeline.inputs.bands import band_table
from pipeline.inputs.building import Converter, Failed, Reader, build, converter_for, plainly
from pipeline.inputs.faults import Fault
from pipeline.inputs.model import (
    AssumedSkyline,
    Operator,
    OutcomeThresholds,
    Partner,
    Policy,
    Season,
    SlotMinutes,
    Station,
)
from pipeline.inputs.yaml_tree import Place, Tree, dotted

LONGEST_PERIOD_DAYS = 400
MOST_MONTHS = 13
POLICY_TYPES = typing.get_type_hints(Policy)


@dataclasses.dataclass
class SeasonRead:
    """What came of the season file. `stated_band` is False where the band stays to be taken from home's equipment."""

    tree: Tree
    season: Season | None
    faults: list[Fault]
    stated_band: bool


def read_season(tree: Tree, month: str | None = None) -> SeasonRead:
    """The season from its tree; `month` takes the place of its months and dates. Every fault is gathered."""
    reader = Reader(tree)
    data = tree.data
    stated_band = data.get("band", "") != ""
    band = data["band"] if isinstance(data.get("band"), str) else None
    known_band = next((name for name in band_table() if band and name.casefold() == band.casefold()), None)
    special: dict[str, Converter] = {
        "frequency_mhz": plainly(lambda text: scalars.frequency(text, known_band)),
        "partners": lambda reader, value, place: reader.entries(value, place, partner),
        "operators": lambda reader, value, place: reader.entries(value, place, operator),
        "policy": policy,
    }
    internal: dict[str, Any] = {"file": tree.file} | ({} if stated_band else {"band": ""})
    try:
        season = build(reader, Season, data, (), special, internal=internal)
    except Failed:
        season = None
    if season:
        check_period(reader, season)
        check_partners(reader, season)
    if month is not None:
        try:
            asked = scalars.month(month.strip())
        except scalars.Refusal as refusal:
            reader.faults.append(Fault("--month", None, "month", f"the month is '{month[:40]}'; {refusal.advice}"))
        else:
            season = dataclasses.replace(season, months=(asked,), dates=None) if season else None
    return SeasonRead(tree, None if reader.faults else season, reader.faults, stated_band)


def band_faults(read: SeasonRead, home: Station | None) -> list[Fault]:
    """A fault where the season names no band and home's equipment leaves open which."""
    if read.stated_band or home is None or len(home.bands) == 1:
        return []
    have = f"; the home station has {', '.join(home.bands)}" if home.bands else ""
    message = f"band is missing; write for instance `band: {next(iter(home.bands), '3cm')}`{have}."
    return [Fault(read.tree.file, read.tree.line(("home",)), "band", message)]


def complete_band(season: Season, home: Station) -> Season:
    """The season with home's only band and, where home's file has no frequency of its own either, the band's usual one.

    `assumed` names what was filled in so.
    """
    assumed: list[str] = []
    if not season.band:
        season = dataclasses.replace(season, band=next(iter(home.bands)))
        assumed.append("band")
    equipment = home.bands.get(season.band)
    if season.frequency_mhz is None and (equipment is None or equipment.frequency_mhz is None):
        season = dataclasses.replace(season, frequency_mhz=band_table()[season.band].typical_mhz)
        assumed.append("frequency_mhz")
    return dataclasses.replace(season, assumed=tuple(assumed))


def check_period(reader: Reader, season: Season) -> None:
    """Months or dates, not both; each month once; no longer than the pages can show."""
    if season.months and season.dates:
        reader.note(("dates",), "the season has months and dates; keep one of the two.")
    for index, name in enumerate(season.months):
        if name in season.months[:index]:
            reader.note(("months", index), f"the month {name} is listed twice; keep one.")
    numbers = sorted({12 * int(name[:4]) + int(name[5:7]) for name in season.months})
    if numbers and numbers[-1] - numbers[0] >= len(numbers):
        reader.note(("months",), "the months do not follow each other; plan months apart one by one, with --month.")
    if len(season.months) > MOST_MONTHS:
        reader.note(("months",), f"the season has {len(season.months)} months; at most {MOST_MONTHS} are taken.")
    if season.dates:
        days = (season.dates.last - season.dates.first).days + 1
        if days > LONGEST_PERIOD_DAYS:
            reader.note(("dates",), f"dates span {days} days; at most {LONGEST_PERIOD_DAYS} are taken.")


def check_partners(reader: Reader, season: Season) -> None:
    """Each partner is listed once."""
    calls = [wish.call for wish in season.partners or ()]
    for index, call in enumerate(calls):
        if call in calls[:index]:
            reader.note(
                ("partners", index), f"the partner {call} is listed twice; keep one line and set contacts_wanted in it."
            )


def partner(reader: Reader, value: Any, place: Place) -> Partner:
    """A partner by its call alone or with its wishes."""
    if isinstance(value, str):
        return Partner(call=reader.scalar(scalars.call_sign, value, place))
    return build(reader, Partner, value, place)


def operator(reader: Reader, value: Any, place: Place) -> Operator:
    """An operator by call alone or with a name."""
    if isinstance(value, str):
        return Operator(call=reader.scalar(scalars.call_sign, value, place))
    return build(reader, Operator, value, place)


def policy(reader: Reader, value: Any, place: Place) -> Policy:
    """The policy; a strong chance is higher than a workable one, and that than a marginal one."""
    special: dict[str, Converter] = {
        "outcome_thresholds": thresholds,
        "solar_activity": solar_activity,
        "slot_minutes": slot_minutes,
        "assumed_skyline": assumed_skyline,
    }
    return build(reader, Policy, value, place, special)


def solar_activity(reader: Reader, value: Any, place: Place) -> Any:
    """A word or the flux; a bare number is most likely the flux without its key."""
    if isinstance(value, str) and scalars.NUMBER.fullmatch(value):
        raise reader.refuse(place, value, f"quiet, average or active is meant, or {{flux_10_7_cm: {value}}}.")
    return converter_for(POLICY_TYPES["solar_activity"])(reader, value, place)


def slot_minutes(reader: Reader, value: Any, place: Place) -> SlotMinutes:
    """A range of minutes, or one number that fixes it."""
    if isinstance(value, str):
        try:
            return build(Reader(reader.tree), SlotMinutes, {"least": value, "most": value}, place)
        except Failed:
            advice = "a number of minutes is meant, 5 to 240, or {least: 45, most: 60}."
            raise reader.refuse(place, value, advice) from None
    built = build(reader, SlotMinutes, value, place)
    if built.least > built.most:
        reader.note(place, f"{dotted(place)}: least is {built.least} and most {built.most}; least is meant to be less.")
        raise Failed()
    return built


def assumed_skyline(reader: Reader, value: Any, place: Place) -> AssumedSkyline:
    """Two heights; nine in ten lie below the higher one."""
    built = build(reader, AssumedSkyline, value, place)
    if built.median_deg >= built.nine_in_ten_deg:
        values = f"median_deg is {built.median_deg:g} and nine_in_ten_deg {built.nine_in_ten_deg:g}"
        reader.note(place, f"{dotted(place)}: {values}; the second is meant to be the higher one.")
        raise Failed()
    return built


def thresholds(reader: Reader, value: Any, place: Place) -> OutcomeThresholds:
    """The three chances, falling."""
    built = build(reader, OutcomeThresholds, value, place)
    if not built.strong > built.workable > built.marginal:
        values = f"strong {built.strong:g}, workable {built.workable:g}, marginal {built.marginal:g}"
        reader.note(place, f"{dotted(place)} are {values}; each is meant to be less than the one before.")
        raise Failed()
    return built
