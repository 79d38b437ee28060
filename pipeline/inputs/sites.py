"""Sites of a home station: other places for the same equipment, each with its skyline, limits and way.

`sites:` in a station's file holds a name with keys below it for each. The file's own place is the first of them.
"""

from __future__ import annotations

import dataclasses
from typing import Any

from pipeline.inputs.faults import Fault
from pipeline.inputs.messages import read
from pipeline.inputs.model import Station
from pipeline.inputs.place import Site, SiteKeys
from pipeline.inputs.skyline_reading import keys_apart, skyline_at
from pipeline.inputs.yaml_tree import Tree, printable

SITES = "sites"
# A page has a column for each.
MOST_SITES, LONGEST_NAME = 12, 40
OF_THE_PLACE = ("horizon", "position.height_m")


def sites_apart(data: dict[str, Any]) -> tuple[Any, dict[str, Any]]:
    """What stands under `sites`, and the station's data without it."""
    return data.get(SITES, ""), {key: entry for key, entry in data.items() if key != SITES}


def read_sites(tree: Tree, named: Any, files: dict[str, str]) -> tuple[tuple[Site, ...], list[Fault]]:
    """The sites of a file in its order, and every fault of them; hashes of their surveys and tiles are noted."""
    if named == "":
        return (), []
    if not isinstance(named, dict):
        return (), [tree.fault((SITES,), f"sites are names with keys below each; {_in_place_of(named)}")]
    if len(named) > MOST_SITES:
        return (), [tree.fault((SITES,), f"there are {len(named)} sites; at most {MOST_SITES} are taken.")]
    sites, faults = [], list[Fault]()
    own = tree.data.get("name", "")
    for name, entry in named.items():
        if len(name) > LONGEST_NAME:
            message = f"the name of a site has {len(name)} characters; at most {LONGEST_NAME} are taken."
            faults.append(tree.fault((SITES, name), message))
            continue
        if name == own:
            message = f"sites.{name} is the name of home's own place, which is a site already; take another name."
            faults.append(tree.fault((SITES, name), message))
            continue
        site, wrong = _read_site(tree, name, entry, files)
        faults += wrong
        if site is not None:
            sites.append(site)
    return tuple(sites), faults


def _in_place_of(named: Any) -> str:
    """What to write for a list of sites, by the names in it."""
    entries = named if isinstance(named, list) else []
    names = [str(one["name"]) for one in entries if isinstance(one, dict) and isinstance(one.get("name"), str)]
    if not names or len(names) < len(entries):
        return "write a name and its keys below it, such as {quarry: {position: {locator: GF25cl}}}."
    told = " and ".join(f"`{printable(name, 40)}:`" for name in names)
    return f"put {told} in place of the lines with `- name`, the other keys of each below it."


def _read_site(tree: Tree, name: str, entry: Any, files: dict[str, str]) -> tuple[Site | None, list[Fault]]:
    place = (SITES, name)
    stated, data, faults = keys_apart(tree, entry, place, files) if isinstance(entry, dict) else (None, entry, [])
    keys, found = read(SiteKeys, tree, data, place)
    faults += found
    if keys is None or faults:
        return None, faults
    assumed = [] if stated is not None or keys.horizon else ["horizon"]
    position, horizon, terrain = keys.position, keys.horizon, None
    if entry["position"].get("height_m", "") == "":
        assumed.append("position.height_m")
    if stated is not None:
        skyline, faults = skyline_at(tree, place, stated, keys.position, files)
        if skyline is None:
            return None, faults
        position, horizon, terrain = skyline.position, skyline.horizon, skyline.terrain
        assumed = [key for key in assumed if not skyline.height_told]
    site = Site(
        name=name,
        position=position,
        horizon=horizon,
        terrain=terrain,
        mount=keys.mount,
        minimum_elevation_deg=keys.minimum_elevation_deg,
        hours_to_get_there=keys.hours_to_get_there,
        notes=keys.notes,
        assumed=tuple(assumed),
    )
    return site, []


def own_site(station: Station) -> Site:
    """The file's own place as a site."""
    return Site(
        name=station.title,
        position=station.position,
        horizon=station.horizon,
        terrain=station.terrain,
        mount=station.mount,
        minimum_elevation_deg=station.minimum_elevation_deg,
        hours_to_get_there=station.hours_to_get_there,
        assumed=tuple(key for key in station.assumed if key in OF_THE_PLACE),
    )


def notes_of_place(station: Station) -> str:
    """What its file notes of the site at which the station stands; empty of its own place."""
    return next((one.notes or "" for one in station.sites if one.name == station.title), "")


def at_site(station: Station, site: Site) -> Station:
    """The station with its equipment at one of its sites; landmarks stay with the place that they were listed for.

    The station may stand at another of them already.
    """
    if site.name == station.title:
        return station
    own = station if station.title == station.sites[0].name else station.sites[0]
    kept = tuple(key for key in station.assumed if key not in OF_THE_PLACE)
    lowest = own.minimum_elevation_deg if site.minimum_elevation_deg is None else site.minimum_elevation_deg
    return dataclasses.replace(
        station,
        name=site.name,
        position=site.position,
        horizon=site.horizon,
        terrain=site.terrain,
        mount=site.mount or own.mount or station.mount,
        minimum_elevation_deg=lowest or 0.0,
        hours_to_get_there=site.hours_to_get_there,
        landmarks=(),
        assumed=(*kept, *site.assumed),
    )
