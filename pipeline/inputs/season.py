"""A season's tree to a `Season`; its band and frequency where the file leaves them to home's equipment."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

from pipeline.inputs import scalars
from pipeline.inputs.bands import band_table
from pipeline.inputs.faults import Fault
from pipeline.inputs.messages import read
from pipeline.inputs.model import Operator, Season, Station
from pipeline.inputs.sites import at_site
from pipeline.inputs.station import busy_of
from pipeline.inputs.yaml_tree import Tree, printable

BEST = "best"
NO_SITES = "home's file has no `sites`."


@dataclasses.dataclass
class SeasonRead:
    """What came of the season file, and the hashes of the calendars that it names.

    `stated_band` is False where the band stays to be taken from home's equipment.
    """

    tree: Tree
    season: Season | None
    faults: list[Fault]
    stated_band: bool
    files: dict[str, str] = dataclasses.field(default_factory=dict)


def read_season(tree: Tree, month: str | None = None) -> SeasonRead:
    """The season from its tree; `month` takes the place of its months and dates. Every fault is gathered."""
    season, faults = read(Season, tree, tree.data)
    changes: dict[str, object] = {"file": tree.file}
    if month is not None:
        try:
            changes |= {"months": (scalars.month(month.strip()),), "dates": None}
        except scalars.Refusal as refusal:
            faults.append(Fault("--month", None, "month", f"the month is '{month[:40]}'; {refusal.advice}"))
    files: dict[str, str] = {}
    if season is not None:
        changes["operators"], found = _with_calendars(tree, season.operators, files)
        faults += found
    season = dataclasses.replace(season, **changes) if season and not faults else None  # type: ignore[arg-type]
    return SeasonRead(tree, season, faults, tree.data.get("band", "") != "", files)


def _with_calendars(
    tree: Tree, operators: Sequence[Operator], files: dict[str, str]
) -> tuple[tuple[Operator, ...], list[Fault]]:
    """Those who use the dish with what their calendars say; hashes are added to `files`."""
    made, faults = [], list[Fault]()
    for number, one in enumerate(operators):
        taken, hashes, found = busy_of(tree, one.busy, ("operators", number))
        files |= hashes
        faults += found
        made.append(dataclasses.replace(one, busy_files=taken))
    return tuple(made), faults


def band_faults(read: SeasonRead, home: Station | None) -> list[Fault]:
    """A fault where the season names no band and home's equipment leaves open which."""
    if read.stated_band or home is None or len(home.bands) == 1:
        return []
    have = f"; the home station has {', '.join(home.bands)}" if home.bands else ""
    message = f"band is missing; write for instance `band: {next(iter(home.bands), '3cm')}`{have}."
    return [Fault(read.tree.file, read.tree.line(("home",)), "band", message)]


def site_faults(read: SeasonRead, home: Station | None) -> list[Fault]:
    """Faults where the season's site is none of home's, and where sites are to be chosen and there is no choice."""
    if home is None or read.season is None:
        return []
    site, chooses, faults = read.season.home_site, read.season.policy.sites == BEST, list[Fault]()
    if site is not None and site not in (one.name for one in home.sites):
        names = [one.name for one in home.sites]
        known = scalars.suggestion(site, names) if names else NO_SITES
        faults.append(read.tree.fault(("home_site",), f"home_site is '{printable(site)}'; {known}"))
    if chooses and not home.sites:
        faults.append(read.tree.fault(("policy", "sites"), f"policy.sites is best; {NO_SITES}"))
    elif chooses and site is not None:
        message = "policy.sites is best and home_site names one for the whole season; keep one of the two."
        faults.append(read.tree.fault(("policy", "sites"), message))
    return faults


def standing(home: Station, season: Season) -> Station:
    """Home at the season's site; at the place of its own file where none is named."""
    return next((at_site(home, one) for one in home.sites if one.name == season.home_site), home)


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
