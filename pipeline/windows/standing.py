"""At which of its sites home stands: on nights of which the record tells there it stays, whatever the plan is.

From agreed slots, else from what the last letters told of slots that still stand, else from the plan's own choice.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Iterator, Sequence

from pipeline.record.inputs import Inputs
from pipeline.record.model import DECLINED, RAINED
from pipeline.windows.nights import Nights, nights_of
from pipeline.windows.span import Span

# Slots of one night lie closer together, those of two nights hardly ever.
SAME_NIGHT = dt.timedelta(hours=12)


def sites_agreed(inputs: Inputs, period: Nights) -> dict[dt.date, str]:
    """The name of the site by night. An agreed slot of which no site is told stands at the place of home's file."""
    names = {one.name for one in inputs.home.sites}
    found: dict[dt.date, str] = {}
    for start, site in _told(inputs):
        night = int(period.night_index((start - period.start).total_seconds(), period.start))
        if 0 <= night < len(period.dates):
            found.setdefault(period.dates[night], site if site in names else inputs.home.title)
    return dict(sorted(found.items()))


def standing_at(inputs: Inputs, instants: Sequence[dt.datetime]) -> list[Inputs]:
    """The inputs at each instant (UTC), home at the one place where it stood: by the record's slots, else by `sites`.

    The same object where the place is the same. Raises EphemerisUnavailable as `nights_of`.
    """
    told = [(start, site) for start, site in _told(inputs) if site]
    if not told and not inputs.sites:
        return [inputs] * len(instants)
    period = nights_of(inputs, Span(min(inputs.sites), max(inputs.sites), inputs.zone)) if inputs.sites else None
    made: dict[str, Inputs] = {}
    found = []
    for instant in instants:
        start, name = min(told, key=lambda one: abs(one[0] - instant), default=(instant, ""))
        if not name or abs(start - instant) > SAME_NIGHT:
            name = "" if period is None else _by_night(inputs, period, instant)
        home = inputs.home_at(name)
        found.append(made.setdefault(home.title, dataclasses.replace(inputs, home=home, sites={})))
    return found


def _by_night(inputs: Inputs, period: Nights, instant: dt.datetime) -> str:
    night = int(period.night_index((instant - period.start).total_seconds(), period.start))
    return inputs.sites.get(period.dates[night], "") if 0 <= night < len(period.dates) else ""


def _told(inputs: Inputs) -> Iterator[tuple[dt.datetime, str]]:
    """Start and site of every slot that stands, those that are agreed first."""
    record = inputs.record
    offered = {(one.partner, other.start_utc): other.site for one in record.offers for other in one.all_alternatives}
    offered |= {(one.partner, one.start_utc): one.told.site for one in record.offers if one.told is not None}
    for answer in record.answers:
        if (answer.state != DECLINED or answer.outcome) and answer.outcome != RAINED:
            yield answer.start_utc, answer.site or offered.get((answer.partner, answer.start_utc), "")
    refused = {(one.partner, one.start_utc) for one in record.answers if one.state == DECLINED}
    for offer in record.offers:
        site = offered.get((offer.partner, offer.start_utc), "")
        if site and not offer.withdrawn and (offer.partner, offer.start_utc) not in refused:
            yield offer.start_utc, site
