"""Where to set up, in words: why a site is the best of a night, the choice of the whole span, and what was assumed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from itertools import pairwise

from pipeline.inputs.model import Policy, Station
from pipeline.inputs.sites import at_site
from pipeline.outlook.site_choice import Chosen
from pipeline.outlook.sites import EVEN, BestSite, SiteNights, Sites, WhyBest
from pipeline.record.inputs import Inputs
from pipeline.wording import formats
from pipeline.wording.terrain import terrain_words

# A ten-thousandth of a contact is what the search goes by.
PROVEN = 0.001
NOBODY = "nobody can be worked at any site"


def why_words(best: BestSite | None, sites: Sequence[SiteNights]) -> str:
    """Why a site is the best of its night."""
    if best is None:
        return NOBODY
    other = sites[best.other].site.name
    match best.why:
        case WhyBest.ALONE:
            return "nobody can be worked elsewhere"
        case WhyBest.PARTNERS:
            return f"{formats.listed(best.calls)} too; {_more(best, other)}"
        case WhyBest.SKYLINE:
            return f"{_more(best, other)}; its skyline takes {best.lost_more_h:.1f} h of windows less"
        case WhyBest.CONTACTS:
            return _more(best, other)
        case WhyBest.WAY:
            nearer = f"{hours_words(best.way_more_h)} nearer"
            if best.contacts_more < -EVEN:
                return f"{formats.contacts(-best.contacts_more)} contacts less than {other}, but {nearer}"
            return f"as good as {other}, and {nearer}"
        case WhyBest.EVEN:
            return f"as good as {other}"


def _more(best: BestSite, other: str) -> str:
    return f"{formats.signed(best.contacts_more, 1, plus=True)} contacts over {other}"


def hours_words(hours: float) -> str:
    """`1.5 h`."""
    return f"{formats.plain(round(hours, 2))} h"


def choice_words(sites: Sites) -> str:
    """The best choice of a site a night, and what it has over the best site alone."""
    choice, alone = sites.choice, _best_month(sites)
    if not choice.slots:
        return "Nobody can be worked at any site in this time."
    named = {number: list[int]() for number in dict.fromkeys(choice.at.values())}
    for night, number in choice.at.items():
        named[number].append(night)
    parts = [
        f"{sites.sites[number].site.name} on {formats.date_runs([sites.period.dates[night] for night in nights])}"
        for number, nights in named.items()
    ]
    told = f"Best: {'; '.join(parts)}: {_contacts(choice)}."
    if len(named) == 1:
        return f"{told} No change of site earns what it costs."
    name = sites.sites[alone].site.name
    changes = formats.count(choice.changes, "change")
    return f"{told} With {changes} of site; at {name} alone {_contacts(sites.sites[alone].month)}."


def _best_month(sites: Sites) -> int:
    return max(range(len(sites.sites)), key=lambda number: (sites.sites[number].month.net, -number))


def _contacts(chosen: Chosen) -> str:
    return f"about {formats.contacts(chosen.contacts)} contacts"


def places_words(inputs: Inputs) -> str:
    """Home's place, or every one at which it stands: `Basalt Tor and Salt Beach`."""
    titles = dict.fromkeys(inputs.home_on(night).title for night in inputs.sites) or [inputs.home.title]
    return formats.listed([formats.short(one) for one in titles])


def stays_words(inputs: Inputs, nights: Sequence[dt.date]) -> str:
    """Where home is set up on these nights: `Basalt Tor on 6 March; Salt Beach on 26 March`."""
    at: dict[str, list[dt.date]] = {}
    for night in nights:
        at.setdefault(inputs.home_on(night).title, []).append(night)
    return "; ".join(f"{name} on {formats.date_runs(dates)}" for name, dates in at.items())


def siting_words(inputs: Inputs, nights: Sequence[dt.date], choice: Chosen | None) -> tuple[str, ...]:
    """The sites of an agenda's nights and how good their choice is; nothing where home does not move."""
    if not inputs.sites or not nights:
        return ()
    changes = sum(one != other for one, other in pairwise(inputs.home_on(night).title for night in nights))
    told = f"Home is set up at {stays_words(inputs, nights)}; {formats.count(changes, 'change')} of site."
    return (told,) if choice is None else (told, proof_words(choice))


def proof_words(choice: Chosen) -> str:
    """How good the choice is known to be."""
    if choice.gap is None:
        return "The choice was sought night by night; how much better another may be is not known."
    if choice.gap < PROVEN:
        return "No other choice of sites and slots is better, costs counted: that is proven."
    return (
        "Costs counted and contacts weighed by priority, another choice of sites and slots may be better by "
        f"{formats.signed(choice.gap, 2)} of a contact at most."
    )


def assumed_words(home: Station, policy: Policy) -> list[str]:
    """What the comparison takes for given, a sentence each."""
    places = [at_site(home, site) for site in home.sites]
    lines = [
        "Everywhere the same equipment, hours and partners; what was agreed plays no part.",
        f"A set-up costs {formats.plain(policy.night_cost)} of a contact, an hour on site "
        f"{formats.plain(policy.hour_cost)}, an hour on the road {formats.plain(policy.travel_hour_cost)} there and "
        f"back, another site than on the night set up before {formats.plain(policy.site_change_cost)} "
        "(night_cost, hour_cost, travel_hour_cost, site_change_cost). The road is not counted against your hours.",
        "A night's figure is what its best agenda by itself brings. The best site of a night has the road taken off; "
        f"within {formats.plain(EVEN)} of a contact the nearer one goes before. Hours are those of all windows with "
        "all partners together.",
    ]
    flat = [one.title for one in places if "horizon" in one.assumed]
    if flat:
        whose = "It is" if len(flat) == 1 else "They are"
        lines.append(
            f"No skyline is stated for {formats.listed(flat)}. {whose} taken as flat for windows, and contacts count "
            "how high skylines usually stand."
        )
    if terrain := terrain_words(places, by_site=True):
        lines.append(f"{terrain[0].upper()}{terrain[1:]}.")
    return lines
